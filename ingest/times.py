"""Times of the exchange format: RFC 3339 with an offset, as microseconds UTC.

A leap second (``23:59:60`` UTC) is legal in RFC 3339 but has no place in a count of seconds; it is read as
the instant that follows it and counted. ``-00:00`` says that the offset is unknown, so it is refused like a
missing one.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.errors import BadTime

EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
_SECOND_US: Final = 1_000_000
_DAY_US: Final = 86_400 * _SECOND_US
_FORM = re.compile(
    r"\d{4}-\d\d-\d\d[Tt ]\d\d:\d\d:\d\d(?:\.\d+)?(?:[Zz]|[+-]\d\d:\d\d)",
    re.ASCII,
)
_NO_OFFSET = re.compile(r"\d{4}-\d\d-\d\d(?:[Tt ]\d\d:\d\d(?::\d\d(?:\.\d+)?)?)?(?:-00:00)?", re.ASCII)
_DATE = re.compile(r"\d{4}-\d\d-\d\d", re.ASCII)
_SHOWN = 40
_ALLOWED = "times are RFC 3339 with an offset, such as 2031-03-04T06:12:09-05:00"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Times:
    """Times of many rows.

    Parameters
    ----------
    us : int64 array of shape (n,)
        Microseconds since 1970-01-01T00:00Z; 0 where the text is faulty.
    faults : dict of int to BadTime
        Row to what is wrong with its text.
    leap_seconds : int
        How many named a leap second.
    """

    us: NDArray[np.int64]
    faults: dict[int, BadTime]
    leap_seconds: int


def read_times(texts: Sequence[str]) -> Times:
    """Read many times.

    Examples
    --------
    >>> read_times(["1970-01-01T01:00:00+01:00", "yesterday"]).faults[1].code
    'bad-time'
    """
    parse, match, epoch = datetime.fromisoformat, _FORM.fullmatch, EPOCH
    us: list[int] = []
    faults: dict[int, BadTime] = {}
    leaps = 0
    for row, text in enumerate(texts):
        try:
            if match(text) and not text.endswith("-00:00"):
                span = parse(text) - epoch
                us.append(span.days * _DAY_US + span.seconds * _SECOND_US + span.microseconds)
                continue
        except ValueError:
            pass  # the patient reading below finds out why
        try:
            value, leap = _read_patiently(text)
        except BadTime as fault:
            faults[row], value, leap = fault, 0, False
        us.append(value)
        leaps += leap
    return Times(us=np.array(us, dtype=np.int64), faults=faults, leap_seconds=leaps)


def read_time(text: str) -> datetime:
    """Read one time as an aware UTC datetime.

    Raises
    ------
    BadTime
        The text is no RFC 3339 time, or has no offset.

    Examples
    --------
    >>> read_time("1996-12-19T16:39:57-08:00").isoformat()
    '1996-12-20T00:39:57+00:00'
    """
    return EPOCH + timedelta(microseconds=_read_patiently(text)[0])


def read_day(text: str) -> date:
    """Read a date.

    Raises
    ------
    BadTime
        The text is no date of the form YYYY-MM-DD.

    Examples
    --------
    >>> read_day("2031-03-04")
    datetime.date(2031, 3, 4)
    """
    try:
        if _DATE.fullmatch(text):
            return date.fromisoformat(text)
    except ValueError:
        pass  # right form, but no such day: same refusal
    raise BadTime("bad-date", f"{text[:_SHOWN]!r} is no date; dates are YYYY-MM-DD.")


def read_time_or_day(text: str) -> datetime:
    """Read a time with offset, or a plain date as noon UTC.

    Noon UTC is the same calendar day in every zone from UTC-12 to UTC+11, so work noted with a date only
    lands on the right day of its vehicle nearly everywhere.

    Raises
    ------
    BadTime
        Neither a date nor a time with an offset.

    Examples
    --------
    >>> read_time_or_day("2031-03-04").isoformat()
    '2031-03-04T12:00:00+00:00'
    """
    if _DATE.fullmatch(text):
        return datetime.combine(read_day(text), time(12), tzinfo=UTC)
    return read_time(text)


def write_time(us: int) -> str:
    """Write microseconds UTC as RFC 3339.

    Examples
    --------
    >>> write_time(0)
    '1970-01-01T00:00:00Z'
    """
    return (EPOCH + timedelta(microseconds=us)).isoformat().replace("+00:00", "Z")


def _read_patiently(text: str) -> tuple[int, bool]:
    if _NO_OFFSET.fullmatch(text) or text.endswith("-00:00"):
        raise BadTime("time-without-offset", f"{text[:_SHOWN]!r} has no offset from UTC; {_ALLOWED}.")
    if not _FORM.fullmatch(text):
        raise BadTime("bad-time", f"{text[:_SHOWN]!r} is no time; {_ALLOWED}.")
    upper = text.upper()
    leap = upper[17:19] == "60"
    try:
        moment = datetime.fromisoformat(upper[:17] + "59" + upper[19:] if leap else upper)
        span = moment - EPOCH
    except ValueError as error:
        raise BadTime("bad-time", f"{text[:_SHOWN]!r} is no time that exists; {_ALLOWED}.") from error
    us = span.days * _DAY_US + span.seconds * _SECOND_US + span.microseconds
    if not leap:
        return us, False
    second = us // _SECOND_US
    if second % 86_400 != 86_399:
        raise BadTime("bad-time", f"{text[:_SHOWN]!r}: a 60th second exists only at 23:59 UTC; {_ALLOWED}.")
    return (second + 1) * _SECOND_US, True
