"""Numbers, dates and units as people read them. Rounding happens here, last, and nowhere else."""

from collections.abc import Callable, Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Final

from dashboards.frame import Units

_DECIMALS: Final[Mapping[str, int]] = {
    "%": 1, "V": 2, "1/min": 0, "degC": 1, "degF": 1, "kPa": 1, "inHg": 2, "g/s": 2, "lb/min": 3,
    "ms": 2, "s": 0, "km": 0, "mi": 0, "km/h": 0, "mph": 0, "deg": 1, "1": 2,
}  # fmt: skip
"""Decimals by unit: about the resolution of the sensors' encodings, chosen by us."""

_SHOWN: Final[Mapping[str, str]] = {"degC": "°C", "degF": "°F", "1": "", "bool": ""}

_US: Final[Mapping[str, tuple[str, float, float]]] = {
    "degC": ("degF", 1.8, 32.0),
    "kPa": ("inHg", 1 / 3.386389, 0.0),
    "g/s": ("lb/min", 60 / 453.59237, 0.0),
    "km/h": ("mph", 1 / 1.609344, 0.0),
    "km": ("mi", 1 / 1.609344, 0.0),
}
"""US unit, factor and offset. Pound, mile: exact by definition; inch of mercury at 0 °C: NIST SP 811."""


NOTHING: Final = "—"
"""What stands where there is nothing to say."""


NARROW: Final = "\u202f"
"""Narrow space that does not break, between thousands."""

GROUPED_FROM: Final = 10_000
"""Numbers from here on are grouped; shorter ones read well without."""


def shown_unit(unit: str, units: Units = "metric") -> str:
    """Name a unit as pages write it.

    Examples
    --------
    >>> shown_unit("degC", "us"), shown_unit("V")
    ('°F', 'V')
    """
    code = _US[unit][0] if units == "us" and unit in _US else unit
    return _SHOWN.get(code, code)


def converted(value: float, unit: str, units: Units = "metric", *, difference: bool = False) -> float:
    """Turn a value in its default unit into the unit that is shown; a difference has no offset.

    Examples
    --------
    >>> converted(15, "degC", "us"), converted(15, "degC", "us", difference=True)
    (59.0, 27.0)
    """
    if units == "metric" or unit not in _US:
        return value
    _, factor, offset = _US[unit]
    return value * factor + (0.0 if difference else offset)


def _decimals(unit: str, units: Units) -> int:
    return _DECIMALS.get(_US[unit][0] if units == "us" and unit in _US else unit, 2)


def _rounded(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}"
    if float(text) == 0:
        return text.lstrip("-")
    return f"{value:,.{decimals}f}".replace(",", NARROW) if abs(value) >= GROUPED_FROM else text


def number(value: float | None, unit: str, units: Units = "metric", kind: str = "level") -> str:
    """Write a value without its unit; nothing known is a dash.

    Examples
    --------
    >>> number(-4.68, "%"), number(None, "V")
    ('-4.7', '—')
    """
    if value is None:
        return NOTHING
    return _rounded(converted(value, unit, units, difference=kind != "level"), _decimals(unit, units))


def quantity(value: float | None, unit: str, units: Units = "metric", kind: str = "level") -> str:
    """Write a value with its unit; any kind but `level` is converted as a difference.

    Examples
    --------
    >>> quantity(90, "degC", "us"), quantity(26, "%")
    ('194.0 °F', '26.0 %')
    """
    if value is None:
        return NOTHING
    return f"{number(value, unit, units, kind)} {shown_unit(unit, units)}".rstrip()


def difference(value: float | None, unit: str, units: Units = "metric") -> str:
    """Write a difference or a slope with sign and unit.

    Examples
    --------
    >>> difference(15, "degC", "us"), difference(-0.514, "%")
    ('+27.0 °F', '-0.5 %')
    """
    if value is None:
        return NOTHING
    text = _rounded(converted(value, unit, units, difference=True), _decimals(unit, units))
    sign = "" if text.startswith("-") or float(text) == 0 else "+"
    return f"{sign}{text} {shown_unit(unit, units)}".rstrip()


def day(value: date | None) -> str:
    """Write a day with its year.

    Examples
    --------
    >>> day(date(2031, 9, 7))
    '7 Sep 2031'
    """
    return NOTHING if value is None else f"{value.day} {value:%b %Y}"


def short_day(value: date | None) -> str:
    """Write a day without its year, where the year stands near by."""
    return NOTHING if value is None else f"{value.day} {value:%b}"


def moment(value: datetime | None) -> str:
    """Write a time to the minute, as it came in; in an hour that the clock runs twice, with its name.

    Examples
    --------
    >>> moment(datetime(2031, 9, 7, 2, 0))
    '7 Sep 2031 02:00'
    >>> from zoneinfo import ZoneInfo
    >>> moment(datetime(2031, 11, 2, 1, 30, tzinfo=ZoneInfo("America/Chicago")))
    '2 Nov 2031 01:30 CDT'
    >>> moment(datetime(2031, 11, 2, 1, 30, fold=1, tzinfo=ZoneInfo("America/Chicago")))
    '2 Nov 2031 01:30 CST'
    """
    if value is None:
        return NOTHING
    twice = value.replace(fold=0).utcoffset() != value.replace(fold=1).utcoffset()
    return f"{day(value)} {value:%H:%M}" + (f" {value.tzname()}" if twice else "")


def hours(value: float | None) -> str:
    """Write hours with one decimal, as a workshop plans them."""
    return NOTHING if value is None else f"{value:.1f} h"


def minutes(value: float | None) -> str:
    """Write minutes, whole."""
    return NOTHING if value is None else f"{value:.0f} min"


def share(value: float | None) -> str:
    """Write a probability or share as whole per cent; tiny and near-certain ones say so.

    Examples
    --------
    >>> share(0.304), share(0.001), share(0.9999)
    ('30 %', 'under 1 %', 'over 99 %')
    """
    if value is None:
        return NOTHING
    if 0 < value < 0.01:
        return "under 1 %"
    if 0.99 < value < 1:
        return "over 99 %"
    return f"{value * 100:.0f} %"


def money(value: float | None, currency: str) -> str:
    """Write a sum in whole units with narrow spaces between thousands.

    Examples
    --------
    >>> money(12345.4, "EUR").replace(chr(0x202f), "_")
    'EUR 12_345'
    """
    return NOTHING if value is None else f"{currency} {value:,.0f}".replace(",", NARROW)


def cents(value: float | Decimal | None, currency: str) -> str:
    """Write a sum to the cent, with narrow spaces between thousands.

    Examples
    --------
    >>> cents(Decimal("12345.40"), "EUR").replace(chr(0x202f), "_"), cents(None, "EUR")
    ('EUR 12_345.40', '—')
    """
    return NOTHING if value is None else f"{currency} {value:,.2f}".replace(",", NARROW)


def plain(value: float | None, decimals: int = 1) -> str:
    """Write a bare number with narrow spaces between thousands.

    Examples
    --------
    >>> plain(-0.04), plain(12345.6, 0).replace(chr(0x202f), "_")
    ('0.0', '12_346')
    """
    if value is None:
        return NOTHING
    text = f"{value:,.{decimals}f}".replace(",", NARROW)
    return text.lstrip("-") if not text.strip("-0.") else text


def month(value: date | None) -> str:
    """Write a month.

    Examples
    --------
    >>> month(date(2031, 9, 1))
    'Sep 2031'
    """
    return NOTHING if value is None else f"{value:%b %Y}"


def count(value: int, one: str, many: str = "") -> str:
    """Write a number with its noun.

    Examples
    --------
    >>> count(1, "ticket"), count(0, "ticket"), count(2, "day with data", "days with data")
    ('1 ticket', '0 tickets', '2 days with data')
    """
    return f"{value:,} ".replace(",", NARROW) + (one if value == 1 else many or one + "s")


FILTERS: Final[Mapping[str, Callable[..., Any]]] = {
    "number": number,
    "quantity": quantity,
    "difference": difference,
    "unit": shown_unit,
    "day": day,
    "short_day": short_day,
    "moment": moment,
    "hours": hours,
    "minutes": minutes,
    "share": share,
    "money": money,
    "count": count,
    "cents": cents,
    "plain": plain,
    "month": month,
}
"""Names by which templates reach these functions."""
