"""Forms that move a ticket, assign it, comment on it or keep it in the plan."""

from contextlib import suppress
from dataclasses import replace
from datetime import date, datetime
from typing import Final, get_args

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from dashboards.links import ticket_url
from dashboards.words import REASONS, say
from service.store import Work
from service.tickets import lifecycle
from service.tickets.aside import ASIDES, Aside
from service.tickets.errors import TransitionNotAllowed, TransitionRefused
from service.tickets.ticket import Role, Ticket
from service.web.forms import Form, read_form
from service.web.moving import (
    RECORDING,
    CalledEvent,
    EventMessage,
    Mover,
    allowed_events,
    move,
    put,
    read_under,
)
from service.web.pages.conflict import REFUSALS, show_refusal
from service.web.pages.offers import asides_of
from service.web.pages.once import do_once
from service.web.readers import Reader, allow, reader_of
from service.web.shell import shell_of

router = APIRouter(dependencies=[Depends(allow("work"))])

NOTE_LIMIT: Final = 1000
"""Most characters of a comment; chosen by us: what is longer belongs into the workshop's own papers."""


@router.post("/work/{ticket:path}/events")
def act(request: Request, ticket: str, form: Form = Depends(read_form)) -> Response:
    """Do one thing to a ticket, for whoever works on tickets; which things, the life-cycle's table says."""
    mover = mover_of(reader_of(request))
    now = shell_of(request).clock.now()

    def do(work: Work) -> tuple[str, str]:
        event = form.get("event")
        aside = next((one for one in ASIDES if one == event), None)
        if aside is not None:
            set_aside(work, ticket, aside, form, mover, now)
        else:
            move(work, ticket, _read_event(work, ticket, form, mover), mover, now)
        return ticket_url(ticket), event

    try:
        return do_once(request, form, do)
    except REFUSALS as error:
        return show_refusal(request, ticket, form, error, mover)


def mover_of(reader: Reader) -> Mover:
    """Take the reader of a page for the one who moves tickets."""
    return Mover(name=reader.login, roles=(reader.role,))


def read_version(number: str, form: Form) -> int:
    """Read the version that a form was made from.

    Raises
    ------
    TransitionRefused
        It is no whole number.
    """
    text = form.get("version")
    if not text.isdecimal():
        raise refusal(number, form.get("event"), "version", f"the version must be a number; was {text!r}.")
    return int(text)


def read_day(number: str, form: Form, name: str) -> date | None:
    """Read a day out of a form; None for an empty field.

    Raises
    ------
    TransitionRefused
        It is no day.
    """
    text = form.get(name)
    if not text:
        return None
    with suppress(ValueError):
        return date.fromisoformat(text)
    raise refusal(number, form.get("event"), name, f"a day is written YYYY-MM-DD; was {text!r}.")


def read_amount(number: str, form: Form, name: str) -> float | None:
    """Read an amount out of a form, with a decimal point or comma; None for an empty field.

    Raises
    ------
    TransitionRefused
        It is no number, or negative.
    """
    text = form.get(name)
    if not text:
        return None
    with suppress(ValueError):
        amount = float(text.replace(",", "."))
        if 0 <= amount < float("inf"):
            return amount
    raise refusal(number, form.get("event"), name, f"a number from 0 on is needed; was {text!r}.")


def refusal(number: str, event: str, field: str, detail: str) -> TransitionRefused:
    """Make the error of a form that lacks a fact."""
    return TransitionRefused(ticket=number, event=event, field=field, detail=detail)


def forbidden(ticket: Ticket, event: str, mover: Mover) -> TransitionNotAllowed:
    """Make the error of a step that its reader may not take, or not from where the ticket stands."""
    return TransitionNotAllowed(
        ticket=ticket.ticket,
        event=event,
        status=ticket.status,
        role=mover.roles[0],
        allowed=(*allowed_events(ticket, mover), *asides_of(ticket, mover)),
    )


def _read_event(work: Work, number: str, form: Form, mover: Mover) -> EventMessage:
    event = _event(work, number, form.get("event"), mover)
    reason = form.get("reason")
    return EventMessage(
        event=event,
        version=read_version(number, form),
        reason=reason,
        on=read_day(number, form, "on"),
        hours=read_amount(number, form, "hours"),
        assignee=_assignee(work.ticket(number), event, mover),
        into=_other(work, number, form.get("other")),
        confirmed=form.get("confirmed") == "yes",
        readings=form.get("readings"),
        note=_sentence(reason),
    )


def _event(work: Work, number: str, given: str, mover: Mover) -> CalledEvent:
    for known in get_args(CalledEvent):
        event: CalledEvent = known
        if event == given and event not in RECORDING:
            return event
    raise forbidden(work.ticket(number), given, mover)


def _assignee(ticket: Ticket, event: CalledEvent, mover: Mover) -> str:
    """Give a ticket that nobody has to the mechanic or lead who accepts or starts it."""
    own = event in {"accept", "start"} and not ticket.assignee and "manager" not in mover.roles
    return mover.name if own else ""


def _other(work: Work, number: str, other: str) -> str:
    """Pass the number of another ticket of the same vehicle; any other is told like one that is not there."""
    if not other:
        return ""
    vehicle = work.ticket(number).vehicle
    if other not in {one.ticket for one in work.tickets(vehicle=vehicle)}:
        raise refusal(number, "merge", "other", f"the vehicle has no ticket {other!r}.")
    return other


def _sentence(reason: str) -> str:
    return f"{say(REASONS, reason)}." if reason else ""


def set_aside(work: Work, number: str, aside: Aside, form: Form, mover: Mover, now: datetime) -> None:
    """Assign, comment, pin or note a wrong sheet; the status stays.

    Raises
    ------
    TransitionNotAllowed
        Not for this role, or not on a closed ticket.
    TransitionRefused
        A fact is missing.
    StaleVersion
        Somebody changed the ticket since; comments are taken all the same.
    """
    before = work.ticket(number)
    if aside not in asides_of(before, mover):
        raise forbidden(before, aside, mover)
    role = mover.own[0]
    if aside in {"comment", "sheet_wrong"}:
        _note(work, before, aside, form, role, mover, now)
        return
    read_under(work, number, read_version(number, form))
    after, note = _changed(before, aside, form, now)
    line = lifecycle.event_row(before, after, event=aside, role=role, by=mover.name, at=now, note=note)
    put(work, before, after, line)


def _changed(before: Ticket, aside: Aside, form: Form, now: datetime) -> tuple[Ticket, str]:
    if aside == "assign":
        who = form.get("assignee")[:80]
        return lifecycle.assign(before, who, at=now), f"{who or 'nobody'}."
    if aside == "unpin":
        return lifecycle.pin(before, None, at=now), ""
    until = read_day(before.ticket, form, "until")
    if until is None or until < now.date():
        raise refusal(before.ticket, "pin", "until", "a pin needs a day on which it ends, not before today.")
    return lifecycle.pin(before, until, at=now), f"until {until.isoformat()}."


def _note(
    work: Work, before: Ticket, aside: Aside, form: Form, role: Role, mover: Mover, now: datetime
) -> None:
    note = form.get("note")[:NOTE_LIMIT]
    if aside == "comment" and not note:
        raise refusal(before.ticket, "comment", "note", "a comment needs words.")
    if aside == "sheet_wrong":
        sheet = before.detail.versions if before.detail else None
        revision = "" if sheet is None or sheet.revision is None else f" revision {sheet.revision}"
        note = f"{before.spec_sheet}{revision}, {before.parameter} at {before.state}: told to the integrator."
        work.log_event(
            at=now, who=mover.name, what="sheet said to be wrong", subject=before.ticket, after=note
        )
    line = lifecycle.event_row(before, before, event=aside, role=role, by=mover.name, at=now, note=note)
    work.append_ticket_events([replace(line, version=before.version)])
