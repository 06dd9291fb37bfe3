"""Readings of one series as facts to draw."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from dashboards.chart import Chart, Mark, Point
from dashboards.charting import build_chart
from ingest.parameters import CLOSED_LOOP, COLUMN, STATES
from models.findings import SeriesReading
from models.panel import Daily, Readings
from models.series import SERIES, Series
from service.store import KeptWork
from service.web.wire import day_date

SHOWN_DAYS: Final = 182
"""Days of readings that a chart shows; chosen by us: half a year holds baseline and drift."""

MARKED_KINDS: Final = ("repair", "memory_cleared", "battery_replaced", "no_fault_found", "complaint")
"""Kinds of work that a chart marks."""

_TRIMS: Final = ("LONGFT1", "LONGFT2", "SHRTFT1", "SHRTFT2")
_BY_NAME: Final = {series.name: series for series in SERIES}
_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)


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
    sheet, revision, source
        Spec sheet in force; empty and None without one: then no limit is drawn.
    marks : tuple of Mark
        Work done and new beginnings.
    """

    vehicle: str
    zone: ZoneInfo
    readings: Readings
    sheet: str = ""
    revision: int | None = None
    source: str = ""
    marks: tuple[Mark, ...] = ()


def work_marks(records: Iterable[KeptWork], first_day: int) -> tuple[Mark, ...]:
    """Mark the work done since a day; parts and notes stay out of pictures."""
    return tuple(
        Mark(on=day_date(record.day), kind=record.kind)
        for record in records
        if record.kind in MARKED_KINDS and record.day >= first_day
    )


def as_rows(readings: Readings) -> Daily:
    """Take each reading for a day of its own: the formulas of the series then apply to it."""
    switched = np.where(readings.switches < 0, np.nan, readings.switches.astype(np.float64))
    return Daily(
        vehicle=readings.vehicle,
        day=readings.day,
        state=readings.state,
        readings=np.ones(len(readings), dtype=np.int32),
        values=readings.values,
        switched_on=switched,
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
    points = () if series is None else _points(series, facts, background)
    sheet = None
    if background.sheet and background.revision is not None:
        sheet = (background.sheet, background.revision, background.source)
    return build_chart(background.vehicle, facts, points, sheet=sheet, marks=background.marks)


def _points(series: Series, facts: SeriesReading, background: Background) -> tuple[Point, ...]:
    rows = as_rows(background.readings)
    values = series.formula(rows)
    wanted = np.isin(rows.state, [STATES.index(state) for state in series.states]) & np.isfinite(values)
    excluded = _excluded(series, facts, background.readings)
    return tuple(
        Point(
            at=_moment(int(background.readings.taken_us[place]), background.zone),
            value=float(values[place]),
            excluded=excluded[place],
        )
        for place in np.flatnonzero(wanted).tolist()
    )


def _moment(taken_us: int, zone: ZoneInfo) -> datetime:
    return (_EPOCH + timedelta(microseconds=taken_us)).astimezone(zone)


def _excluded(series: Series, facts: SeriesReading, readings: Readings) -> Sequence[str]:
    """Say which readings the comparison leaves out, and why; empty where it joins them."""
    found = np.full(len(readings), "", dtype=object)
    if series.parameter in _TRIMS:
        found[_is_open_loop(readings)] = "open_loop"
    found[readings.day < facts.segment_from] = "before_repair"
    return [str(one) for one in found]


def _is_open_loop(readings: Readings) -> NDArray[np.bool_]:
    status = readings.values[:, COLUMN["FUELSYS1"]]
    found: NDArray[np.bool_] = np.isfinite(status) & (status != CLOSED_LOOP)
    return found
