"""One vehicle in the setup: add it, change it, put it off the road or out of service, erase it."""

from collections.abc import Sequence
from dataclasses import asdict, fields
from datetime import date, datetime

import msgspec
from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, Response

from dashboards.links import setup_vehicle_url
from dashboards.setup.parts import Fault
from dashboards.setup.vehicles import Away, SetupVehicleView, VehicleForm
from ingest.records import Vehicle
from ingest.vehicles import read_vehicles
from ingest.vin import check
from service.auth.rights import may
from service.schedule.erase import erase
from service.settings import Settings
from service.store import NotFound, Work
from service.tickets.effects import Facts
from service.tickets.lifecycle import allowed_events, apply, event_row
from service.tickets.ticket import Ticket
from service.web.forms import Form, go, read_form
from service.web.pages.frames import make_frame, show, today_of, zone_of
from service.web.readers import allow, reader_of
from service.web.shell import Shell, shell_of

router = APIRouter(dependencies=[Depends(allow("vehicles"))])
erasing = APIRouter(dependencies=[Depends(allow("people"))])


@router.get("/setup/vehicles/new")
def new_vehicle_page(request: Request) -> HTMLResponse:
    """Show an empty form, for the integrator."""
    return _show_new(request, VehicleForm(), ())


@router.post("/setup/vehicles/new")
def add_vehicle(request: Request, form: Form = Depends(read_form)) -> Response:
    """Register a vehicle; what is wrong is said beside what was typed."""
    typed = _typed(form)
    rows, faults = _read(typed, shell_of(request).settings)
    shell = shell_of(request)
    with shell.store.begin(readonly=True) as work:
        if rows and work.vehicles([rows[0].vehicle]):
            faults = (Fault(field="vehicle", text=f"{typed.vehicle} is registered already."),)
    if faults:
        return _show_new(request, typed, faults, 422)
    _keep(request, rows)
    return go(setup_vehicle_url(rows[0].vehicle), saved="vehicle_added")


@router.get("/setup/vehicles/{vehicle}")
def vehicle_page(request: Request, vehicle: str) -> HTMLResponse:
    """Show one vehicle's form, for the integrator."""
    return _show(request, vehicle)


@router.post("/setup/vehicles/{vehicle}")
def change_vehicle(request: Request, vehicle: str, form: Form = Depends(read_form)) -> Response:
    """Bring a vehicle's fields up to date; its number stays."""
    typed = _typed(form, vehicle=vehicle)
    rows, faults = _read(typed, shell_of(request).settings)
    if faults:
        return _show(request, vehicle, typed=typed, faults=faults)
    with shell_of(request).store.begin(readonly=True) as work:
        work.vehicle(vehicle)
    return go(setup_vehicle_url(vehicle), saved="vehicle_changed" if _keep(request, rows) else "vehicle_same")


@router.post("/setup/vehicles/{vehicle}/off-road")
def put_off_road(request: Request, vehicle: str, form: Form = Depends(read_form)) -> Response:
    """Note days off the road, end them, or take an entry back."""
    shell, who = shell_of(request), reader_of(request).login
    faults: list[Fault] = []
    since, until = _day(form, "since", faults), _day(form, "until", faults)
    with shell.store.begin() as work:
        now = shell.clock.now()
        own = {str(one.number): one for one in work.off_road(vehicle=vehicle)}
        try:
            if form.get("drop") in own:
                work.drop_off_road(int(form.get("drop")))
            elif form.get("end") in own and until is not None:
                work.end_off_road(int(form.get("end")), until)
            elif since is not None:
                work.put_off_road(
                    vehicle, since=since, until=until, reason=form.get("reason"), now=now, who=who
                )
            elif not faults:
                faults.append(Fault(field="since", text="The first day is needed."))
        except ValueError as err:
            faults.append(Fault(field="until", text=str(err)))
        if not faults:
            text = f"{since or ''} to {until or ''} {form.get('reason')}".strip()
            work.log_event(at=now, who=who, what="off the road", subject=vehicle, after=text)
            work.commit()
    if faults:
        return _show(request, vehicle, faults=tuple(faults))
    return go(setup_vehicle_url(vehicle) + "#away", saved="off_road")


@router.post("/setup/vehicles/{vehicle}/service")
def put_out_of_service(request: Request, vehicle: str, form: Form = Depends(read_form)) -> Response:
    """Put a vehicle out of service for good, or take it back; open tickets end with its service."""
    shell, who = shell_of(request), reader_of(request).login
    faults: list[Fault] = []
    back = form.get("back") == "yes"
    since = None if back else _day(form, "gone", faults)
    if since is None and not back and not faults:
        faults.append(Fault(field="gone", text="The first day out of service is needed."))
    if faults:
        return _show(request, vehicle, faults=tuple(faults))
    now = shell.clock.now()
    today = now.astimezone(zone_of(shell)).date()
    with shell.store.begin() as work:
        before = work.gone().get(vehicle)
        work.put_out_of_service(vehicle, since, now)
        if since is not None and since <= today:
            _end_tickets(work, work.tickets(vehicle=vehicle, open_only=True), since, at=now, by=who)
        work.log_event(
            at=now,
            who=who,
            what="out of service",
            subject=vehicle,
            before=str(before or ""),
            after=str(since or ""),
        )
        work.commit()
    return go(setup_vehicle_url(vehicle), saved="vehicle_back" if back else "vehicle_gone")


@erasing.post("/setup/vehicles/{vehicle}/erase")
def erase_vehicle(request: Request, vehicle: str, form: Form = Depends(read_form)) -> Response:
    """Erase a vehicle for good, once its number was typed to confirm; for the administrator."""
    shell, who = shell_of(request), reader_of(request).login
    if form.get("confirm") != vehicle:
        fault = Fault(field="confirm", text="That is not this vehicle's number; nothing was erased.")
        return _show(request, vehicle, faults=(fault,))
    erase(shell.store, vehicle, home=shell.settings.home, now=shell.clock.now(), who=who)
    shell.memory.forget()
    return go("/setup/vehicles", saved="vehicle_erased")


def _end_tickets(work: Work, tickets: Sequence[Ticket], since: date, *, at: datetime, by: str) -> None:
    """Dismiss what is open of a vehicle that is gone; a repair that awaits proof runs out by itself."""
    for ticket in tickets:
        if "dismiss" not in allowed_events(ticket, "system"):
            continue
        ended = apply(ticket, "dismiss", role="system", at=at, by=by, facts=Facts(reason="vehicle_gone"))
        note = f"The vehicle is out of service since {since.isoformat()}."
        row = event_row(ticket, ended, event="dismiss", role="system", by=by, at=at, note=note)
        work.put_ticket(ended, [row], read_version=ticket.version)


def _typed(form: Form, vehicle: str = "") -> VehicleForm:
    texts = {one.name: form.get(one.name) for one in fields(VehicleForm)}
    return VehicleForm(**texts | ({"vehicle": vehicle} if vehicle else {}))


def _read(typed: VehicleForm, settings: Settings) -> tuple[tuple[Vehicle, ...], tuple[Fault, ...]]:
    """Read what was typed by the very reader of files."""
    body = msgspec.json.encode(asdict(typed))
    loaded = read_vehicles(body, "json", strict_vin=settings.strict_vin)
    return loaded.rows, tuple(Fault(field=one.field, text=one.detail) for one in loaded.rejected)


def _keep(request: Request, rows: Sequence[Vehicle]) -> bool:
    """Keep a vehicle and say so in the log; tells whether anything changed."""
    shell, who = shell_of(request), reader_of(request).login
    now = shell.clock.now()
    name = rows[0].vehicle
    with shell.store.begin() as work:
        before = work.vehicles([name])
        loads = work.put_vehicles(rows, now, who=who)
        if loads.same:
            return False
        work.log_event(
            at=now,
            who=who,
            what="vehicle changed" if before else "vehicle added",
            subject=name,
            before=_written(before[0]) if before else "",
            after=_written(rows[0]),
        )
        work.commit()
    return True


def _written(vehicle: Vehicle) -> str:
    kept = {name: value for name, value in asdict(vehicle).items() if value not in ("", None)}
    kept.pop("vin", None)  # the log is no place for it
    return msgspec.json.encode(kept).decode()


def _day(form: Form, name: str, faults: list[Fault]) -> date | None:
    text = form.get(name)
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        faults.append(Fault(field=name, text=f"{text!r} is no day; days are written YYYY-MM-DD."))
        return None


def _show_new(
    request: Request, typed: VehicleForm, faults: tuple[Fault, ...], status: int = 200
) -> HTMLResponse:
    shell = shell_of(request)
    with shell.store.begin(readonly=True) as work:
        view = _view(shell, work, typed, faults, known=False, may_erase=False)
    return show(view, make_frame(request, "Add a vehicle"), status)


def _show(
    request: Request,
    vehicle: str,
    *,
    typed: VehicleForm | None = None,
    faults: tuple[Fault, ...] = (),
) -> HTMLResponse:
    shell = shell_of(request)
    with shell.store.begin(readonly=True) as work:
        form = typed or _as_form(work.vehicle(vehicle))
        view = _view(shell, work, form, faults, known=True, may_erase=may(reader_of(request).role, "people"))
    return show(view, make_frame(request, f"{vehicle}: setup"), 422 if faults else 200)


def _as_form(vehicle: Vehicle) -> VehicleForm:
    def text(value: object) -> str:
        return "" if value is None else f"{value:.12g}" if isinstance(value, float) else str(value)

    return VehicleForm(**{name: text(value) for name, value in asdict(vehicle).items()})


def _view(
    shell: Shell,
    work: Work,
    form: VehicleForm,
    faults: tuple[Fault, ...],
    *,
    known: bool,
    may_erase: bool,
) -> SetupVehicleView:
    name = form.vehicle
    sheets = sorted({one.sheet for one in work.sheets()})
    own = known and bool(work.vehicles([name]))
    if known and not own:
        raise NotFound("vehicle", name)
    links = [one for one in work.device_links(name) if own]
    told = [
        f"{one.device} from {one.since} {f'to {one.until}' if one.until else 'on'} (as a person said)"
        for one in links
    ]
    seen = [one.device for one in (work.last_seen() if own else ()) if one.vehicle == name and one.device]
    return SetupVehicleView(
        known=known,
        form=form,
        errors=faults,
        vin_doubt=(check(form.vin) or "") if form.vin else "",
        sheets=tuple(sheets),
        depots=tuple(sorted({one.depot for one in work.vehicles() if one.depot})),
        sheet_known=not form.spec_sheet or form.spec_sheet in sheets,
        off_road=tuple(
            Away(number=one.number, since=one.since, until=one.until, reason=one.reason, put_by=one.put_by)
            for one in (work.off_road(vehicle=name) if own else ())
        ),
        gone_since=work.gone().get(name) if own else None,
        open_tickets=len(work.tickets(vehicle=name, open_only=True)) if own else 0,
        devices=(*told, *(f"{device} sent the newest reading" for device in seen)),
        today=today_of(shell).isoformat(),
        may_erase=may_erase,
    )
