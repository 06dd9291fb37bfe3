"""Tickets, standings and dates as several pages show them."""

from collections.abc import Iterable
from datetime import date
from zoneinfo import ZoneInfo

from dashboards.rows import Counts, TicketLine, Urgency
from dashboards.words import CAUSES, COVERAGE, HELD_BACK, REASONS, say
from service.tickets.problem import symptom_of
from service.tickets.ticket import Ticket, is_calm, is_open
from service.web.urgency import URGENCIES


def problem_of(ticket: Ticket) -> str:
    """Name the problem of a ticket in few plain words.

    Returns
    -------
    str
        The loudest series and its way; the reason for one raised by hand.
    """
    return symptom_of(ticket) or say(REASONS, ticket.reason) or "raised by hand"


def urgency_of(ticket: Ticket) -> Urgency:
    """Say where a ticket puts its vehicle; what rests, waits or awaits proof is watched."""
    return "watch" if is_calm(ticket) else ticket.priority


def days_late(ticket: Ticket, today: date) -> int:
    """Count whole days past due: due on the 8th is late on the 9th.

    Parameters
    ----------
    ticket : Ticket
        Waiting for parts does not stop its clock.
    today : date
        In the depot's zone.

    Returns
    -------
    int
        0 when it is not late, or nobody owes it a visit now: closed, done, deferred or resting.
    """
    if ticket.due_by is None or not is_open(ticket) or is_calm(ticket):
        return 0
    return max(0, (today - ticket.due_by).days)


def ticket_line(ticket: Ticket, today: date, zone: ZoneInfo) -> TicketLine:
    """Write a ticket as one line of a list.

    Parameters
    ----------
    ticket : Ticket
        Whose line it is.
    today : date
        In the fleet's zone.
    zone : ZoneInfo
        In which days are shown.

    Returns
    -------
    TicketLine
        With its first check.
    """
    first = ticket.detail.checks[0] if ticket.detail and ticket.detail.checks else None
    return TicketLine(
        ticket=ticket.ticket,
        vehicle=ticket.vehicle,
        urgency=urgency_of(ticket),
        status=ticket.status,
        problem=problem_of(ticket),
        likely=say(CAUSES, ticket.cause_1) if ticket.cause_1 else "",
        first_check="" if first is None else first.text,
        minutes=None if first is None else first.minutes,
        due_by=ticket.due_by,
        days_late=days_late(ticket, today),
        booked_on=ticket.booked_on,
        assignee=ticket.assignee,
        depot=ticket.depot,
        hours=ticket.booked_hours,
        resting=ticket.resting_since is not None,
        raised_on=ticket.raised_at.astimezone(zone).date(),
        closed_on=None if ticket.closed_at is None else ticket.closed_at.astimezone(zone).date(),
    )


def count_words(words: Iterable[str]) -> Counts:
    """Count vehicles by their word; the five add up to those in service."""
    found = list(words)
    return Counts(
        in_service=len(found),
        pull_in_now=found.count("pull_in_now"),
        plan_this_week=found.count("plan_this_week"),
        watch=found.count("watch"),
        steady=found.count("steady"),
        cannot_say=found.count("cannot_say"),
    )


def why_of(word: str, reason: str, tickets: Iterable[Ticket]) -> str:
    """Say in few words why a vehicle stands where it stands.

    Parameters
    ----------
    word : str
        Its standing.
    reason : str
        Code of the evaluation's reason; may be empty.
    tickets : iterable of Ticket
        Its open tickets.

    Returns
    -------
    str
        The gravest ticket's problem, else the reason in words.
    """
    ranked = sorted(tickets, key=lambda one: URGENCIES.index(urgency_of(one)))
    if ranked and urgency_of(ranked[0]) == word:
        done = "repaired, awaiting proof: " if ranked[0].status == "done" else ""
        return done + problem_of(ranked[0])
    if word == "steady":
        return "nothing has moved"
    if word == "watch":
        return "a series has moved, not enough for a ticket"
    if reason:
        return say(COVERAGE, reason) if reason in COVERAGE else say(HELD_BACK, reason)
    return "not assessed yet"
