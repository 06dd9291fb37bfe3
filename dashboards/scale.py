"""Ranges and tick marks that the small picture and the interactive figure share."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final

from dashboards.chart import Chart, Corrected, Mark, used

MARGIN: Final = 0.08
"""Free share above and below the outermost value; chosen by us so that dots do not touch the frame."""

LEAST_SPAN: Final = 0.2
"""Least height of the picture as a share of the largest magnitude, so that noise is not blown up."""

SMOOTHED_GAP_DAYS: Final = 14
"""Pause after which the smoothed line begins anew; chosen by us: a longer line would invent readings."""

SIDE: Final = 0.02
"""Free share left and right of the readings."""

AHEAD_DAYS: Final = 91
"""Days beyond the newest reading that a forecast may take; chosen by us: the readings keep two thirds."""

LEAST_SIDE: Final = 0.5
"""Least room there [days or km]: half a day, so that one reading stands in the middle."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Range:
    """Ends of an axis."""

    low: float
    high: float

    @property
    def span(self) -> float:
        """Length of the axis."""
        return self.high - self.low


def value_range(chart: Chart) -> Range:
    """Find the value axis: every reading, the limits, the baseline and the peers' band lie inside."""
    extra = (chart.limit_low, chart.limit_high, chart.baseline, chart.peers_low, chart.peers_high)
    values = [point.value for point in chart.points] + [value for value in extra if value is not None]
    values += [one.value for one in chart.corrected]
    if not values:
        return Range(low=0.0, high=1.0)
    low, high = min(values), max(values)
    least = LEAST_SPAN * (max(abs(low), abs(high)) or 1.0)
    missing = max(0.0, least - (high - low)) / 2
    low, high = low - missing, high + missing
    free = MARGIN * (high - low)
    return Range(low=low - free, high=high + free)


def steps(low: float, high: float, wanted: int = 4) -> tuple[float, ...]:
    """Find round tick values inside a range: 1, 2 or 5 times a power of ten apart.

    Examples
    --------
    >>> steps(13.1, 29.8)
    (15.0, 20.0, 25.0)
    """
    raw = (high - low) / max(wanted, 1)
    power = 10.0 ** math.floor(math.log10(raw))
    step = min((factor * power for factor in (1, 2, 5, 10) if factor * power >= raw * 0.999), default=raw)
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return tuple(round(place * step, 10) for place in range(first, last + 1))


def months(first: date, last: date, most: int = 7) -> tuple[date, ...]:
    """Find days to label on a date axis: firsts of months, thinned, or weeks when the span is short.

    Examples
    --------
    >>> [str(day) for day in months(date(2031, 1, 20), date(2031, 4, 2))]
    ['2031-02-01', '2031-03-01', '2031-04-01']
    """
    days = (last - first).days
    if days < 62:
        apart = max(1, math.ceil((days + 1) / most))
        return tuple(first + timedelta(days=place) for place in range(0, days + 1, apart))
    firsts: list[date] = []
    day = date(first.year, first.month, 1)
    while day <= last:
        if day >= first:
            firsts.append(day)
        day = date(day.year + day.month // 12, day.month % 12 + 1, 1)
    return tuple(firsts[:: math.ceil(len(firsts) / most)])


def places(chart: Chart) -> Sequence[float | None]:
    """Give each reading's place on the horizontal axis: local days since 1970-01-01, kilometres or hours."""
    if chart.axis != "date":
        return [used(point, chart.axis) for point in chart.points]
    return [
        point.at.toordinal() - _EPOCH + (point.at.hour * 60 + point.at.minute) / 1440
        for point in chart.points
    ]


_EPOCH = date(1970, 1, 1).toordinal()


def place_range(found: Sequence[float | None]) -> Range:
    """Find the horizontal axis: every reading that has a place, with a little room at both ends."""
    known = [place for place in found if place is not None]
    low, high = (min(known), max(known)) if known else (0.0, 1.0)
    free = max((high - low) * SIDE, LEAST_SIDE)
    return Range(low=low - free, high=high + free)


def across(chart: Chart) -> Range:
    """Find the horizontal axis of a chart: its readings, and on the date axis what is forecast."""
    found = place_range(places(chart))
    ahead = forecast(chart)
    return found if ahead is None else Range(low=found.low, high=max(found.high, ahead.late))


@dataclass(frozen=True, slots=True, kw_only=True)
class Forecast:
    """From the level now to the limit: places on the date axis, values in the chart's unit."""

    start: float
    level: float
    limit: float
    early: float
    middle: float
    late: float
    cut: bool


def forecast(chart: Chart) -> Forecast | None:
    """Place the forecast; None but by date, outside the limit now, or where none is reached within a quarter.

    Its late end is cut at `AHEAD_DAYS` beyond the newest reading, which `cut` says.
    """
    reached = chart.reaches_limit_on
    if chart.axis != "date" or not chart.sheet or chart.outside or reached is None or not chart.points:
        return None
    limit = _limit_ahead(chart)
    if limit is None or chart.level is None:
        return None
    start = max(place for place in places(chart) if place is not None)
    end = start + AHEAD_DAYS
    middle = day_place(reached)
    late = day_place(chart.reaches_limit_high) if chart.reaches_limit_high else end + 1
    early = day_place(chart.reaches_limit_low or reached)
    if not start < middle <= end:
        return None
    return Forecast(
        start=start,
        level=chart.level,
        limit=limit,
        early=max(early, start),
        middle=middle,
        late=min(late, end),
        cut=late > end,
    )


def _limit_ahead(chart: Chart) -> float | None:
    """Choose the limit towards which the series moves."""
    return chart.limit_low if (chart.drift_per_week or 0.0) < 0 else chart.limit_high


def corrected_place(chart: Chart, one: Corrected) -> float | None:
    """Give a corrected day's place on the horizontal axis: its noon, or its use by then."""
    return used(one, chart.axis) if chart.axis != "date" else day_place(one.on) + 0.5


def placed_marks(chart: Chart, ends: Range) -> list[tuple[Mark, float]]:
    """Give the marks that have a place within the axis, with it; the table beside the picture has all."""
    found = []
    for mark in chart.marks:
        place = used(mark, chart.axis) if chart.axis != "date" else day_place(mark.on)
        if place is not None and ends.low <= place <= ends.high:
            found.append((mark, place))
    return found


def day_place(day: date) -> float:
    """Give a day's place on the date axis [days since 1970-01-01]."""
    return float(day.toordinal() - _EPOCH)


def place_day(place: float) -> date:
    """Give the day at a place of the date axis."""
    return date.fromordinal(int(place) + _EPOCH)


def smoothed_stretches(chart: Chart) -> tuple[tuple[int, ...], ...]:
    """Cut the smoothed line where points do not count or readings pause.

    Returns
    -------
    tuple of tuple of int
        Numbers of the points that each stretch joins, two or more.
    """
    stretches: list[list[int]] = []
    before: datetime | None = None
    at = places(chart)
    for number, value in enumerate(chart.smoothed):
        if value is None or at[number] is None:
            continue
        now = chart.points[number].at
        if before is None or now - before > timedelta(days=SMOOTHED_GAP_DAYS):
            stretches.append([])
        stretches[-1].append(number)
        before = now
    return tuple(tuple(stretch) for stretch in stretches if len(stretch) > 1)
