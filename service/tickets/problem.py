"""What is wrong, in few plain words: lists, the digest and frozen reports name a ticket alike."""

from service.tickets.checks import cause_table
from service.tickets.ticket import Ticket
from service.tickets.words import quantity, state_words

_WAYS = {"up": "rising", "down": "falling"}


def symptom_of(ticket: Ticket) -> str:
    """Name the loudest series and its way; empty for a ticket raised by hand."""
    if not ticket.parameter:
        return ""
    series = ticket.detail.readings[0].series if ticket.detail else f"{ticket.parameter}@{ticket.state}"
    return f"{quantity(series)} {_WAYS.get(ticket.direction, 'moving')} {state_words(ticket.state)}"


def told_problem(symptom: str, cause: str) -> str:
    """Put symptom and likely cause into one phrase.

    Parameters
    ----------
    symptom : str
        As `symptom_of` gives it; may be empty.
    cause : str
        Code of the likeliest cause; may be empty.

    Examples
    --------
    >>> told_problem("", "")
    'raised by hand'
    """
    likely = f"likely: {cause_table().causes[cause].words}" if cause else ""
    return "; ".join(part for part in (symptom, likely) if part) or "raised by hand"
