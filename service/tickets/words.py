"""Words for people: quantities, states, days, and numbers in metric or US units."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final, Literal

from ingest.parameters import PARAMETERS

Units = Literal["metric", "us"]

_EPOCH: Final = date(1970, 1, 1)
_MONTHS: Final = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")

STATE_WORDS: Final[Mapping[str, str]] = {
    "koeo_soak": "with key on, engine off, after a soak",
    "koeo": "with key on, engine off",
    "crank": "while cranking",
    "cold_idle": "at cold idle",
    "warm_idle": "at warm idle",
    "cruise": "at cruise",
}
"""Operating states in words."""

_SWITCH_WORDS: Final = {
    "ac": "share of readings with air conditioning on",
    "power_steering": "share of readings with steering pressure on",
    "in_gear": "share of readings in gear",
}

_UNIT_TEXT: Final = {"degC": "°C", "degF": "°F", "1": "", "bool": ""}
_DECIMALS: Final = {
    "%": 1,
    "V": 2,
    "degC": 1,
    "degF": 1,
    "kPa": 1,
    "inHg": 2,
    "1/min": 0,
    "g/s": 2,
    "lb/min": 3,
    "km/h": 0,
    "mph": 0,
    "km": 0,
    "mi": 0,
    "ms": 2,
    "deg": 1,
    "s": 0,
    "1": 2,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Us:
    unit: str
    factor: float
    offset: float = 0.0


# 1 inHg = 3.386389 kPa (conventional inch of mercury), 1 lb = 453.59237 g, 1 mi = 1.609344 km: NIST SP 811.
_US: Final = {
    "degC": _Us(unit="degF", factor=1.8, offset=32.0),
    "kPa": _Us(unit="inHg", factor=1 / 3.386389),
    "g/s": _Us(unit="lb/min", factor=60 / 453.59237),
    "km/h": _Us(unit="mph", factor=1 / 1.609344),
    "km": _Us(unit="mi", factor=1 / 1.609344),
}


def formula_of(series: str) -> str:
    """Give the part of a series' name before the state."""
    return series.rpartition("@")[0] or series


def is_difference(series: str) -> bool:
    """Tell whether a series is a gap between two readings, so that 15 degC is 27 degF."""
    return "-" in formula_of(series)


def is_relative(series: str) -> bool:
    """Tell whether a series is held as 100 ln x, so that only its change means something [%]."""
    return formula_of(series).startswith("ln ")


def quantity(series: str) -> str:
    """Name what a series measures, with its code.

    Examples
    --------
    >>> quantity("IAC@warm_idle")
    "idle air control, share of the bypass valve's opening (IAC)"
    >>> quantity("ECT-IAT@koeo_soak")
    'gap between engine coolant temperature and intake air temperature (ECT-IAT)'
    """
    formula = formula_of(series)
    if formula in _SWITCH_WORDS:
        return _SWITCH_WORDS[formula]
    if formula.startswith("|") and formula.endswith("|"):
        return f"swing of {_plain(formula[1:-1])} ({formula[1:-1]})"
    if formula.startswith("ln "):
        inner = formula[3:]
        if "/" in inner:
            one, other = inner.split("/", 1)
            return f"{_plain(one)} against {_plain(other)} ({inner})"
        return f"{_plain(inner)} ({inner})"
    if "-" in formula:
        one, other = formula.split("-", 1)
        return f"gap between {_plain(one)} and {_plain(other)} ({formula})"
    return f"{_plain(formula)} ({formula})"


def state_words(state: str) -> str:
    """Put an operating state in words; an unknown code stands as it is."""
    return STATE_WORDS.get(state, state)


def short_name(series: str) -> str:
    """Name a series briefly: code and state."""
    formula, _, state = series.rpartition("@")
    return f"{formula.removeprefix('ln ')} {state_words(state)}" if formula else series


def unit_text(unit: str, units: Units = "metric") -> str:
    """Write a unit as people read it; empty for a bare number."""
    shown = _US[unit].unit if units == "us" and unit in _US else unit
    return _UNIT_TEXT.get(shown, shown)


def convert(value: float, unit: str, units: Units = "metric", *, difference: bool = False) -> float:
    """Turn a value in its default unit into the one shown; differences take no offset."""
    if units == "metric" or unit not in _US:
        return value
    us = _US[unit]
    return value * us.factor + (0.0 if difference else us.offset)


def number(
    value: float, unit: str, units: Units = "metric", *, difference: bool = False, signed: bool = False
) -> str:
    """Write a value with sensible decimals and without its unit; never minus zero.

    Examples
    --------
    >>> number(15.0, "degC", "us", difference=True), number(15.0, "degC", "us"), number(-0.01, "%")
    ('27.0', '59.0', '0.0')
    """
    shown_unit = _US[unit].unit if units == "us" and unit in _US else unit
    text = f"{convert(value, unit, units, difference=difference):.{_DECIMALS.get(shown_unit, 2)}f}"
    if float(text) == 0:
        text = text.lstrip("-")
    return f"+{text}" if signed and float(text) > 0 else text


def with_unit(text: str, unit: str, units: Units = "metric") -> str:
    """Put the unit behind a written number."""
    shown = unit_text(unit, units)
    return f"{text} {shown}" if shown else text


def relative_change(before: float, after: float) -> float:
    """Turn two values of 100 ln x into the change they stand for [%]."""
    return 100.0 * (math.exp((after - before) / 100.0) - 1.0)


def to_date(day: int) -> date:
    """Turn days since 1970-01-01 into a date."""
    return _EPOCH + timedelta(days=int(day))


def to_day(on: date) -> int:
    """Turn a date into days since 1970-01-01."""
    return (on - _EPOCH).days


def date_words(on: date) -> str:
    """Write a date, `22 Jun 2031`."""
    return f"{on.day} {_MONTHS[on.month - 1]} {on.year}"


def day_words(day: int) -> str:
    """Write days since 1970-01-01 as a date, `22 Jun 2031`."""
    return date_words(to_date(day))


def range_words(first: int, last: int) -> str:
    """Write a span of days.

    Examples
    --------
    >>> from datetime import date
    >>> range_words(to_day(date(2031, 6, 9)), to_day(date(2031, 6, 22)))
    '9-22 Jun 2031'
    """
    start, end = to_date(first), to_date(last)
    if start == end:
        return date_words(end)
    if (start.year, start.month) == (end.year, end.month):
        return f"{start.day}-{date_words(end)}"
    if start.year == end.year:
        return f"{start.day} {_MONTHS[start.month - 1]}-{date_words(end)}"
    return f"{date_words(start)}-{date_words(end)}"


def counted(count: int, noun: str) -> str:
    """Write a count with its noun, `1 day`, `5 days`."""
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def listed(words: tuple[str, ...], most: int = 6) -> str:
    """Join words with commas; what does not fit is counted."""
    if len(words) <= most:
        return ", ".join(words)
    return f"{', '.join(words[:most])} and {len(words) - most} more"


def _plain(code: str) -> str:
    return PARAMETERS[code].quantity if code in PARAMETERS else code
