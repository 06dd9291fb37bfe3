"""What another revision of a spec sheet would say of the readings that are there: limits only, no fit.

The medians are the evaluation's own (`models.alarm.limits`); their margins and the starts of running segments
come from the trends that the newest evaluation kept.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from math import exp

import numpy as np
from numpy.typing import NDArray

from models.alarm.limits import FRESH_DAYS, Medians, read_bands, running_medians, side_of
from models.findings import Trend
from models.learning.fit import gather
from models.panel import Daily, Fleet, SheetFacts
from models.series import PLACE, SERIES, Observations


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One series of one vehicle that another sheet would judge otherwise.

    Parameters
    ----------
    vehicle, series : str
        The fleet's own number, and the name of the series.
    unit : str
        Of the three numbers below.
    value : float
        Median of the newest comparable readings.
    before, after : int
        1 above the band, -1 below, 0 inside or without a band: under the sheet in force and under the other.
    low, high : float or None
        The other sheet's band; None where it names no such side.
    """

    vehicle: str
    series: str
    unit: str
    value: float
    before: int
    after: int
    low: float | None
    high: float | None


def compare_sheets(
    fleet: Fleet,
    daily: Daily,
    trends: Iterable[Trend],
    *,
    sheets: tuple[SheetFacts | None, SheetFacts],
    day: int,
) -> tuple[Move, ...]:
    """Tell what changes when a sheet is put in force.

    Parameters
    ----------
    fleet : Fleet
        Vehicles that name the sheet; what it says of sheets is not looked at.
    daily : Daily
        Their summaries, up to the day.
    trends : iterable of Trend
        Of the newest evaluation.
    sheets : tuple of (SheetFacts or None, SheetFacts)
        The one in force (None for none), and the other.
    day : int
        Day of the newest evaluation [days since 1970-01-01].

    Returns
    -------
    tuple of Move
        By vehicle and series, only those that change. A series without a trend, or whose trend has no
        margin, is not judged.
    """
    if not len(daily):
        return ()
    before, after = sheets
    everybody = np.zeros(len(fleet.vehicles), dtype=np.int32)
    then = replace(fleet, sheets=(after,), sheet=everybody)
    now = then if before is None else replace(then, sheets=(before,))
    material = gather(then, daily)
    medians = running_medians(material)
    margins, start = _held(fleet, trends)
    row = _newest(material.seen, medians, start, day)
    vehicle, series = material.seen.vehicle[row], material.seen.series[row]
    value, margin = medians.value[row], margins[vehicle, series]
    group = 0 if before is not None else len(now.sheets)  # the last group has no band
    was = side_of(value, read_bands(now).low[group, series], read_bands(now).high[group, series], margin)
    low, high = read_bands(then).low[0, series], read_bands(then).high[0, series]
    will = side_of(value, low, high, margin)
    return tuple(
        Move(
            vehicle=fleet.vehicles[vehicle[place]],
            series=SERIES[series[place]].name,
            unit=SERIES[series[place]].unit,
            value=_shown(value[place], int(series[place])) or 0.0,
            before=int(was[place]),
            after=int(will[place]),
            low=_shown(low[place], int(series[place])),
            high=_shown(high[place], int(series[place])),
        )
        for place in np.flatnonzero(was != will).tolist()
    )


def _held(fleet: Fleet, trends: Iterable[Trend]) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Give margins as the models hold them, and first days of running segments; NaN and 0 without a trend."""
    place_of: Mapping[str, int] = {name: place for place, name in enumerate(fleet.vehicles)}
    margin = np.full((len(fleet.vehicles), len(SERIES)), np.nan)
    start = np.zeros(margin.shape, np.int64)
    for trend in trends:
        reading = trend.reading
        row, column = place_of.get(trend.vehicle), PLACE.get(reading.series)
        if row is None or column is None:
            continue
        start[row, column] = reading.segment_from
        if reading.limit_margin is not None:
            log = SERIES[column].log and reading.baseline > 0
            margin[row, column] = reading.limit_margin * (100.0 / reading.baseline if log else 1.0)
    return margin, start


def _newest(seen: Observations, medians: Medians, start: NDArray[np.int64], day: int) -> NDArray[np.int64]:
    """Give the place of each series' newest observation that has a median to be judged by."""
    known = np.flatnonzero(seen.day <= day)
    last = known[np.flatnonzero(np.diff(seen.cell[known], append=-1))]
    fresh = (medians.oldest[last] >= 0) & (seen.day[last] > day - FRESH_DAYS)
    oldest = seen.day[np.maximum(medians.oldest[last], 0)]
    return last[fresh & (oldest >= start[seen.vehicle[last], seen.series[last]])]


def _shown(held: np.float64, series: int) -> float | None:
    if np.isnan(held):
        return None
    return round(exp(float(held) / 100.0) if SERIES[series].log else float(held), 4)
