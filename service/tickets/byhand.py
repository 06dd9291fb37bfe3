"""A ticket raised by a person, or what they saw added to the ticket that is open for the same fault."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final

from service.tickets.bench import next_number
from service.tickets.checks import cause_table
from service.tickets.effects import Facts
from service.tickets.errors import TransitionNotAllowed, TransitionRefused
from service.tickets.lifecycle import apply, event_row
from service.tickets.matching import ACTING_ON_EACH_OTHER
from service.tickets.priority import due_by
from service.tickets.rules import Rules
from service.tickets.ticket import Role, Ticket, TicketEvent, is_open

RAISERS: Final[frozenset[Role]] = frozenset({"mechanic", "lead", "manager"})
"""Roles that may raise a ticket by hand."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Changed:
    """One ticket to keep, with its line of history and the version it started from (0 for a new one)."""

    ticket: Ticket
    events: tuple[TicketEvent, ...]
    read_version: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What a person reports.

    Parameters
    ----------
    vehicle, depot, spec_sheet : str
        As registered.
    reason : str
        What was seen, in a few words; no names.
    cause : str
        Suspected cause code; empty where none.
    """

    vehicle: str
    depot: str = ""
    spec_sheet: str = ""
    reason: str = ""
    cause: str = ""


def raise_by_hand(
    seen: Seen,
    tickets: Sequence[Ticket],
    *,
    role: Role,
    by: str,
    at: datetime,
    rules: Rules | None = None,
) -> tuple[Changed, ...]:
    """Raise a ticket by hand.

    Parameters
    ----------
    seen : Seen
        What the person reports.
    tickets : sequence of Ticket
        Every ticket that the vehicle ever had.
    role, by : str
        Role and login of the person.
    at : datetime
        When, aware UTC.
    rules : Rules, optional
        The owner's settings.

    Returns
    -------
    tuple of Changed
        The ticket that is open for the same fault with the remark added; or the new ticket, and behind it
        the closed one that it came back from, if there is one.

    Raises
    ------
    TransitionNotAllowed
        The role may not raise tickets.
    TransitionRefused
        The reason is missing, or the cause is no code.
    """
    rules = rules or Rules()
    _check(seen, role)
    group = cause_table().causes[seen.cause].group if seen.cause else "unknown"
    own = [ticket for ticket in tickets if ticket.vehicle == seen.vehicle]
    for ticket in own:
        if is_open(ticket) and _is_same(ticket, group):
            return (_remark(ticket, seen, role=role, by=by, at=at),)
    consequence = cause_table().causes[seen.cause or "unknown"].consequence
    before = _came_back(own, seen.cause, group, at=at, rules=rules)
    new = Ticket(
        ticket=next_number(seen.vehicle, [ticket.ticket for ticket in own]),
        vehicle=seen.vehicle,
        depot=seen.depot,
        spec_sheet=seen.spec_sheet,
        raised_at=at,
        updated_at=at,
        priority="pull_in_now" if consequence == 1 else "plan_this_week",
        cause_1=seen.cause,
        group=group,
        consequence=consequence,
        due_by=due_by(at.date(), consequence, None, as_of=at.date(), before=None),
        reason=seen.reason.strip(),
        evidence=f"{seen.vehicle}: raised by hand. {seen.reason.strip()}",
        raised_by=by,
        comeback_of=before.ticket if before else "",
    )
    row = event_row(None, new, event="raise", role=role, by=by, at=at, note=seen.reason.strip())
    changes = [Changed(ticket=new, events=(row,), read_version=0)]
    if before is not None:
        linked = apply(before, "comeback", role=role, by=by, at=at, facts=Facts(other=new), rules=rules)
        note = f"Came back as {new.ticket}."
        link = event_row(before, linked, event="comeback", role=role, by=by, at=at, note=note)
        changes.append(Changed(ticket=linked, events=(link,), read_version=before.version))
    return tuple(changes)


def _check(seen: Seen, role: Role) -> None:
    if role not in RAISERS:
        raise TransitionNotAllowed(
            ticket="a new ticket", event="raise", status="not there yet", role=role, allowed=()
        )
    if not seen.reason.strip():
        raise TransitionRefused(
            ticket="a new ticket", event="raise", field="reason", detail="raising by hand needs a reason."
        )
    if seen.cause and seen.cause not in cause_table().causes:
        raise TransitionRefused(
            ticket="a new ticket",
            event="raise",
            field="cause",
            detail=f"{seen.cause!r} is no cause code; allowed: {', '.join(cause_table().causes)}.",
        )


def _is_same(ticket: Ticket, group: str) -> bool:
    if "unknown" in {ticket.group, group} or ticket.group == group:
        return True
    return {ticket.group, group} <= ACTING_ON_EACH_OTHER


def _remark(ticket: Ticket, seen: Seen, *, role: Role, by: str, at: datetime) -> Changed:
    heard = replace(ticket, resting_since=None, eased_on=None, updated_at=at, version=ticket.version + 1)
    row = event_row(ticket, heard, event="evidence", role=role, by=by, at=at, note=seen.reason.strip())
    return Changed(ticket=heard, events=(row,), read_version=ticket.version)


def _came_back(own: Sequence[Ticket], cause: str, group: str, *, at: datetime, rules: Rules) -> Ticket | None:
    """Choose the ticket closed last for the same cause or group, within the time of comebacks."""
    if not cause or cause == "unknown":
        return None
    fitting = [
        ticket
        for ticket in own
        if ticket.closed_at is not None
        and not ticket.comeback_by
        and ticket.reason != "merged"
        and (at - ticket.closed_at).days < rules.comeback_days
        and (ticket.group == group or cause in {ticket.cause_1, ticket.done_cause})
    ]
    return max(fitting, key=lambda ticket: (ticket.closed_at or at, ticket.ticket), default=None)
