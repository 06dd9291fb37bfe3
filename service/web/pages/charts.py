"""Charts of one vehicle: what they have in common, loaded once, and the drawing of one series."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from dashboards import chart as drawn
from dashboards.chart import Axis, Chart, Mark, Point
from dashboards.charting import build_chart
from models.causes.table import bears_on
from models.findings import Assessment, Corrected, SeriesReading
from models.learning.breaks import UNTOLD
from models.panel import Readings
from models.series import SERIES
from models.statistics.charts import ewma
from service.store import Circumstances, KeptWork, Work
from service.tickets.ticket import Detail
from service.web.pages.points import points_of
from service.web.pages.running import engine_hours
from service.web.query import number_day
from service.web.shell import Shell
from service.web.wire import day_date

SHOWN_DAYS: Final = 182
"""Days up to the newest reading that a chart shows; chosen by us: half a year holds baseline and drift."""

SMOOTHING: Final = 0.2
"""Share of the newest reading in the smoothed line; the chart's key says it too."""

MARKED_KINDS: Final = ("repair", "memory_cleared", "battery_replaced", "no_fault_found", "complaint")
"""Kinds of work that a chart marks."""

RESETS: Final = frozenset({"memory_cleared", "battery_replaced"})
"""Work and breaks after which the engine computer learns anew."""

_BY_NAME: Final = {series.name: series for series in SERIES}
_LEARNED: Final = np.array([series.learned for series in SERIES])


@dataclass(frozen=True, slots=True, kw_only=True)
class Background:
    """What every chart of one vehicle has in common.

    Parameters
    ----------
    vehicle : str
        The fleet's own number.
    zone : ZoneInfo
        The vehicle's.
    readings : Readings
        Its snapshots, sorted by time.
    circumstances : Circumstances
        Odometer and time of arrival of the same rows.
    hours : float array
        Engine hours of the same rows, see `engine_hours`.
    resets : tuple of int
        Days after which the engine computer learned anew [days since 1970-01-01].
    sheet, revision, source
        Spec sheet in force; empty and None without one: then no limit is drawn.
    marks : tuple of Mark
        Work done and new beginnings.
    axis : {"date", "km", "hours"}
        What the pictures run by.
    corrected : mapping of str to Corrected
        Corrected daily values of the newest evaluation by series; empty where they are not shown.
    """

    vehicle: str
    zone: ZoneInfo
    readings: Readings
    circumstances: Circumstances
    hours: NDArray[np.float64]
    resets: tuple[int, ...] = ()
    sheet: str = ""
    revision: int | None = None
    source: str = ""
    marks: tuple[Mark, ...] = ()
    axis: Axis = "date"
    corrected: Mapping[str, Corrected] = field(default_factory=dict)


def load_background(
    shell: Shell,
    work: Work,
    vehicle: str,
    zone: ZoneInfo,
    said: Assessment | None,
    records: Sequence[KeptWork],
    detail: Detail | None = None,
) -> Background:
    """Load what the charts of a vehicle have in common: the newest half year of readings, work done, sheet.

    Parameters
    ----------
    shell : Shell
        For the clock.
    work : Work
        Unit of work of the request.
    vehicle : str
        The fleet's own number.
    zone : ZoneInfo
        The vehicle's.
    said : Assessment or None
        The newest evaluation: it has found losses of memory that nobody recorded.
    records : sequence of KeptWork
        Its work.
    detail : Detail or None
        Evidence whose sheet is shown, as it was when it was judged.

    Returns
    -------
    Background
        Without a sheet, no limit is drawn.
    """
    newest = work.newest_day(vehicle)
    last_day = number_day(shell.clock.now().astimezone(zone).date()) if newest is None else newest
    first_day = last_day - SHOWN_DAYS
    readings = work.readings(vehicle, first_day, last_day)
    circumstances = work.circumstances(vehicle, first_day, last_day)
    hours = engine_hours(readings)
    return Background(
        vehicle=vehicle,
        zone=zone,
        readings=readings,
        circumstances=circumstances,
        hours=hours,
        resets=reset_days(vehicle, records, said),
        sheet="" if detail is None else detail.versions.sheet,
        revision=None if detail is None else detail.versions.revision,
        source="" if detail is None else detail.versions.source,
        marks=_marks(
            sorted((on, kind) for on, kind in _happened(vehicle, records, said) if on >= first_day),
            readings.day,
            circumstances.odometer_km,
            hours,
        ),
    )


def reset_days(vehicle: str, records: Iterable[KeptWork], said: Assessment | None) -> tuple[int, ...]:
    """Give the days on which the engine computer began to learn anew, recorded or found; sorted.

    Parameters
    ----------
    vehicle : str
        The fleet's own number.
    records : iterable of KeptWork
        Its work. A repair counts where it changes what is learned.
    said : Assessment or None
        Its breaks count.
    """
    days = {record.day for record in records if record.kind in RESETS or _is_relearned(record)}
    if said is not None:
        days |= {one.day for one in said.breaks if one.vehicle == vehicle and one.reason in RESETS}
    return tuple(sorted(days))


def _is_relearned(record: KeptWork) -> bool:
    if record.kind != "repair" or record.cause in UNTOLD:
        return False
    return bool((bears_on(record.cause) & _LEARNED).any())


def _happened(vehicle: str, records: Iterable[KeptWork], said: Assessment | None) -> set[tuple[int, str]]:
    """Give day and kind of the work done and of breaks that nobody recorded; parts and notes stay out."""
    happened = {(one.day, one.kind) for one in records if one.kind in MARKED_KINDS}
    found = () if said is None else said.breaks
    return happened | {(one.day, one.reason) for one in found if one.vehicle == vehicle and one.found}


def _marks(
    happened: Sequence[tuple[int, str]],
    day: NDArray[np.int32],
    odometer_km: NDArray[np.float64],
    hours: NDArray[np.float64],
) -> tuple[Mark, ...]:
    """Mark what happened, with odometer and engine hours of the newest reading by then; None without one."""
    days = [on for on, _ in happened]
    return tuple(
        Mark(on=day_date(on), kind=kind, odometer_km=km, engine_h=hour)
        for (on, kind), km, hour in zip(
            happened, _by(days, day, odometer_km), _by(days, day, hours), strict=True
        )
    )


def _by(days: Sequence[int], day: NDArray[np.int32], value: NDArray[np.float64]) -> list[float | None]:
    """Give the newest known value by each of some days; None where there is none."""
    known = np.flatnonzero(np.isfinite(value))
    last = np.searchsorted(day[known], days, side="right") - 1
    return [float(value[known[place]]) if place >= 0 else None for place in last.tolist()]


def _corrected_days(facts: SeriesReading, background: Background) -> tuple[drawn.Corrected, ...]:
    """Give the corrected days that lie among the readings shown, with the odometer of their day."""
    kept = background.corrected.get(facts.series)
    readings = background.readings
    if kept is None or not len(readings):
        return ()
    shown = [
        (day, value)
        for day, value in zip(kept.day.tolist(), kept.value.astype(float).tolist(), strict=True)
        if day >= int(readings.day[0])
    ]
    days = [day for day, _ in shown]
    odometer = _by(days, readings.day, background.circumstances.odometer_km)
    hours = _by(days, readings.day, background.hours)
    return tuple(
        drawn.Corrected(on=day_date(day), value=value, odometer_km=km, engine_h=hour)
        for (day, value), km, hour in zip(shown, odometer, hours, strict=True)
    )


def draw_chart(facts: SeriesReading, background: Background) -> Chart:
    """Put one series together.

    Parameters
    ----------
    facts : SeriesReading
        What the evaluation says of it.
    background : Background
        Of its vehicle.

    Returns
    -------
    Chart
        A series that is no longer followed has no points.
    """
    series = _BY_NAME.get(facts.series)
    points: tuple[Point, ...] = ()
    if series is not None:
        points = points_of(
            series,
            facts,
            background.readings,
            background.circumstances,
            background.hours,
            resets=background.resets,
            zone=background.zone,
        )
    sheet = None
    if background.sheet and background.revision is not None:
        sheet = (background.sheet, background.revision, background.source)
    return build_chart(
        background.vehicle,
        facts,
        points,
        sheet=sheet,
        marks=background.marks,
        axis=background.axis,
        smoothed=smooth(points),
        corrected=_corrected_days(facts, background),
    )


def smooth(points: Sequence[Point]) -> tuple[float | None, ...]:
    """Smooth the readings that count, exponentially, from the first of them on.

    Returns
    -------
    tuple of float or None
        One for each point; None where it does not count.
    """
    counted = [place for place, point in enumerate(points) if not point.excluded]
    line: list[float | None] = [None] * len(points)
    if counted:
        values = np.array([points[place].value for place in counted])
        for place, value in zip(counted, ewma(values, SMOOTHING, start=values[0]).tolist(), strict=True):
            line[place] = value
    return tuple(line)
