"""The form of findings: what was found and done, in four taps, and taking it back."""

from datetime import datetime
from typing import Final

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, Response

from dashboards.finding import FindingView
from dashboards.links import ticket_url
from dashboards.words import NOT_FOUND, WORK, say
from ingest.parameters import CAUSES
from service.store import KeptWork, Work
from service.tickets import lifecycle
from service.tickets.finding import FINDERS, Finding, offered_causes, read_finding
from service.tickets.takeback import may_take_back, take_back
from service.tickets.ticket import Ticket
from service.web.errors import NotFound
from service.web.forms import Form, read_form
from service.web.moving import (
    EventMessage,
    Mover,
    allowed_events,
    keep_record,
    move,
    put,
    read_under,
    record_of,
)
from service.web.pages.acting import forbidden, mover_of, read_amount, read_version, refusal
from service.web.pages.conflict import REFUSALS, show_refusal
from service.web.pages.frames import make_frame, show
from service.web.pages.lines import problem_of
from service.web.pages.once import do_once, new_key
from service.web.readers import allow, reader_of
from service.web.shell import shell_of

router = APIRouter(dependencies=[Depends(allow("work"))])

TEXT_LIMIT: Final = 500
"""Most characters of parts and notes; chosen by us."""

_MOVING: Final = frozenset({"repair", "battery_replaced", "no_fault_found"})
_EVENTS: Final = {"memory_cleared": "record_memory", "note": "record_note"}


@router.get("/work/{ticket:path}/record")
def finding_page(request: Request, ticket: str) -> HTMLResponse:
    """Ask the mechanic what was found, on a page of its own that loads with a poor signal."""
    shell = shell_of(request)
    mover = mover_of(reader_of(request))
    with shell.store.begin(readonly=True) as work:
        found = work.ticket(ticket)
        odometer = work.last_odometer(found.vehicle)
    check_finder(found, mover)
    view = FindingView(
        ticket=ticket,
        version=found.version,
        vehicle=found.vehicle,
        problem=problem_of(found),
        causes=offered_causes(found),
        other_causes=other_causes(found),
        odometer_km=odometer,
        form_key=new_key(),
    )
    return show(view, make_frame(request, f"{found.vehicle}: what did you find?"))


@router.post("/work/{ticket:path}/record/undo")
def undo_finding(request: Request, ticket: str, form: Form = Depends(read_form)) -> Response:
    """Take back what was just recorded; for whoever recorded it, or a lead, within ten minutes."""
    mover = mover_of(reader_of(request))
    now = shell_of(request).clock.now()

    def do(work: Work) -> tuple[str, str]:
        _take_back(work, ticket, form, mover, now)
        return ticket_url(ticket), "take_back"

    try:
        return do_once(request, form, do)
    except REFUSALS as error:
        return show_refusal(request, ticket, form, error, mover)


@router.post("/work/{ticket:path}/record")
def record_finding(request: Request, ticket: str, form: Form = Depends(read_form)) -> Response:
    """Record what a mechanic or lead found and did; a second tap makes no second record."""
    mover = mover_of(reader_of(request))
    now = shell_of(request).clock.now()

    def do(work: Work) -> tuple[str, str]:
        _record(work, ticket, form, mover, now)
        return ticket_url(ticket), "finding"

    try:
        return do_once(request, form, do)
    except REFUSALS as error:
        return show_refusal(request, ticket, form, error, mover)


def other_causes(ticket: Ticket) -> tuple[str, ...]:
    """Give the causes that the form does not offer first."""
    return tuple(code for code in CAUSES if code not in {*offered_causes(ticket), "unknown"})


def check_finder(ticket: Ticket, mover: Mover) -> None:
    """Pass only who may record findings, on a ticket that waits for one.

    Raises
    ------
    TransitionNotAllowed
        The role records none, or the ticket stands elsewhere.
    """
    if not FINDERS & set(mover.roles) or "record_repair" not in allowed_events(ticket, mover):
        raise forbidden(ticket, "record_repair", mover)


def undoable(records: tuple[KeptWork, ...], ticket: Ticket, mover: Mover, at: datetime) -> KeptWork | None:
    """Find the newest record of a ticket that its reader can still take back; None where there is none."""
    own = [one for one in records if one.ticket == ticket.ticket and one.kind in {*_MOVING, *_EVENTS}]
    newest = max(own, key=lambda one: one.recorded_at, default=None)
    if newest is None or newest.done_at != newest.recorded_at:
        return None
    if newest.kind in _MOVING and (not ticket.records or ticket.records[-1] != newest.number):
        return None
    able = any(
        may_take_back(
            recorded_at=newest.recorded_at, recorded_by=newest.recorded_by, role=role, by=mover.name, at=at
        )
        for role in mover.own
    )
    return newest if able else None


def _record(work: Work, number: str, form: Form, mover: Mover, now: datetime) -> None:
    ticket = work.ticket(number)
    check_finder(ticket, mover)
    picked = form.get("cause")
    if picked == "unknown" and form.get("other_cause"):
        picked = form.get("other_cause")
    finding = read_finding(number, picked, form.get("kind", "usual") or "usual")
    message = _message(work, ticket, form, finding, now)
    if finding.kind in _MOVING:
        move(work, number, message, mover, now)
        return
    ticket = read_under(work, number, message.version)
    record = keep_record(work, record_of(ticket, message, finding.kind, now), now, mover.name)
    _tell(work, ticket, _EVENTS[finding.kind], record, mover, now)


def _message(work: Work, ticket: Ticket, form: Form, finding: Finding, now: datetime) -> EventMessage:
    words = [NOT_FOUND[finding.way]] if finding.way else []
    notes = form.get("notes")[:TEXT_LIMIT]
    hours = read_amount(ticket.ticket, form, "labour_hours")
    if hours is not None and hours > 200:
        raise refusal(ticket.ticket, "record", "labour_hours", f"hours are at most 200; was {hours:g}.")
    return EventMessage(
        event="record_no_fault" if finding.kind == "no_fault_found" else "record_repair",
        version=read_version(ticket.ticket, form),
        reason=finding.way,
        done_at=now,
        cause=finding.cause,
        work="battery_replaced" if finding.kind == "battery_replaced" else "repair",
        note=". ".join([*words, notes] if notes else words),
        parts_cost=read_amount(ticket.ticket, form, "parts_cost"),
        labour_hours=hours,
        odometer_km=work.last_odometer(ticket.vehicle),
        relearn_done=form.get("relearn_done") == "yes" if finding.kind != "no_fault_found" else None,
        parts=form.get("parts")[:TEXT_LIMIT],
    )


def _tell(work: Work, ticket: Ticket, event: str, record: KeptWork, mover: Mover, now: datetime) -> None:
    """Write a line of history for a record that moves nothing."""
    line = lifecycle.event_row(
        ticket, ticket, event=event, role=mover.own[0], by=mover.name, at=now, note=record.notes,
        facts={"record": record.number},
    )  # fmt: skip
    work.append_ticket_events([line])


def _take_back(work: Work, number: str, form: Form, mover: Mover, now: datetime) -> None:
    ticket = read_under(work, number, read_version(number, form))
    wanted = form.get("record")
    records = work.work_records(ticket=number)
    record = undoable(records, ticket, mover, now)
    if record is None and all(one.number != wanted for one in records):
        raise NotFound("work record", wanted)
    if record is None or record.number != wanted:
        raise refusal(
            number, "undo", "at", "what was recorded can be taken back for ten minutes, by who did."
        )
    if record.kind in _MOVING:
        after = take_back(ticket, work.ticket_version(number, ticket.version - 1), record.number, at=now)
        line = lifecycle.event_row(
            ticket, after, event="take_back", role=mover.own[0], by=mover.name, at=now,
            note=say(WORK, record.kind),
        )  # fmt: skip
        put(work, ticket, after, line)
    else:
        _tell(work, ticket, "take_back", record, mover, now)
    work.delete_work(record.number)
