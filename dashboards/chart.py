"""One trend as facts to draw: what the interactive figure, the small picture and the table share."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Annotated, Literal

from dashboards.series import Kind

Axis = Literal["date", "km", "hours"]
"""What a picture runs by: the date, the odometer, or the engine hours seen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One reading."""

    at: Annotated[datetime, "Time taken, in the vehicle's zone."]
    value: Annotated[float, "Reading in the chart's unit."]
    odometer_km: Annotated[float | None, "Odometer [km]; None where not reported."] = None
    engine_h: Annotated[float | None, "Engine hours seen by then [h]; None where not derivable."] = None
    excluded: Annotated[
        str, "Why it does not count, as a code of `words.EXCLUDED`; empty when it counts."
    ] = ""
    late: Annotated[bool, "Received more than two days after it was taken."] = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Corrected:
    """One day's value after what weather, load switches and like vehicles explain has been taken out."""

    on: Annotated[date, "Local day."]
    value: Annotated[float, "Value in the chart's unit."]
    odometer_km: Annotated[float | None, "Odometer on that day [km]; None where not reported."] = None
    engine_h: Annotated[float | None, "Engine hours seen by then [h]; None where not derivable."] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """Something that happened to the vehicle on a day."""

    on: Annotated[date, "Local day."]
    kind: Annotated[str, "Work kind or segment reason, a code of `words.MARKS`."]
    detail: Annotated[str, "Few words more, such as the part; may be empty."] = ""
    odometer_km: Annotated[float | None, "Odometer then [km], for the distance axis."] = None
    engine_h: Annotated[float | None, "Engine hours seen by then [h], for the axis of hours."] = None


def used(one: Point | Corrected | Mark, axis: Axis) -> float | None:
    """Give how far, or how long, the vehicle had run then; None where not known."""
    return one.odometer_km if axis == "km" else one.engine_h


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """One followed series of one vehicle; `dashboards.charting` builds it from the models' numbers."""

    vehicle: Annotated[str, "The fleet's own number."]
    series: Annotated[str, "Name of the series, `FORMULA@state`."]
    unit: Annotated[str, "Default unit of every value here."]
    kind: Annotated[Kind, "Level, difference, or change from the own normal [%]."]
    points: Annotated[tuple[Point, ...], "Readings, oldest first; gaps are left as gaps."]
    smoothed: Annotated[
        tuple[float | None, ...],
        "Exponentially smoothed reading at each point; None where the point does not count. May be empty.",
    ] = ()
    corrected: Annotated[
        tuple[Corrected, ...], "What the comparison works on, a value a day; empty where it is not kept."
    ] = ()
    limit_low: Annotated[float | None, "The sheet's lower limit; None where the sheet names none."] = None
    limit_high: Annotated[float | None, "The sheet's upper limit; None where the sheet names none."] = None
    sheet: Annotated[str, "Name of the spec sheet; empty without one: then no limit is drawn."] = ""
    revision: Annotated[int | None, "Revision of that sheet."] = None
    source: Annotated[str, "Where the sheet can be looked up."] = ""
    baseline: Annotated[float | None, "The vehicle's own normal; None while learning."] = None
    baseline_from: Annotated[date | None, "First day of the readings behind the baseline."] = None
    baseline_to: Annotated[date | None, "Last day of the readings behind the baseline."] = None
    level: Annotated[float | None, "Estimate on the evaluation day."] = None
    drift_per_week: Annotated[float | None, "Slope [unit / week]; None while learning."] = None
    drift_low: Annotated[float | None, "Lower end of the slope's 80 % interval."] = None
    drift_high: Annotated[float | None, "Upper end of the slope's 80 % interval."] = None
    peers_low: Annotated[float | None, "10 % point of like vehicles; None where fewer than eight."] = None
    peers_high: Annotated[float | None, "90 % point of like vehicles; None where fewer than eight."] = None
    peers: Annotated[int, "How many like vehicles there are."] = 0
    reaches_limit_on: Annotated[date | None, "Median day the limit is reached; None: not within a year."] = (
        None
    )
    reaches_limit_low: Annotated[date | None, "Early end of its 80 % interval."] = None
    reaches_limit_high: Annotated[date | None, "Late end of its 80 % interval."] = None
    outside: Annotated[bool, "Outside the sheet's limits, judged before rounding."] = False
    marks: Annotated[tuple[Mark, ...], "Repairs, resets and other new beginnings."] = ()
    need: Annotated[int, "Readings that a baseline takes; 0 when it stands."] = 0
    have: Annotated[int, "Valid readings so far, while learning."] = 0
    axis: Annotated[Axis, "What the picture runs by."] = "date"

    def corrected_on(self, day: date) -> float | None:
        """Give the corrected value of a day; None where there is none."""
        return next((one.value for one in self.corrected if one.on == day), None)
