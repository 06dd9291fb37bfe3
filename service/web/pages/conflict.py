"""When a ticket does not take a step: somebody saved first, or the step is not allowed, or lacks a fact."""

from typing import Final

from fastapi import Request
from starlette.responses import HTMLResponse

from dashboards.again import AgainView, Kept
from dashboards.formats import day
from dashboards.links import ticket_url
from dashboards.problem import Conflict, FieldProblem, ProblemView
from dashboards.words import ACTIONS, EVENTS, ROLES, SENTENCES, STATUS, say
from service.store import Work
from service.tickets.errors import TransitionNotAllowed, TransitionRefused
from service.tickets.lifecycle import is_dead_end
from service.tickets.ticket import Ticket
from service.web.catalogue import PROBLEMS
from service.web.errors import StaleVersion
from service.web.forms import Form, own_address
from service.web.moving import Mover, allowed_events
from service.web.pages.frames import make_frame, show
from service.web.pages.offers import asides_of
from service.web.problems import request_id_of
from service.web.shell import shell_of

Refusal = StaleVersion | TransitionNotAllowed | TransitionRefused

REFUSALS: Final = (StaleVersion, TransitionNotAllowed, TransitionRefused)
"""What the routes that move a ticket answer with a page of their own."""


def show_refusal(request: Request, number: str, form: Form, error: Refusal, mover: Mover) -> HTMLResponse:
    """Show why a form was not taken, with both versions and everything that was typed.

    Parameters
    ----------
    request : Request
        Of the form.
    number : str
        Of the ticket.
    form : Form
        As it was sent.
    error : StaleVersion, TransitionNotAllowed or TransitionRefused
        What stood against it.
    mover : Mover
        The reader.

    Returns
    -------
    HTMLResponse
        412 with a button that sends the same again from the version as it stands, where it is still
        possible; 409 with what is allowed; 422 with the fact that is missing.
    """
    problem = PROBLEMS[error.code]
    with shell_of(request).store.begin(readonly=True) as work:
        now = work.ticket(number)
        read = _as_read(work, number, form) if isinstance(error, StaleVersion) else None
        history = work.ticket_events(number) if read is not None else ()
    event = form.get("event") or "record"
    again = _again(request, form, now, mover, event) if isinstance(error, StaleVersion) else None
    conflicts = () if read is None else _conflicts(now, read, [one.event for one in history], event)
    errors: tuple[FieldProblem, ...] = ()
    if isinstance(error, TransitionRefused):
        errors = (FieldProblem(where=error.field, text=error.detail),)
    view = ProblemView(
        type=problem.code,
        status=problem.status,
        title=problem.title,
        detail=in_words(error),
        what_to_do=SENTENCES[_HELP[type(error)]],
        errors=errors,
        conflicts=conflicts,
        allowed=(*allowed_events(now, mover), *asides_of(now, mover)),
        back=ticket_url(number),
        request_id=request_id_of(request.scope),
        kept=tuple(Kept(name=name, text=text) for name, text in form.fields if name not in _HIDDEN),
        again=again,
    )
    return show(view, make_frame(request, problem.title), problem.status)


def in_words(error: Refusal) -> str:
    """Say what stood against a step in the words of the pages; a program reads codes instead."""
    if isinstance(error, StaleVersion):
        return "Somebody saved this ticket first."
    step = _step(error.event)
    if isinstance(error, TransitionRefused):
        return f"Ticket {error.ticket}, {step}: {error.detail}"
    status, role = say(STATUS, error.status).lower(), say(ROLES, error.role)
    if is_dead_end(error.event, error.status):
        return f"Ticket {error.ticket} is {status}: “{step}” is not possible for a ticket that stands there."
    return f"Ticket {error.ticket} is {status}: “{step}” is not allowed for the role {role}."


def _step(event: str) -> str:
    return ACTIONS.get(event) or say(EVENTS, event)


_HELP: Final[dict[type, str]] = {
    StaleVersion: "help_stale",
    TransitionNotAllowed: "help_not_allowed",
    TransitionRefused: "help_refused",
}

_HIDDEN: Final = frozenset({"version", "key", "event"})


def _as_read(work: Work, number: str, form: Form) -> Ticket | None:
    version = form.get("version")
    return work.ticket_version(number, int(version)) if version.isdecimal() and int(version) > 0 else None


def _again(request: Request, form: Form, now: Ticket, mover: Mover, event: str) -> AgainView | None:
    """Make the same form anew from the version as it stands; None where it is not possible any more."""
    wanted = "record_repair" if event == "record" else event
    if wanted not in {*allowed_events(now, mover), *asides_of(now, mover)}:
        return None
    kept = [
        Kept(name=name, text=str(now.version) if name == "version" else text) for name, text in form.fields
    ]
    return AgainView(action=own_address(request), kept=tuple(kept))


def _wanted(event: str) -> str:
    return "to record what you found" if event == "record" else _step(event).lower()


def _conflicts(now: Ticket, read: Ticket, history: list[str], event: str) -> tuple[Conflict, ...]:
    """Tell both versions, field by field: what differs, and what was to be done."""
    rows = [
        ("Status", say(STATUS, now.status), say(STATUS, read.status)),
        ("Who has it", now.assignee or "nobody", read.assignee or "nobody"),
        ("Booked", day(now.booked_on), day(read.booked_on)),
        ("Put off until", day(now.deferred_until), day(read.deferred_until)),
        ("Pinned until", day(now.pinned_until), day(read.pinned_until)),
        ("Due", day(now.due_by), day(read.due_by)),
    ]
    differing = [row for row in rows if row[1] != row[2]]
    steps = ("Newest step", say(EVENTS, history[-1]) if history else "none", f"you wanted: {_wanted(event)}")
    versions = ("Version", str(now.version), str(read.version))
    return tuple(
        Conflict(field=name, theirs=theirs, mine=mine) for name, theirs, mine in (*differing, steps, versions)
    )
