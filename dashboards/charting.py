"""From a series' numbers to a chart: whole days become dates, relative values become changes."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from statistics import median

from dashboards.chart import Axis, Chart, Corrected, Mark, Point
from dashboards.series import change, kind_of
from models.findings import SeriesReading

_EPOCH = date(1970, 1, 1).toordinal()


def build_chart(
    vehicle: str,
    reading: SeriesReading,
    points: Sequence[Point],
    *,
    sheet: tuple[str, int, str] | None,
    marks: Sequence[Mark] = (),
    axis: Axis = "date",
    smoothed: Sequence[float | None] = (),
    corrected: Sequence[Corrected] = (),
) -> Chart:
    """Build the chart of a series that is followed.

    Parameters
    ----------
    vehicle : str
        The fleet's own number.
    reading : SeriesReading
        Its numbers on the evaluation day; NaN is taken for "not known".
    points : sequence of Point
        Readings in the series' unit as the models hold it, oldest first.
    sheet : (name, revision, source) or None
        The sheet in force; without one no limit is drawn, whatever `reading` says.
    marks : sequence of Mark
        What happened to the vehicle.
    axis : {"date", "km", "hours"}
        What the picture runs by.
    smoothed : sequence of float or None
        Smoothed reading at each point, None where it does not count; empty for no line.
    corrected : sequence of Corrected
        What the comparison works on, on the scale of the baseline.
    """
    shown, raw = _converter(reading), _raw_converter(reading, points)
    limits = (None, None) if sheet is None else (reading.limit_low, reading.limit_high)
    name, revision, source = sheet or ("", None, "")
    return Chart(
        vehicle=vehicle,
        series=reading.series,
        unit=reading.unit,
        kind=kind_of(reading.series),
        points=tuple(replace(point, value=raw(point.value)) for point in points),
        smoothed=tuple(_known(value, raw) for value in smoothed),
        corrected=tuple(replace(one, value=shown(one.value)) for one in corrected),
        limit_low=_known(limits[0], shown),
        limit_high=_known(limits[1], shown),
        sheet=name,
        revision=revision,
        source=source,
        baseline=_known(reading.baseline, shown),
        baseline_from=_day(reading.baseline_from),
        baseline_to=_day(reading.baseline_to),
        level=_known(reading.level, shown),
        drift_per_week=_known(reading.drift_per_week, float),
        drift_low=_known(reading.drift_low, float),
        drift_high=_known(reading.drift_high, float),
        peers_low=_known(reading.peers_low, shown),
        peers_high=_known(reading.peers_high, shown),
        peers=reading.peers,
        reaches_limit_on=_day(reading.reaches_limit_on),
        reaches_limit_low=_day(reading.reaches_limit_low),
        reaches_limit_high=_day(reading.reaches_limit_high),
        outside=reading.outside and sheet is not None,
        marks=tuple(marks),
        axis=axis,
    )


def learning_chart(
    vehicle: str,
    series: str,
    unit: str,
    points: Sequence[Point],
    *,
    have: int,
    need: int,
    marks: Sequence[Mark] = (),
    axis: Axis = "date",
) -> Chart:
    """Build the chart of a series that has no baseline yet: its readings alone."""
    kind = kind_of(series)
    values = [point.value for point in points]
    middle = median(values) if values else 0.0
    made = [
        replace(point, value=change(point.value, middle)) if kind == "change" else point for point in points
    ]
    return Chart(
        vehicle=vehicle,
        series=series,
        unit=unit,
        kind=kind,
        points=tuple(made),
        need=need,
        have=have,
        marks=tuple(marks),
        axis=axis,
    )


def _converter(reading: SeriesReading) -> Callable[[float], float]:
    """Turn what is told on the scale of the baseline into what is shown."""
    if kind_of(reading.series) != "change":
        return float
    normal = 0.0 if reading.baseline != reading.baseline else reading.baseline
    return lambda value: change(value, normal)


def _raw_converter(reading: SeriesReading, points: Sequence[Point]) -> Callable[[float], float]:
    """Turn readings into what is shown; a change is one from the readings behind the baseline.

    The models tell a change's baseline against like vehicles, so that it does not speak of raw readings.
    """
    if kind_of(reading.series) != "change":
        return float
    first, last = _day(reading.baseline_from), _day(reading.baseline_to)
    counted = [point for point in points if not point.excluded] or list(points)
    behind = [one.value for one in counted if first and last and first <= one.at.date() <= last]
    normal = median(behind or [one.value for one in counted]) if counted else 0.0
    return lambda value: change(value, normal)


def _known(value: float | None, shown: Callable[[float], float]) -> float | None:
    return None if value is None or value != value else shown(value)  # noqa: PLR0124 - as above


def _day(day: int | None) -> date | None:
    return None if day is None else date.fromordinal(day + _EPOCH)
