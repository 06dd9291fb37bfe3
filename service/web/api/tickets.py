"""POST /api/v1/tickets/{ticket}/events: moving a ticket along its life-cycle from another program."""

from dataclasses import dataclass, fields, replace
from datetime import date, datetime
from typing import Literal

import msgspec
from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import Response

from ingest.parameters import CAUSES
from ingest.records import WorkRecord
from service.auth import Grant
from service.store import KeptWork, Work
from service.store import StaleVersion as StoreStale
from service.tickets import lifecycle
from service.tickets.effects import Event, Facts
from service.tickets.ticket import Role, Ticket, TicketEvent
from service.web import described
from service.web.body import read_body, read_kind
from service.web.errors import BodyInvalid, StaleVersion
from service.web.guards import grant_of
from service.web.shell import Shell, shell_of

router = APIRouter(prefix="/api/v1")

MESSAGE_LIMIT_BYTES = 64_000
"""Most bytes of one message; chosen by us: its texts are short."""

CalledEvent = Literal[
    "accept", "book", "start", "record_repair", "record_no_fault", "pause", "defer", "dismiss",
    "verify_by_hand", "merge", "undo", "reopen",
]  # fmt: skip
"""Events that a caller may start; the others follow from evaluations."""

RECORDING = frozenset({"record_repair", "record_no_fault"})
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


@dataclass(frozen=True, slots=True, kw_only=True)
class TicketNow:
    """A ticket, and the events that this caller may start from where it stands."""

    ticket: Ticket
    allowed: tuple[str, ...]


_TICKET_CODES = (*described.READ, "not-found")


# Ticket numbers begin with the fleet's own, which may hold slashes: the longer address comes first.
@router.get(
    "/tickets/{ticket:path}/events",
    **described.described(
        "list_ticket_events",
        scope="read",
        summary="History of one ticket, oldest first.",
        answer={
            "type": "object",
            "required": ["items"],
            "properties": {"items": {"type": "array", "items": described.ref("TicketEvent")}},
        },
        codes=_TICKET_CODES,
    ),
)
def list_ticket_events(request: Request, ticket: str) -> Response:
    """Give the history of one ticket; it is written once and never changed."""
    with shell_of(request).store.begin(readonly=True) as work:
        work.ticket(ticket)
        found = work.ticket_events(ticket)
    return _answer({"items": found})


@router.get(
    "/tickets/{ticket:path}",
    **described.described(
        "read_ticket",
        scope="read",
        summary="One ticket with its version and the events allowed now.",
        answer=described.ref("TicketNow"),
        codes=_TICKET_CODES,
    ),
)
def read_ticket(request: Request, ticket: str) -> Response:
    """Give one ticket; for programs that follow it."""
    grant = grant_of(request)
    with shell_of(request).store.begin(readonly=True) as work:
        found = work.ticket(ticket)
    return _answer(TicketNow(ticket=found, allowed=allowed_events(found, grant)))


@router.post(
    "/tickets/{ticket:path}/events",
    **described.described(
        "move_ticket",
        scope="work",
        summary="Move a ticket by one event.",
        answer=described.ref("TicketNow"),
        codes=(
            *_TICKET_CODES,
            "body-too-large",
            "body-type-unsupported",
            "body-unreadable",
            "body-invalid",
            "transition-not-allowed",
            "transition-refused",
            "stale-version",
        ),
        body={"required": True, "content": {"application/json": {"schema": described.ref("EventMessage")}}},
    ),
)
async def move_ticket(request: Request, ticket: str) -> Response:
    """Move a ticket; for workshop programs. Nothing happens when someone else was faster."""
    read_kind(request.headers, ("application/json",))
    message = read_message(await read_body(request, MESSAGE_LIMIT_BYTES))
    moved = await run_in_threadpool(_move, shell_of(request), grant_of(request), ticket, message)
    return _answer(moved)


def read_message(body: bytes) -> EventMessage:
    """Read the message of an event.

    Parameters
    ----------
    body : bytes
        JSON.

    Returns
    -------
    EventMessage
        As the caller means it.

    Raises
    ------
    BodyInvalid
        Not JSON, a field missing, unknown, or of the wrong kind; a time without an offset.
    """
    try:
        raw: object = msgspec.json.decode(body)
        message = msgspec.convert(raw, EventMessage)
    except msgspec.MsgspecError as err:
        detail, _, place = str(err).partition(" - at ")
        raise BodyInvalid(detail, _pointer(place)) from err
    unknown = (
        sorted(set(raw) - {known.name for known in fields(EventMessage)}) if isinstance(raw, dict) else []
    )
    if unknown:
        raise BodyInvalid(f"there is no field '{unknown[0]}' in it", f"/{unknown[0]}")
    if message.cause not in ("", *CAUSES):
        raise BodyInvalid(f"'{message.cause}' is no cause; allowed: {', '.join(CAUSES)}", "/cause")
    if message.done_at is not None and message.done_at.tzinfo is None:
        raise BodyInvalid("a time needs its offset, such as 2031-03-04T06:12:09-05:00", "/done_at")
    return message


def _pointer(place: str) -> str:
    return place.strip("`").replace("$", "").replace(".", "/")


def _move(shell: Shell, grant: Grant, number: str, message: EventMessage) -> TicketNow:
    now = shell.clock.now()
    with shell.store.begin() as work:
        before = work.ticket(number)
        if before.version != message.version:
            raise StaleVersion(number, message.version, before.version, msgspec.to_builtins(before))
        role = _role_for(before, message.event, grant)
        facts = _facts(work, before, message, now, grant.name)
        after = lifecycle.apply(before, message.event, role=role, at=now, by=grant.name, facts=facts)
        line = lifecycle.event_row(
            before, after, event=message.event, role=role, by=grant.name, at=now, note=message.note
        )
        _put(work, after, line, before)
        work.commit()
    return TicketNow(ticket=after, allowed=allowed_events(after, grant))


def _put(work: Work, after: Ticket, line: TicketEvent, before: Ticket) -> None:
    try:
        work.put_ticket(after, (line,), read_version=before.version)
    except StoreStale as err:
        now_is = msgspec.to_builtins(work.ticket(before.ticket))
        raise StaleVersion(before.ticket, before.version, err.found, now_is) from err


def _role_for(ticket: Ticket, event: Event, grant: Grant) -> Role:
    """Pick the least powerful of the caller's roles that may do it; the most powerful one if none may."""
    roles: list[Role] = [role for role in lifecycle_roles() if role in grant.roles]
    for role in roles:
        if event in lifecycle.allowed_events(ticket, role):
            return role
    return roles[-1]


def lifecycle_roles() -> tuple[Role, ...]:
    """Name the roles of people that the life-cycle knows, least power first."""
    return ("mechanic", "lead", "manager")


def allowed_events(ticket: Ticket, grant: Grant) -> tuple[str, ...]:
    """Name the events that a caller may start from where the ticket stands."""
    found = [
        event
        for role in lifecycle_roles()
        if role in grant.roles
        for event in lifecycle.allowed_events(ticket, role)
    ]
    return tuple(dict.fromkeys(found))


def _facts(work: Work, ticket: Ticket, message: EventMessage, now: datetime, who: str) -> Facts:
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
        return facts
    record = _keep_record(work, ticket, message, now, who)
    return replace(facts, done_day=record.day, record=record.number)


def _keep_record(work: Work, ticket: Ticket, message: EventMessage, now: datetime, who: str) -> KeptWork:
    """Keep the work record that belongs to the event, in the same transaction."""
    kind = "no_fault_found" if message.event == "record_no_fault" else message.work
    record = WorkRecord(
        vehicle=ticket.vehicle,
        done_at=message.done_at or now,
        kind=kind,
        cause=message.cause,
        ticket=ticket.ticket,
        parts_cost=message.parts_cost,
        labour_hours=message.labour_hours,
        notes=message.note,
    )
    loads = work.put_work([record], now, who=who)
    if loads.refused:
        raise BodyInvalid(loads.refused[0].detail, f"/{loads.refused[0].field}")
    found = work.work_records(ticket=ticket.ticket)
    return next(one for one in found if one.kind == kind and one.done_at == record.done_at)


def _answer(value: object) -> Response:
    return Response(msgspec.json.encode(value), media_type="application/json")
