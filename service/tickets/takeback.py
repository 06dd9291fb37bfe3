"""Taking back what has just been recorded: a slip of the finger must not become history of an engine."""

from dataclasses import replace
from datetime import datetime, timedelta

from service.tickets.errors import TransitionRefused
from service.tickets.lifecycle import PEOPLE
from service.tickets.rules import Rules
from service.tickets.ticket import Role, Ticket


def may_take_back(
    *, recorded_at: datetime, recorded_by: str, role: Role, by: str, at: datetime, rules: Rules | None = None
) -> bool:
    """Tell whether a record can be taken back: soon after, by who made it or a lead."""
    limit = timedelta(minutes=(rules or Rules()).take_back_minutes)
    own = by == recorded_by and role in PEOPLE
    return timedelta() <= at - recorded_at <= limit and (own or role == "lead")


def take_back(now: Ticket, before: Ticket, record: str, *, at: datetime) -> Ticket:
    """Put a ticket back to where it stood before its newest record.

    Parameters
    ----------
    now : Ticket
        As it stands.
    before : Ticket
        As it stood one version earlier.
    record : str
        Number of the work record that is taken back.
    at : datetime
        When, aware UTC.

    Returns
    -------
    Ticket
        As before, one version further: nothing that happened is forgotten.

    Raises
    ------
    TransitionRefused
        Something else happened to the ticket since the record.
    """
    if record not in now.records or record in before.records or now.version != before.version + 1:
        raise TransitionRefused(
            ticket=now.ticket,
            event="undo",
            field="version",
            detail="something else happened to the ticket since; what was recorded stays.",
        )
    return replace(before, version=now.version + 1, updated_at=at)
