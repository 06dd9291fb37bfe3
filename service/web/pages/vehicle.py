"""The vehicle page, whole or held to one series."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from dashboards.chart import Axis
from dashboards.frame import Units
from dashboards.links import vehicle_url
from dashboards.rows import Learning, TicketLine
from dashboards.series import series_name
from dashboards.vehicle import Segment, SheetField, Suspicion, VehicleView, WorkDone
from ingest.parameters import PARAMETERS, STATES
from ingest.records import SpecSheet, Vehicle
from models.findings import Assessment, Finding, Trend
from models.panel import Readings, SheetFacts
from service.auth.rights import MASKED_FOR, may
from service.store import KeptWork, LastSeen, Work
from service.store.columns import from_us
from service.tickets.priority import ranked, vehicle_words
from service.tickets.remarks import remark_lines
from service.tickets.sentence import evidence
from service.tickets.ticket import Ticket, is_open
from service.web.errors import NotFound
from service.web.memory import Newest
from service.web.pages.applies import does_not_apply
from service.web.pages.charts import Background, draw_chart, load_background
from service.web.pages.coverage import count_learned
from service.web.pages.doubts import doubts_of, ends_of
from service.web.pages.drives import drive_for
from service.web.pages.frames import make_frame, show, units_of
from service.web.pages.lines import ticket_line, why_of
from service.web.pages.once import new_key
from service.web.pages.points import loaded_as_history
from service.web.query import choose, number_day
from service.web.readers import allow, reader_of
from service.web.shell import Shell, shell_of
from service.web.urgency import as_urgency
from service.web.wire import day_date

router = APIRouter(dependencies=[Depends(allow("read"))])

CHARTS: Final = 8
"""Charts of a vehicle, the loudest series first; the others are one click away; chosen by us."""

CONDITIONS_READ: Final = 50
"""Newest warm idles asked for air conditioning, steering and gear; chosen by us: some weeks."""

_AXES: Final[Mapping[str, Axis]] = {"date": "date", "km": "km", "hours": "hours"}

_SHEET_TEXT: Final = (
    ("fuel", "Fuel", ""),
    ("displacement_l", "Displacement", "l"),
    ("cylinders", "Cylinders", ""),
    ("banks", "Banks", ""),
    ("air_metering", "Air metering", ""),
    ("idle_control", "Idle control", ""),
    ("charging", "Charging", ""),
    ("soak_hours", "Soak", "h"),
    ("soak_gap_degc", "Gap allowed after a soak", "°C"),
)
"""Fields of a sheet with their names on the page and units."""


@dataclass(frozen=True, slots=True, kw_only=True)
class VehicleFacts:
    """Everything that the page of one vehicle is made of.

    Parameters
    ----------
    vehicle : Vehicle
        As registered.
    sheet : SpecSheet or None
        Revision in force; None without one.
    tickets : tuple of Ticket
        All of them, closed ones included.
    trends : tuple of Trend
        Of the newest evaluation that kept trends.
    newest : Newest
        The newest evaluation.
    work : tuple of KeptWork
        Work done, oldest first.
    seen : LastSeen or None
        Newest reading.
    background : Background
        For the charts.
    learning : tuple of Learning
        How far its baseline has come, while it is learned.
    chosen : str
        Series shown alone, `PARAMETER@state`; empty for all.
    kept_from : int or None
        First day whose readings retention has left [days since 1970-01-01]; None where it took none.
    """

    vehicle: Vehicle
    sheet: SpecSheet | None
    tickets: tuple[Ticket, ...]
    trends: tuple[Trend, ...]
    newest: Newest
    work: tuple[KeptWork, ...]
    seen: LastSeen | None
    background: Background
    learning: tuple[Learning, ...]
    chosen: str
    kept_from: int | None


# Fleet numbers may hold slashes, so that the longer address must come first.
@router.get("/vehicles/{vehicle:path}/trends")
def trend_page(
    request: Request, vehicle: str, parameter: str = "", state: str = "", axis: str = "date", live: str = ""
) -> Response:
    """Show one series of a vehicle alone, by date, distance or engine hours; none named leads to all."""
    if not (parameter or state):
        return RedirectResponse(vehicle_url(vehicle), 303)
    choose("state", state, STATES)
    choose("axis", axis, tuple(_AXES))
    choose("live", live, ("", "yes"))
    return _answer(request, vehicle, f"{parameter}@{state}", axis=_AXES[axis], live=bool(live))


@router.get("/vehicles/{vehicle:path}")
def vehicle_page(request: Request, vehicle: str) -> HTMLResponse:
    """Show one vehicle to anyone who asks: how it stands, why, and what was done before."""
    return _answer(request, vehicle, "")


def _answer(
    request: Request, name: str, chosen: str, *, axis: Axis = "date", live: bool = False
) -> HTMLResponse:
    shell = shell_of(request)
    with shell.store.begin(readonly=True) as work:
        vehicle = work.vehicle(name)
        facts = _load(shell, work, vehicle, chosen)
        facts = replace(facts, background=replace(facts.background, axis=axis))
    if chosen and not _chosen_trends(facts):
        raise NotFound(f"followed series of vehicle '{name}'", chosen)
    title = name if not chosen else f"{name}: {series_name(chosen)}"
    seen = facts.seen
    frame = make_frame(
        request,
        title,
        newest=facts.newest,
        data_up_to=None if seen is None else seen.taken_at,
        zone=str(facts.background.zone),
    )
    today = shell.clock.now().astimezone(facts.background.zone).date()
    role = reader_of(request).role
    view = replace(make_view(facts, units_of(request), today, role), live=live)
    if role not in MASKED_FOR:
        view = replace(view, vin=vehicle.vin)
    return show(view, frame)


def _load(shell: Shell, work: Work, vehicle: Vehicle, chosen: str) -> VehicleFacts:
    name = vehicle.vehicle
    place = work.place_of(name)
    zone = ZoneInfo(place.zone)
    today = shell.clock.now().astimezone(zone).date()
    in_force = work.sheets(as_of_day=number_day(today))
    sheet = next((one for one in in_force if one.sheet == vehicle.spec_sheet), None)
    newest = shell.memory.newest(work)
    records = work.work_records(vehicle=name)
    background = load_background(shell, work, name, zone, newest.assessment, records)
    if chosen:
        background = replace(background, corrected={one.series: one for one in work.corrected(name)})
    if sheet is not None:
        background = replace(background, sheet=sheet.sheet, revision=sheet.revision, source=sheet.source)
    return VehicleFacts(
        vehicle=vehicle,
        sheet=sheet,
        tickets=work.tickets(vehicle=name),
        trends=work.trends(vehicle=name),
        newest=newest,
        learning=tuple(count_learned(work, newest.assessment, name).values()),
        work=records,
        seen=next((one for one in work.last_seen() if one.vehicle == name), None),
        background=background,
        chosen=chosen,
        kept_from=place.kept_from,
    )


def make_view(facts: VehicleFacts, units: Units, today: date, role: str) -> VehicleView:
    """Put a vehicle's page together.

    Parameters
    ----------
    facts : VehicleFacts
        What it is made of.
    units : {"metric", "us"}
        For sentences.
    today : date
        In the vehicle's zone.
    role : str
        The reader's.

    Returns
    -------
    VehicleView
        Without a sheet it speaks of no limit. The VIN shows its last four places only.
    """
    vehicle, zone, sheet = facts.vehicle, facts.background.zone, facts.sheet
    axes = _axes(facts.background)
    if facts.background.axis not in axes:
        facts = replace(facts, background=replace(facts.background, axis="date"))
    said = facts.newest.assessment
    state = None if said is None else next((s for s in said.vehicles if s.vehicle == vehicle.vehicle), None)
    current = [one for one in facts.tickets if is_open(one)]
    words = vehicle_words([] if state is None else [state], current)
    word = as_urgency(words.get(vehicle.vehicle, "cannot_say"))
    taken = None if facts.seen is None else facts.seen.taken_at
    return VehicleView(
        vehicle=vehicle.vehicle,
        readings_from=None if facts.kept_from is None else day_date(facts.kept_from),
        urgency=word,
        why=why_of(word, "" if state is None else state.reason, current),
        vin=mask_vin(vehicle.vin),
        depot=vehicle.depot,
        time_zone=str(zone),
        odometer_km=vehicle.odometer_km if facts.seen is None else facts.seen.odometer_km,
        in_service_on=vehicle.in_service_on,
        last_reading_at=None if taken is None else taken.astimezone(zone),
        notes=vehicle.notes,
        sheet=vehicle.spec_sheet,
        sheet_known=sheet is not None,
        revision=None if sheet is None else sheet.revision,
        source="" if sheet is None else sheet.source,
        sheet_fields=() if sheet is None else sheet_fields(sheet),
        open_tickets=_lines(ranked(current), today, zone),
        past_tickets=_lines(_closed(facts.tickets), today, zone),
        backfilled=_backfilled(facts.background),
        doubts=(
            *doubts_of(said, vehicle.vehicle),
            *ends_of(facts.background.readings, vehicle.vehicle),
        ),
        suspicions=_suspicions(facts, current, units),
        charts=tuple(draw_chart(one.reading, facts.background) for one in _chosen_trends(facts)),
        chosen=facts.chosen,
        axis=facts.background.axis,
        axes=axes,
        drive=drive_for("" if state is None or word != "cannot_say" else state.reason, sheet),
        learning=facts.learning,
        not_here=_absent(sheet),
        conditions_unknown=_conditions_unknown(facts.background.readings),
        segments=_segments(said, vehicle.vehicle, facts.trends),
        work=tuple(_work_done(one, zone) for one in reversed(facts.work)),
        may_complain=may(role, "complain"),
        may_raise=may(role, "work"),
        form_key=new_key(),
    )


def _axes(background: Background) -> tuple[Axis, ...]:
    """Say what the vehicle's pictures can run by: distance and hours only where readings tell them."""
    told: dict[Axis, bool] = {
        "date": True,
        "km": bool(np.isfinite(background.circumstances.odometer_km).any()),
        "hours": bool(np.isfinite(background.hours).any()),
    }
    return tuple(axis for axis, known in told.items() if known)


def _backfilled(background: Background) -> tuple[date, date, date] | None:
    readings, received_us = background.readings, background.circumstances.received_us
    history = np.flatnonzero(loaded_as_history(readings.taken_us, received_us))
    if not len(history):
        return None
    days = readings.day[history]
    came = from_us(int(received_us[history].max())).astimezone(background.zone).date()
    return day_date(int(days[0])), day_date(int(days[-1])), came


def mask_vin(vin: str) -> str:
    """Hide all but the last four places of a VIN.

    Examples
    --------
    >>> mask_vin("10000000X00000001")
    '•••••••••••••0001'
    """
    return "•" * max(0, len(vin) - 4) + vin[-4:] if vin else ""


def _closed(tickets: Sequence[Ticket]) -> list[Ticket]:
    closed = [one for one in tickets if not is_open(one)]
    return sorted(closed, key=lambda one: one.updated_at, reverse=True)


def _lines(tickets: Sequence[Ticket], today: date, zone: ZoneInfo) -> tuple[TicketLine, ...]:
    return tuple(ticket_line(one, today, zone) for one in tickets)


def _chosen_trends(facts: VehicleFacts) -> list[Trend]:
    """Order the series: those that open tickets lead with, then the loudest, then by name."""
    if facts.chosen:
        return [one for one in facts.trends if one.reading.series == facts.chosen]
    current = ranked(one for one in facts.tickets if is_open(one) and one.detail is not None)
    leads = [one.detail.readings[0].series for one in current if one.detail]

    def place(trend: Trend) -> tuple[int, float, str]:
        reading = trend.reading
        first = leads.index(reading.series) if reading.series in leads else len(leads)
        loud = 0.0 if math.isnan(reading.strength) else abs(reading.strength)
        return first, -loud, reading.series

    return sorted(facts.trends, key=place)[:CHARTS]


def sheet_fields(sheet: SpecSheet) -> tuple[SheetField, ...]:
    """Write what a sheet says beside its limits; what it does not say is said to be missing."""
    lines = []
    for name, shown, unit in _SHEET_TEXT:
        value = getattr(sheet, name)
        text = "not given" if value is None else f"{value} {unit}".strip().replace("_", " ")
        lines.append(SheetField(name=shown, text=text))
    lines.extend(SheetField(name=str(name), text=str(value)) for name, value in sheet.further.items())
    return tuple(lines)


def _absent(sheet: SpecSheet | None) -> tuple[str, ...]:
    """Name parameters that the vehicle does not have, by its sheet; without a sheet nobody knows."""
    absent = frozenset() if sheet is None else does_not_apply(sheet)
    return tuple(code for code in PARAMETERS if code in absent)


def _conditions_unknown(readings: Readings) -> bool:
    """Tell whether readings at warm idle came of late, none of which says what loaded the engine."""
    idle = readings.switches[readings.state == STATES.index("warm_idle")][-CONDITIONS_READ:]
    return len(idle) > 0 and bool((idle < 0).all())


def _suspicions(facts: VehicleFacts, current: Sequence[Ticket], units: Units) -> tuple[Suspicion, ...]:
    said = facts.newest.assessment
    if said is None:
        return ()
    ticketed = {one.group for one in current}
    own = [one for one in said.findings if one.vehicle == facts.vehicle.vehicle and one.group not in ticketed]
    return tuple(
        Suspicion(
            sentence=_sentence(one, facts.sheet, said.day, units),
            held_back=one.held_back,
            remarks=remark_lines(one.notes),
        )
        for one in own
    )


def _sentence(finding: Finding, sheet: SpecSheet | None, day: int, units: Units) -> str:
    facts = None
    if sheet is not None:
        facts = SheetFacts(sheet=sheet.sheet, revision=sheet.revision, source=sheet.source)
    return evidence(finding, sheet=facts, as_of_day=day, units=units)


def _segments(said: Assessment | None, name: str, trends: Sequence[Trend]) -> tuple[Segment, ...]:
    breaks = () if said is None else tuple(one for one in said.breaks if one.vehicle == name)
    found = {Segment(starts_on=day_date(one.day), reason=one.reason, found=one.found) for one in breaks}
    known = {one.starts_on for one in found}
    for trend in trends:
        starts_on = day_date(trend.reading.segment_from)
        if trend.reading.segment_from and starts_on not in known:
            found.add(Segment(starts_on=starts_on, reason=trend.reading.segment_reason))
    return tuple(sorted(found, key=lambda one: one.starts_on, reverse=True))


def _work_done(record: KeptWork, zone: ZoneInfo) -> WorkDone:
    return WorkDone(
        done_at=record.done_at.astimezone(zone),
        kind=record.kind,
        cause=record.cause,
        ticket=record.ticket,
        notes=record.notes,
        parts_cost=record.parts_cost,
        labour_hours=record.labour_hours,
    )
