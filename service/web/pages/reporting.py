"""A driver's complaint, and a ticket raised by hand: three taps from the vehicle."""

from datetime import datetime
from typing import Final

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, Response

from dashboards.links import ticket_url, vehicle_url
from dashboards.reporting import ComplaintView, RaiseView
from dashboards.words import COMPLAINTS
from ingest.parameters import CAUSES
from ingest.records import WorkRecord
from service.auth.rights import may
from service.store import NotFound, Work
from service.tickets.byhand import Seen, raise_by_hand
from service.tickets.lifecycle import PEOPLE
from service.tickets.ticket import is_open
from service.web.errors import BadQuery
from service.web.forms import Form, read_form
from service.web.moving import keep_record
from service.web.pages.frames import make_frame, show
from service.web.pages.once import do_once, new_key
from service.web.query import choose
from service.web.readers import Reader, allow, reader_of
from service.web.shell import shell_of

complaints = APIRouter(dependencies=[Depends(allow("complain"))])
raising = APIRouter(dependencies=[Depends(allow("work"))])

WORDS_LIMIT: Final = 200
"""Most characters of a remark; chosen by us."""


@complaints.get("/complaints/new")
def complaint_page(request: Request, vehicle: str = "") -> HTMLResponse:
    """Ask what a driver noticed, for whoever was told."""
    with shell_of(request).store.begin(readonly=True) as work:
        if vehicle:
            work.vehicle(vehicle)
        names = () if vehicle else tuple(one.vehicle for one in work.vehicles())
    view = ComplaintView(
        vehicle=vehicle,
        vehicles=names,
        form_key=new_key(),
        may_raise=may(reader_of(request).role, "work"),
    )
    title = f"{vehicle}: a driver's complaint" if vehicle else "A driver's complaint"
    return show(view, make_frame(request, title))


@complaints.post("/complaints")
def log_complaint(request: Request, form: Form = Depends(read_form)) -> Response:
    """Record a complaint; for whoever may. The next evaluation gives it to the ticket it bears on."""
    now, reader = shell_of(request).clock.now(), reader_of(request)
    vehicle, noticed = form.get("vehicle"), choose("complaint", form.get("complaint"), tuple(COMPLAINTS))

    def do(work: Work) -> tuple[str, str]:
        _check_vehicle(work, vehicle)
        note = form.get("notes")[:WORDS_LIMIT]
        notes = ": ".join(part for part in (COMPLAINTS[noticed], note) if part)
        record = WorkRecord(
            vehicle=vehicle,
            done_at=now,
            kind="complaint",
            notes=notes,
            odometer_km=work.last_odometer(vehicle),
        )
        keep_record(work, record, now, reader.login)
        return vehicle_url(vehicle), "complaint"

    return do_once(request, form, do)


@raising.get("/work/new")
def raise_page(request: Request, vehicle: str) -> HTMLResponse:
    """Ask what is wrong with a vehicle, for whoever raises a ticket by hand."""
    with shell_of(request).store.begin(readonly=True) as work:
        work.vehicle(vehicle)
        own = work.tickets(vehicle=vehicle, open_only=True)
    view = RaiseView(
        vehicle=vehicle,
        causes=tuple(one for one in CAUSES if one != "unknown"),
        open_tickets=tuple(one.ticket for one in own if is_open(one)),
        form_key=new_key(),
    )
    return show(view, make_frame(request, f"{vehicle}: raise a ticket"))


@raising.post("/work/new")
def raise_ticket(request: Request, form: Form = Depends(read_form)) -> Response:
    """Raise a ticket by hand, with a reason; one fault keeps one ticket."""
    now, reader = shell_of(request).clock.now(), reader_of(request)

    def do(work: Work) -> tuple[str, str]:
        return _raise(work, form, reader, now)

    return do_once(request, form, do)


def _raise(work: Work, form: Form, reader: Reader, now: datetime) -> tuple[str, str]:
    vehicle = form.get("vehicle")
    _check_vehicle(work, vehicle)
    registered = work.vehicle(vehicle)
    picked = choose("reason", form.get("reason"), tuple(COMPLAINTS))
    words = form.get("words")[:WORDS_LIMIT]
    cause = choose("cause", form.get("cause"), ("", *CAUSES))
    said = words if picked == "other" and words else ": ".join(filter(None, (COMPLAINTS[picked], words)))
    changes = raise_by_hand(
        Seen(
            vehicle=vehicle,
            depot=registered.depot,
            spec_sheet=registered.spec_sheet,
            reason=said,
            cause=cause,
        ),
        work.tickets(vehicle=vehicle),
        role=next(role for role in PEOPLE if role == reader.role),
        by=reader.login,
        at=now,
    )
    for change in changes:
        work.put_ticket(change.ticket, change.events, read_version=change.read_version)
    return ticket_url(changes[0].ticket.ticket), "added" if changes[0].read_version else "raised"


def _check_vehicle(work: Work, vehicle: str) -> None:
    """Pass only a registered vehicle.

    Raises
    ------
    BadQuery
        Nobody registered it.
    """
    try:
        work.vehicle(vehicle)
    except NotFound as err:
        raise BadQuery("vehicle", vehicle, "the number of a registered vehicle") from err
