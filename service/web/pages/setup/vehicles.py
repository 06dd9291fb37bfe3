"""The integrator's list of vehicles: all that are registered, in service or not."""

from typing import Final
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, Query, Request
from starlette.responses import HTMLResponse

from dashboards.setup.vehicles import FleetLine, SetupVehiclesView
from service.web.pages.frames import make_frame, show, zone_of
from service.web.query import number_day
from service.web.readers import allow
from service.web.shell import shell_of

router = APIRouter(dependencies=[Depends(allow("vehicles"))])

PAGE_ROWS: Final = 100
"""Vehicles on one page; chosen by us."""


@router.get("/setup/vehicles")
def vehicles_page(request: Request, query: str = "", first: int = Query(1, ge=1)) -> HTMLResponse:
    """List every registered vehicle, for the integrator."""
    shell = shell_of(request)
    zone = zone_of(shell)
    today = shell.clock.now().astimezone(zone).date()
    with shell.store.begin(readonly=True) as work:
        registered = work.vehicles()
        absent = work.absent(today)
        sheets = {one.sheet for one in work.sheets(as_of_day=number_day(today))}
        seen = {one.vehicle: one.taken_at for one in work.last_seen()}
    lines = []
    for one in registered:
        if query.casefold() not in one.vehicle.casefold():
            continue
        away, taken = absent.get(one.vehicle), seen.get(one.vehicle)
        later = one.in_service_on is not None and one.in_service_on > today
        since = away.since if away is not None else one.in_service_on if later else None
        lines.append(
            FleetLine(
                vehicle=one.vehicle,
                sheet=one.spec_sheet,
                sheet_known=one.spec_sheet in sheets,
                depot=one.depot,
                standing=("gone" if away.gone else "off_road")
                if away is not None
                else "later"
                if later
                else "in_service",
                since=since,
                last_reading_on=None if taken is None else taken.astimezone(zone).date(),
            )
        )

    def address(place: int) -> str:
        kept = {"query": query, "first": "" if place == 1 else str(place)}
        return "/setup/vehicles?" + urlencode({name: text for name, text in kept.items() if text})

    view = SetupVehiclesView(
        rows=tuple(lines[first - 1 : first - 1 + PAGE_ROWS]),
        total=len(lines),
        registered=len(registered),
        query=query,
        previous=address(max(1, first - PAGE_ROWS)) if first > 1 else "",
        following=address(first + PAGE_ROWS) if first - 1 + PAGE_ROWS < len(lines) else "",
    )
    return show(view, make_frame(request, "Vehicles: setup"))
