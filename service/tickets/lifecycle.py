"""How a ticket moves: one table of rows, and one function that applies a row.

Two events make a new ticket and are not applied to one: a raise, and the new half of a comeback; see
`reconcile` and `byhand`. `comeback` here is the old ticket's half: it keeps its status and gets the link.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Final, get_args

from service.tickets.effects import EFFECTS, EVENTS, NO_FACTS, Event, Facts, Step
from service.tickets.errors import TransitionNotAllowed
from service.tickets.rules import Rules
from service.tickets.ticket import Role, Status, Ticket, TicketEvent

__all__ = ["EVENTS", "NO_FACTS", "PEOPLE", "TABLE", "Event", "Facts", "Row", "allowed_events", "apply"]


PEOPLE: Final[tuple[Role, ...]] = ("mechanic", "lead", "manager")
"""Roles of people that the life-cycle knows, least power first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row of the life-cycle.

    Parameters
    ----------
    row : str
        Number of the row.
    event : Event
        What happens.
    sources : frozenset of Status
        From where.
    roles : frozenset of Role
        Who.
    when : callable
        What else must hold of the ticket itself, whoever asks.
    """

    row: str
    event: Event
    sources: frozenset[Status]
    roles: frozenset[Role]
    when: Callable[[Ticket], bool] = lambda ticket: True  # noqa: ARG005 -- most rows ask nothing more


def _row(
    row: str, event: Event, sources: str, roles: str, when: Callable[[Ticket], bool] | None = None
) -> Row:
    letters: dict[str, Role] = {
        "S": "system",
        "R": "record",
        "M": "mechanic",
        "L": "lead",
        "F": "manager",
    }
    names: dict[str, Status] = {name: name for name in get_args(Status)}
    keep = {} if when is None else {"when": when}
    return Row(
        row=row,
        event=event,
        sources=frozenset(names[source] for source in sources.split()),
        roles=frozenset(letters[role] for role in roles),
        **keep,
    )


def _is_not_first_class(ticket: Ticket) -> bool:
    return ticket.consequence != 1


def _is_awaiting_proof(ticket: Ticket) -> bool:
    return ticket.closed_at is None


def _is_closed_and_final(ticket: Ticket) -> bool:
    return ticket.closed_at is not None and not ticket.comeback_by


def _is_undoable(ticket: Ticket) -> bool:
    return ticket.status_before != "" and not ticket.comeback_by


def _is_resting(ticket: Ticket) -> bool:
    return ticket.resting_since is not None


def _is_awake(ticket: Ticket) -> bool:
    return ticket.resting_since is None


_WORKABLE = "raised accepted in_work reopened deferred"
_WAITING = "raised accepted reopened"

TABLE: Final[tuple[Row, ...]] = (
    _row("L2", "accept", "raised reopened", "MLF"),
    _row("L3", "book", _WAITING, "LF"),
    _row("L4", "start", _WAITING, "ML"),
    _row("L5", "record_repair", _WORKABLE, "MLR"),
    _row("L6", "record_no_fault", _WORKABLE, "MLR"),
    _row("L7", "pause", "in_work", "ML"),
    _row("L8", "defer", _WAITING, "L", _is_not_first_class),
    _row("L8", "defer", _WAITING, "F"),
    _row("L9", "return", "deferred", "S"),
    _row("L10", "dismiss", _WORKABLE, "LF"),
    _row("L10", "dismiss", _WORKABLE, "S"),  # only as `vehicle_gone`, following a person's date
    _row("L11", "rest", _WAITING, "S", _is_awake),
    _row("L11", "wake", _WAITING, "S", _is_resting),
    _row("L12", "verify", "done", "S", _is_awaiting_proof),
    _row("L13", "not_cured", "done", "S", _is_awaiting_proof),
    _row("L14", "time_out", "done", "S", _is_awaiting_proof),
    _row("L15", "verify_by_hand", "done", "L", _is_awaiting_proof),
    _row("L16", "merge", _WORKABLE, "L"),
    _row("L16", "merge", "done", "L", _is_awaiting_proof),
    _row("L16", "merge", "raised", "S"),
    _row("L17", "undo", "verified dismissed", "MLF", _is_undoable),
    _row("L18", "comeback", "verified dismissed", "SMLF", _is_closed_and_final),
    _row("L18", "comeback", "done", "SMLF", _is_closed_and_final),
    _row("L19", "reopen", "verified dismissed", "LF", _is_closed_and_final),
    _row("L19", "reopen", "done", "LF", _is_closed_and_final),
)
"""The life-cycle. S system, R loaded record, M mechanic, L lead, F manager."""


def allowed_events(ticket: Ticket, role: Role) -> tuple[Event, ...]:
    """Name the events that a role may start from where the ticket stands, in the table's order."""
    found = [
        row.event for row in TABLE if ticket.status in row.sources and role in row.roles and row.when(ticket)
    ]
    return tuple(dict.fromkeys(found))


def is_dead_end(event: str, status: str) -> bool:
    """Tell whether an event of the life-cycle is possible from a status for nobody at all."""
    rows = [row for row in TABLE if row.event == event]
    return bool(rows) and not any(status in row.sources for row in rows)


def apply(
    ticket: Ticket,
    event: Event,
    *,
    role: Role,
    at: datetime,
    by: str = "system",
    facts: Facts = NO_FACTS,
    rules: Rules | None = None,
) -> Ticket:
    """Move a ticket by one event.

    Parameters
    ----------
    ticket : Ticket
        As it stands.
    event : Event
        What happens.
    role, by : str
        Role that acts, and login of the person.
    at : datetime
        When, aware UTC.
    facts : Facts
        What the event brings along.
    rules : Rules, optional
        The owner's settings.

    Returns
    -------
    Ticket
        One version further.

    Raises
    ------
    TransitionNotAllowed
        The table has no row for this status, event and role.
    TransitionRefused
        A fact that the row needs is missing or wrong.
    """
    allowed = allowed_events(ticket, role)
    if event not in allowed:
        raise TransitionNotAllowed(
            ticket=ticket.ticket, event=event, status=ticket.status, role=role, allowed=allowed
        )
    step = Step(ticket=ticket, event=event, role=role, at=at, by=by, facts=facts, rules=rules or Rules())
    moved = EFFECTS[event](step)
    return replace(moved, updated_at=at, version=ticket.version + 1)


def event_row(
    before: Ticket | None,
    after: Ticket,
    *,
    event: str,
    role: Role,
    by: str = "system",
    at: datetime,
    note: str = "",
    facts: dict[str, str | float | int | bool | None] | None = None,
) -> TicketEvent:
    """Write the line of history for a step that led from one ticket to the other."""
    return TicketEvent(
        ticket=after.ticket,
        version=after.version,
        at=at,
        event=event,
        role=role,
        by=by,
        status_before="" if before is None else before.status,
        status_after=after.status,
        note=note,
        facts=facts or {},
    )


def assign(ticket: Ticket, assignee: str, *, at: datetime) -> Ticket:
    """Give the ticket to a person, or to nobody with empty text; the status stays."""
    return replace(ticket, assignee=assignee, updated_at=at, version=ticket.version + 1)


def pin(ticket: Ticket, until: date | None, *, at: datetime) -> Ticket:
    """Keep the ticket in the plan until a day, or let it go with None; the status stays."""
    return replace(ticket, pinned_until=until, updated_at=at, version=ticket.version + 1)
