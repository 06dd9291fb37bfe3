"""What is kept and how long: rules, a count of what would go, and holds."""

from datetime import datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, Response

from dashboards.setup.parts import Fault
from dashboards.setup.retention import HoldLine, KeptClass, PortionLine, RemovalLine, SetupRetentionView
from service.schedule.retain import keep_of, lines_of, look
from service.schedule.timetable import RETAIN, next_due, timetable
from service.store import AlreadyThere, NotFound, Portion, Work
from service.web.forms import Form, go, read_form
from service.web.pages.frames import make_frame, show, zone_of
from service.web.readers import allow, reader_of
from service.web.shell import address_of, shell_of
from service.web.wire import day_date

router = APIRouter(dependencies=[Depends(allow("retention"))])

REMOVALS_SHOWN: Final = 60
"""Lines of what went; chosen by us: a year of months of the tables that go each month."""


@router.get("/setup/retention")
def retention_page(request: Request, count: str = "") -> HTMLResponse:
    """Show what is kept, and on request count what would go; for the administrator."""
    return _show(request, counted=count == "yes")


@router.post("/setup/retention/hold")
def put_hold(request: Request, form: Form = Depends(read_form)) -> Response:
    """Put a vehicle on hold; for the administrator."""
    vehicle, reason = form.get("vehicle"), form.get("reason")
    shell, who = shell_of(request), reader_of(request).login
    faults = [] if reason else [Fault(field="reason", text="Say why: whoever lifts it later must know.")]
    if not faults:
        try:
            with shell.store.begin() as work:
                now = shell.clock.now()
                work.put_hold(vehicle, reason, now, who=who)
                work.log_event(
                    at=now,
                    who=who,
                    what="hold set",
                    subject=vehicle,
                    after=reason,
                    source=address_of(request),
                )
                work.commit()
        except NotFound:
            faults = [Fault(field="vehicle", text=f"Nobody registered a vehicle {vehicle!r}.")]
        except AlreadyThere:
            faults = [Fault(field="vehicle", text=f"{vehicle} is on hold already.")]
    if faults:
        return _show(request, faults=tuple(faults), typed=(vehicle, reason))
    return go("/setup/retention#holds", saved="hold")


@router.post("/setup/retention/lift")
def lift_hold(request: Request, form: Form = Depends(read_form)) -> Response:
    """Lift the hold on a vehicle; for the administrator."""
    vehicle = form.get("vehicle")
    shell, who = shell_of(request), reader_of(request).login
    with shell.store.begin() as work:
        now = shell.clock.now()
        work.lift_hold(vehicle, now, who=who)
        work.log_event(at=now, who=who, what="hold lifted", subject=vehicle, source=address_of(request))
        work.commit()
    return go("/setup/retention#holds", saved="hold_lifted")


def _show(
    request: Request,
    *,
    counted: bool = False,
    faults: tuple[Fault, ...] = (),
    typed: tuple[str, str] = ("", ""),
) -> HTMLResponse:
    shell = shell_of(request)
    zone, now = zone_of(shell), shell.clock.now()
    keep = keep_of(shell.settings)
    lines = lines_of(keep, now, str(zone))
    with shell.store.begin(readonly=True) as work:
        found = look(work, lines) if counted else None
        holds, removals = work.holds(), work.removals(limit=REMOVALS_SHOWN)
        vehicles = tuple(one.vehicle for one in work.vehicles())
        next_run, only_counts = _next_run(work, zone, now)
    view = SetupRetentionView(
        kept=tuple(
            KeptClass(kind=kind, months=months, kept_from=None if line is None else day_date(line))
            for kind, months, line in (
                ("readings", keep.readings, lines.readings),
                ("trends", keep.trends, lines.trends),
                ("tickets", keep.tickets, lines.tickets),
            )
        ),
        next_run=next_run if keep.readings or keep.trends or keep.tickets else None,
        only_counts=only_counts,
        counted=counted,
        would_go=() if found is None else tuple(_line(one) for one in found.portions),
        stays=0 if found is None else sum(one.rows for one in found.held),
        holds=tuple(
            HoldLine(
                vehicle=one.vehicle,
                reason=one.reason,
                put_by=one.put_by,
                put_at=one.put_at.astimezone(zone),
            )
            for one in holds
        ),
        vehicles=vehicles,
        typed_vehicle=typed[0],
        typed_reason=typed[1],
        errors=faults,
        removals=tuple(
            RemovalLine(at=one.at.astimezone(zone), put_by=one.put_by, portion=_line(one.portion))
            for one in removals
        ),
    )
    return show(view, make_frame(request, "What is kept"), 422 if faults else 200)


def _next_run(work: Work, zone: ZoneInfo, now: datetime) -> tuple[datetime, bool]:
    """Give when the job is due next, and whether it will only count, as the very first one does."""
    entry = next(one for one in timetable(zone, retains=True) if one.job == RETAIN)
    last = work.last_run(RETAIN)
    due = next_due(entry, now - timedelta(seconds=1))
    return due.astimezone(zone), last is None


def _line(one: Portion) -> PortionLine:
    return PortionLine(
        kind=one.kind, part=one.part, month=day_date(one.from_day), rows=one.rows, vehicles=one.vehicles
    )
