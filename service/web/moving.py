"""Moving a ticket by one event under the version that was read: the same for pages and for programs."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Final, Literal

import msgspec

from ingest.records import WorkRecord
from service.store import KeptWork, Work
from service.store import StaleVersion as StoreStale
from service.tickets import lifecycle
from service.tickets.effects import Event, Facts
from service.tickets.ticket import Role, Ticket, TicketEvent
from service.web.errors import BodyInvalid, StaleVersion

CalledEvent = Literal[
    "accept", "book", "start", "record_repair", "record_no_fault", "pause", "defer", "dismiss",
    "verify_by_hand", "merge", "undo", "reopen",
]  # fmt: skip
"""Events that a caller may start; the others follow from evaluations."""

RECORDING: Final = frozenset({"record_repair", "record_no_fault"})
"""Events that keep a work record with them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EventMessage:
    """One event as a caller asks for it; `version` is the ticket's version that the caller has read."""

    event: CalledEvent
    version: int
    reason: str = ""
    on: date | None = None
    hours: float | None = None
    assignee: str = ""
    done_at: datetime | None = None
    cause: str = ""
    into: str = ""
    confirmed: bool = False
    readings: str = ""
    note: str = ""
    work: Literal["repair", "battery_replaced"] = "repair"
    parts_cost: float | None = None
    labour_hours: float | None = None
    odometer_km: float | None = None
    relearn_done: bool | None = None
    parts: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mover:
    """Who moves a ticket.

    Parameters
    ----------
    name : str
        Login, or the name of the token.
    roles : sequence of str
        Roles that the mover may act in; others than those of the life-cycle give no power.
    """

    name: str
    roles: Sequence[str]

    def role_for(self, ticket: Ticket, event: Event) -> Role:
        """Pick the least powerful of the roles that may do it; the most powerful one if none may."""
        for role in self.own:
            if event in lifecycle.allowed_events(ticket, role):
                return role
        return self.own[-1] if self.own else "viewer"

    @property
    def own(self) -> tuple[Role, ...]:
        """Those of the roles that the life-cycle knows, the least powerful first."""
        return tuple(role for role in lifecycle.PEOPLE if role in self.roles)


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """What a move did: the ticket before and after, and the work record kept with it, if any."""

    before: Ticket
    after: Ticket
    record: KeptWork | None = None


def allowed_events(ticket: Ticket, mover: Mover) -> tuple[Event, ...]:
    """Name the events that somebody may start from where the ticket stands, in the table's order by role."""
    found = (event for role in mover.own for event in lifecycle.allowed_events(ticket, role))
    return tuple(dict.fromkeys(found))


def move(work: Work, number: str, message: EventMessage, mover: Mover, now: datetime) -> Moved:
    """Move a ticket; nothing is kept until the unit of work is committed.

    Parameters
    ----------
    work : Work
        For writing.
    number : str
        Of the ticket.
    message : EventMessage
        What is asked for, and from which version.
    mover : Mover
        Who asks.
    now : datetime
        Aware.

    Returns
    -------
    Moved
        The ticket one version further.

    Raises
    ------
    NotFound
        There is no such ticket.
    StaleVersion
        Somebody changed it since the version was read.
    TransitionNotAllowed, TransitionRefused
        The life-cycle does not let this happen, or lacks a fact.
    BodyInvalid
        The work record that belongs to the event is refused.
    """
    before = read_under(work, number, message.version)
    role = mover.role_for(before, message.event)
    facts, record = _facts(work, before, message, now, mover.name)
    after = lifecycle.apply(before, message.event, role=role, at=now, by=mover.name, facts=facts)
    line = lifecycle.event_row(
        before, after, event=message.event, role=role, by=mover.name, at=now, note=message.note
    )
    put(work, before, after, line)
    return Moved(before=before, after=after, record=record)


def read_under(work: Work, number: str, version: int) -> Ticket:
    """Read a ticket that must still be at a version.

    Raises
    ------
    NotFound
        There is no such ticket.
    StaleVersion
        It is at another version.
    """
    ticket = work.ticket(number)
    if ticket.version != version:
        raise _stale(ticket, version)
    return ticket


def put(work: Work, before: Ticket, after: Ticket, *lines: TicketEvent) -> None:
    """Keep a moved ticket with its lines of history.

    Raises
    ------
    StaleVersion
        Somebody changed it in between.
    """
    try:
        work.put_ticket(after, lines, read_version=before.version)
    except StoreStale as err:
        raise _stale(work.ticket(before.ticket), before.version) from err


def _stale(ticket: Ticket, read_version: int) -> StaleVersion:
    return StaleVersion(ticket.ticket, read_version, ticket.version, msgspec.to_builtins(ticket))


def record_of(ticket: Ticket, message: EventMessage, kind: str, done_at: datetime) -> WorkRecord:
    """Make the work record that a message tells of."""
    return WorkRecord(
        vehicle=ticket.vehicle,
        done_at=done_at,
        kind=kind,
        cause=message.cause,
        ticket=ticket.ticket,
        parts_cost=message.parts_cost,
        labour_hours=message.labour_hours,
        notes=message.note,
        odometer_km=message.odometer_km,
        relearn_done=message.relearn_done,
        parts=message.parts,
    )


def keep_record(work: Work, record: WorkRecord, now: datetime, who: str) -> KeptWork:
    """Keep one work record, and give it as it was kept.

    Raises
    ------
    BodyInvalid
        The store refuses it.
    """
    loads = work.put_work([record], now, who=who)
    if loads.refused:
        raise BodyInvalid(loads.refused[0].detail, f"/{loads.refused[0].field}")
    found = work.work_records(vehicle=record.vehicle)
    return next(
        one
        for one in found
        if (one.kind, one.cause, one.ticket, one.done_at)
        == (record.kind, record.cause, record.ticket, record.done_at)
    )


def _facts(
    work: Work, ticket: Ticket, message: EventMessage, now: datetime, who: str
) -> tuple[Facts, KeptWork | None]:
    facts = Facts(
        reason=message.reason,
        on=message.on,
        hours=message.hours,
        assignee=message.assignee,
        done_at=message.done_at,
        cause=message.cause,
        other=work.ticket(message.into) if message.into else None,
        confirmed=message.confirmed,
        readings=message.readings,
    )
    if message.event not in RECORDING or message.done_at is None:
        return facts, None
    kind = "no_fault_found" if message.event == "record_no_fault" else message.work
    record = keep_record(work, record_of(ticket, message, kind, message.done_at), now, who)
    return replace(facts, done_day=record.day, record=record.number), record
