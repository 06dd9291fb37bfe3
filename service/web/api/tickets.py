"""POST /api/v1/tickets/{ticket}/events: moving a ticket along its life-cycle from another program."""

from dataclasses import dataclass, fields

import msgspec
from fastapi import APIRouter, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import Response

from ingest.parameters import CAUSES
from service.auth import Grant
from service.tickets.ticket import Ticket
from service.web import described
from service.web.body import read_body, read_kind
from service.web.errors import BodyInvalid
from service.web.guards import grant_of
from service.web.moving import EventMessage, Mover, allowed_events, move
from service.web.shell import Shell, shell_of

router = APIRouter(prefix="/api/v1")

MESSAGE_LIMIT_BYTES = 64_000
"""Most bytes of one message; chosen by us: its texts are short."""


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
    mover = _mover(grant_of(request))
    with shell_of(request).store.begin(readonly=True) as work:
        found = work.ticket(ticket)
    return _answer(TicketNow(ticket=found, allowed=allowed_events(found, mover)))


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
    moved = await run_in_threadpool(_move, shell_of(request), _mover(grant_of(request)), ticket, message)
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


def _move(shell: Shell, mover: Mover, number: str, message: EventMessage) -> TicketNow:
    with shell.store.begin() as work:
        moved = move(work, number, message, mover, shell.clock.now())
        work.commit()
    return TicketNow(ticket=moved.after, allowed=allowed_events(moved.after, mover))


def _mover(grant: Grant) -> Mover:
    return Mover(name=grant.name, roles=grant.roles)


def _answer(value: object) -> Response:
    return Response(msgspec.json.encode(value), media_type="application/json")
