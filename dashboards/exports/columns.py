"""The dictionary: every column of every export file, with meaning, type, unit and what empty means."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal

from dashboards.exports.errors import UnknownDataset
from ingest.parameters import CAUSES, FUEL_SYSTEM, PARAMETERS, STATES

Type = Literal["id", "text", "number", "integer", "boolean", "date", "time", "money"]
"""Types of values: `id` is text that is never a number, `time` is aware UTC, `money` has cents."""

FIRST: Final = "0.1.0"
"""Version that brought the first columns."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column of a file.

    Parameters
    ----------
    name, meaning : str
        Name in the file, and what it says.
    type : Type
        Type of its values.
    unit : str
        Unit, or which other column names the unit; empty when it has none.
    allowed : str
        Values that can occur; empty when any.
    empty : str
        What an empty cell means.
    since : str
        Version that brought it.
    """

    name: str
    meaning: str
    type: Type
    unit: str = ""
    allowed: str = ""
    empty: str = "never empty"
    since: str = FIRST


@dataclass(frozen=True, slots=True, kw_only=True)
class Dataset:
    """One kind of file: its name, what one row is, and its columns in order."""

    name: str
    meaning: str
    columns: tuple[Column, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the columns in order."""
        return tuple(column.name for column in self.columns)


def _column(name: str, meaning: str, kind: Type, **more: str) -> Column:
    return Column(name=name, meaning=meaning, type=kind, **more)


_STATUS = "raised, accepted, in_work, done, verified, dismissed, deferred, reopened"
_PRIORITY = "pull_in_now, plan_this_week, watch"
_CODES = "a code of the parameter catalogue"
_CAUSES = ", ".join(CAUSES)
_STATES = ", ".join(STATES)
_BY_PARAMETER = "default unit of `parameter`"
_IN_UNIT = "see `unit`"
_SHARE = "0 to 1"
_NO_LIMIT = "no sheet names this limit"
_NO_SERIES = "raised by hand: there is no series"
_NO_REACH = "not within a year, or no limit"

_WHO = (
    _column("vehicle", "The fleet's own number.", "id"),
    _column("depot", "Depot of the vehicle.", "text", empty="no depot given"),
    _column("spec_sheet", "Spec sheet that the vehicle names.", "text", empty="no spec sheet: no limits"),
)

_REACHES = (
    _column("reaches_limit_on", "Median day on which the limit is reached.", "date", empty=_NO_REACH),
    _column("reaches_limit_low", "Early end of its 80 % interval.", "date", empty=_NO_REACH),
    _column("reaches_limit_high", "Late end of its 80 % interval.", "date", empty=_NO_REACH),
)


def _causes() -> tuple[Column, ...]:
    words = ("Likeliest", "Second likeliest", "Third likeliest")
    found: list[Column] = []
    for place, word in enumerate(words, 1):
        none = "fewer causes than that"
        found.append(_column(f"cause_{place}", f"{word} cause.", "text", allowed=_CAUSES, empty=none))
        found.append(
            _column(f"cause_{place}_p", "Its probability.", "number", unit="1", allowed=_SHARE, empty=none)
        )
    return tuple(found)


TICKETS: Final = Dataset(
    name="tickets",
    meaning="One row for each ticket: one suspected physical fault of one vehicle.",
    columns=(
        _column("ticket", "Number of the ticket, never reused.", "id"),
        *_WHO,
        _column("status", "Where the ticket stands.", "text", allowed=_STATUS),
        _column("raised_at", "When it was raised.", "time"),
        _column("updated_at", "When it last changed.", "time"),
        _column("closed_at", "When it was closed.", "time", empty="still open"),
        _column("parameter", "Parameter of the loudest series.", "text", allowed=_CODES, empty=_NO_SERIES),
        _column("state", "Operating state of that series.", "text", allowed=_STATES, empty=_NO_SERIES),
        _column("direction", "Way it moved.", "text", allowed="up, down", empty=_NO_SERIES),
        _column("value", "Estimate on the as-of date.", "number", unit=_BY_PARAMETER, empty=_NO_SERIES),
        _column("baseline", "The vehicle's own normal.", "number", unit=_BY_PARAMETER, empty=_NO_SERIES),
        _column("limit_low", "The sheet's lower limit.", "number", unit=_BY_PARAMETER, empty=_NO_LIMIT),
        _column("limit_high", "The sheet's upper limit.", "number", unit=_BY_PARAMETER, empty=_NO_LIMIT),
        _column("drift_per_week", "Slope.", "number", unit=f"{_BY_PARAMETER}, a week", empty=_NO_SERIES),
        *_REACHES,
        _column(
            "probability_30d",
            "Probability of a drivability complaint or of leaving the limits within 30 days.",
            "number",
            unit="1",
            allowed=_SHARE,
            empty=_NO_SERIES,
        ),
        _column("priority", "How soon it wants the vehicle.", "text", allowed=_PRIORITY),
        *_causes(),
        _column("evidence", "The evidence sentence, in metric units.", "text", empty=_NO_SERIES),
    ),
)

TRENDS: Final = Dataset(
    name="trends",
    meaning="One row for each followed series of each vehicle on the as-of date, whether or not it moved.",
    columns=(
        _column("as_of", "Day of the evaluation.", "date"),
        *_WHO,
        _column("series", "The series, `FORMULA@state`; `ln X` is held as 100 times the logarithm.", "text"),
        _column("parameter", "Parameter that stands for it.", "text", allowed=_CODES, empty="a switch"),
        _column("state", "Operating state.", "text", allowed=_STATES),
        _column("unit", "Unit of the values in this row.", "text"),
        _column("direction", "Way it moved.", "text", allowed="up, down"),
        _column("value", "Estimate on the as-of date.", "number", unit=_IN_UNIT),
        _column("baseline", "The vehicle's own normal.", "number", unit=_IN_UNIT),
        _column("baseline_from", "First day of the readings behind the baseline.", "date"),
        _column("baseline_to", "Last day of the readings behind the baseline.", "date"),
        _column("baseline_days", "Days with readings behind the baseline.", "integer", unit="d"),
        _column("recent_days", "Days with readings behind the value.", "integer", unit="d"),
        _column("noise", "Standard deviation of one day's adjusted reading.", "number", unit=_IN_UNIT),
        _column("drift_per_week", "Slope.", "number", unit="see `unit`, a week"),
        _column("drift_low", "Lower end of its 80 % interval.", "number", unit="see `unit`, a week"),
        _column("drift_high", "Upper end of its 80 % interval.", "number", unit="see `unit`, a week"),
        _column("strength", "Distance from the baseline in standard errors.", "number", unit="1"),
        _column("limit_low", "The sheet's lower limit.", "number", unit=_IN_UNIT, empty=_NO_LIMIT),
        _column("limit_high", "The sheet's upper limit.", "number", unit=_IN_UNIT, empty=_NO_LIMIT),
        _column("outside", "Whether it lies outside the limits.", "boolean", allowed="true, false"),
        *_REACHES,
        _column("peers_low", "10 % point of like vehicles.", "number", unit=_IN_UNIT, empty="fewer than 8"),
        _column("peers_high", "90 % point of like vehicles.", "number", unit=_IN_UNIT, empty="fewer than 8"),
        _column("peers", "How many like vehicles there are.", "integer", unit="1"),
        _column("segment_from", "First day of the baseline's segment.", "date"),
        _column(
            "segment_reason",
            "Why the segment began.",
            "text",
            allowed="first_data, repair, memory_cleared, battery_replaced, logger_changed, break_found",
        ),
    ),
)

_NO_FINDING = "no finding on the as-of date"

RISK: Final = Dataset(
    name="risk",
    meaning="One row for each vehicle on the as-of date: where it stands, and what is at stake.",
    columns=(
        _column("as_of", "Day of the evaluation.", "date"),
        *_WHO,
        _column(
            "standing",
            "Where the vehicle stands: its worst ticket or finding, or why it cannot be judged.",
            "text",
            allowed="pull_in_now, plan_this_week, watch, steady, cannot_say",
        ),
        _column("reason", "Why, as a code.", "text", empty="steady: there is no reason to give"),
        _column("last_reading_on", "Day of the newest reading.", "date", empty="never sent a reading"),
        _column("readings_28d", "Readings in the last 28 days.", "integer", unit="1"),
        _column("open_tickets", "Open tickets.", "integer", unit="1"),
        _column("ticket", "The most urgent open ticket.", "id", empty="no open ticket"),
        _column("due_by", "Day on which that ticket is due.", "date", empty="no open ticket, or no due day"),
        _column(
            "probability_30d",
            "Probability of a drivability complaint or of leaving the limits within 30 days.",
            "number",
            unit="1",
            allowed=_SHARE,
            empty=_NO_FINDING,
        ),
        _column(
            "probability_crossing",
            "Probability of leaving the limits within 30 days.",
            "number",
            unit="1",
            allowed=_SHARE,
            empty=_NO_FINDING,
        ),
        _column(
            "probability_fault",
            "Probability that an inspection would find something.",
            "number",
            unit="1",
            allowed=_SHARE,
            empty=_NO_FINDING,
        ),
        _column("cause_1", "Likeliest cause.", "text", allowed=_CAUSES, empty=_NO_FINDING),
        _column("cause_1_p", "Its probability.", "number", unit="1", allowed=_SHARE, empty=_NO_FINDING),
        _column(
            "cost_at_risk",
            "Probability within 30 days times (unplanned less planned cost), labour included.",
            "money",
            unit="see `currency`",
            empty="no cost table, or no finding",
        ),
        _column("currency", "ISO 4217 code.", "text", empty="no cost table"),
    ),
)

BUDGET: Final = Dataset(
    name="budget",
    meaning="One row for each month, depot and cause: expected cost in the twelve months ahead. "
    "Means add up over rows; percentiles do not. Rows without depot and cause are the month's totals.",
    columns=(
        _column("as_of", "Day of the forecast.", "date"),
        _column("month", "First day of the month that is forecast.", "date"),
        _column("depot", "Depot.", "text", empty="all depots, or vehicles without one"),
        _column("cause", "Cause.", "text", allowed=_CAUSES, empty="all causes"),
        _column("mean", "Expected cost.", "money", unit="see `currency`"),
        _column("p10", "10 % point of the cost.", "money", unit="see `currency`"),
        _column("p50", "Median of the cost.", "money", unit="see `currency`"),
        _column("p90", "90 % point of the cost.", "money", unit="see `currency`"),
        _column("visits", "Expected workshop visits.", "number", unit="1"),
        _column("currency", "ISO 4217 code.", "text"),
        _column("faults_known", "Faults on record behind the rate.", "integer", unit="1"),
        _column("draws", "Simulated years behind the percentiles.", "integer", unit="1"),
        _column("seed", "Seed of the simulation: the same seed repeats it.", "integer", unit="1"),
        _column("cost_revision", "Revision of the cost table.", "integer", unit="1"),
    ),
)

_NO_PRICE = "no repair has its cost on record"
_NO_KM = "no odometer tells"
_NO_HOURS = "no vehicle reports time since engine start"

COST_PER_CAUSE: Final = Dataset(
    name="cost_per_cause",
    meaning="Two rows for each cause, planned and unplanned: what repairs done in the period have cost. "
    "Costs add up to the period's; causes with fewer than five repairs are pooled.",
    columns=(
        _column("as_of", "Day up to which it was counted.", "date"),
        _column("first_day", "First day of the period.", "date"),
        _column("last_day", "Last day of the period.", "date"),
        _column("causes", "Cause; several, with commas, where pooled.", "text", allowed=_CAUSES),
        _column(
            "pooled",
            "Whether causes with few repairs are counted together.",
            "boolean",
            allowed="true, false",
        ),
        _column(
            "visit",
            "Whether a complaint came within the 30 days before.",
            "text",
            allowed="planned, unplanned",
        ),
        _column("repairs", "Repairs.", "integer", unit="1"),
        _column("repairs_priced", "Those with parts and labour on record.", "integer", unit="1"),
        _column("cost", "What those cost together.", "money", unit="see `currency`"),
        _column("median", "Median of their costs.", "money", unit="see `currency`", empty=_NO_PRICE),
        _column("least", "Cheapest.", "money", unit="see `currency`", empty=_NO_PRICE),
        _column("most", "Dearest.", "money", unit="see `currency`", empty=_NO_PRICE),
        _column("cost_100000_km", "Cost per 100,000 km.", "money", unit="see `currency`", empty=_NO_KM),
        _column(
            "cost_1000_h", "Cost per 1,000 engine hours.", "money", unit="see `currency`", empty=_NO_HOURS
        ),
        _column("currency", "ISO 4217 code.", "text"),
        _column("distance_km", "Distance in the period, all vehicles.", "number", unit="km", empty=_NO_KM),
        _column("distance_known", "Share of vehicle-days it rests on.", "number", unit="1", allowed=_SHARE),
        _column("engine_hours", "Engine hours, at least.", "number", unit="h", empty=_NO_HOURS),
        _column(
            "engine_hours_known", "Share of vehicle-days they rest on.", "number", unit="1", allowed=_SHARE
        ),
        _column("vehicle_days", "Vehicle-days in service.", "integer", unit="d"),
    ),
)

_MEASURES = "fault_found, complaints_missed, warning_days, comebacks, false_tickets, came_true, brier_score"
_NOT_STATED = "any but came_true"
_ALL_WORK = "all together, or a figure without one"

TRACK_RECORD: Final = Dataset(
    name="track_record",
    meaning="One row for each figure of the track record, with its number and 95 % interval. "
    "Fewer than ten are too few to say.",
    columns=(
        _column("as_of", "Day up to which it was counted.", "date"),
        _column("measure", "Which figure.", "text", allowed=_MEASURES),
        _column("cause", "Cause that the repairs name.", "text", allowed=_CAUSES, empty=_ALL_WORK),
        _column("work", "Kind of work.", "text", allowed="repair, battery_replaced", empty=_ALL_WORK),
        _column(
            "method", "Name and version of the method that stated it.", "text", empty="all, or not stated"
        ),
        _column(
            "stated_low",
            "Lower edge of the stated probability.",
            "number",
            unit="1",
            allowed=_SHARE,
            empty=_NOT_STATED,
        ),
        _column(
            "stated_high",
            "Upper edge of the stated probability.",
            "number",
            unit="1",
            allowed=_SHARE,
            empty=_NOT_STATED,
        ),
        _column(
            "stated",
            "Mean of what was stated.",
            "number",
            unit="1",
            allowed=_SHARE,
            empty="nothing stated in this range",
        ),
        _column(
            "n",
            "How many it rests on; for false_tickets inspections that found nothing.",
            "integer",
            unit="1",
        ),
        _column("count", "Those among n that it counts.", "integer", unit="1", empty="no share"),
        _column("value", "The figure.", "number", unit=_IN_UNIT, empty="nothing to count"),
        _column(
            "low", "Lower end of its 95 % interval.", "number", unit=_IN_UNIT, empty="too few, or no interval"
        ),
        _column(
            "high",
            "Upper end of its 95 % interval.",
            "number",
            unit=_IN_UNIT,
            empty="too few, or no interval",
        ),
        _column("unit", "Unit of value, low and high.", "text"),
    ),
)

_EXACT: Final[Mapping[str, str]] = {"code": ", ".join(FUEL_SYSTEM), "flag": "true, false"}
_TYPES: Final[Mapping[str, Type]] = {"code": "text", "flag": "boolean"}


def _parameter_columns() -> tuple[Column, ...]:
    return tuple(
        _column(
            code,
            f"{known.quantity[0].upper()}{known.quantity[1:]}.",
            _TYPES.get(known.kind, "number"),
            unit="" if known.kind in _TYPES else known.unit,
            allowed=_EXACT.get(known.kind, f"{known.low:g} to {known.high:g}"),
            empty="not reported",
        )
        for code, known in PARAMETERS.items()
    )


_SWITCH: Final = "true, false"

SNAPSHOTS: Final = Dataset(
    name="snapshots",
    meaning="One row for each stored snapshot, every value in the parameter's default unit.",
    columns=(
        _column("vehicle", "The fleet's own number.", "id"),
        _column("taken_at", "When it was taken.", "time"),
        _column("received_at", "When it was received.", "time"),
        _column(
            "state", "Operating state that it supports.", "text", allowed=_STATES, empty="none: no trend"
        ),
        _column("state_claimed", "Operating state that it declared.", "text", empty="declared none"),
        _column("device", "Device that took it.", "id", empty="not reported"),
        _column("id", "Its own number.", "id", empty="not given: vehicle, time and device identify it"),
        _column("odometer_km", "Odometer.", "number", unit="km", empty="not reported"),
        _column("ac", "Air conditioning on.", "boolean", allowed=_SWITCH, empty="not reported"),
        _column("power_steering", "Steering pressure on.", "boolean", allowed=_SWITCH, empty="not reported"),
        _column("in_gear", "In gear.", "boolean", allowed=_SWITCH, empty="not reported"),
        *_parameter_columns(),
    ),
)

DATASETS: Final[Mapping[str, Dataset]] = {
    dataset.name: dataset
    for dataset in (TICKETS, TRENDS, RISK, BUDGET, SNAPSHOTS, COST_PER_CAUSE, TRACK_RECORD)
}
"""Every dataset by name."""


def dataset_of(name: str) -> Dataset:
    """Find a dataset.

    Raises
    ------
    UnknownDataset
        There is none of that name.
    """
    if name not in DATASETS:
        raise UnknownDataset(name, tuple(DATASETS))
    return DATASETS[name]
