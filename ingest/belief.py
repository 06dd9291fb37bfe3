"""Is a readable snapshot believable? Times, ranges, and repeats inside one batch.

What only the store can know (is the vehicle registered, is the snapshot there already) is asked there.
"""

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import CODES, PARAMETERS
from ingest.times import EPOCH, write_time

FUTURE_US: Final = 5 * 60 * 1_000_000
"""A clock may be this far ahead [microseconds]; five minutes, chosen by us: what loggers drift in months."""

_HOUR_US = 3_600 * 1_000_000


def _micros(moment: datetime) -> int:
    return int((moment - EPOCH).total_seconds()) * 1_000_000


EARLIEST_US: Final = _micros(datetime(1996, 1, 1, tzinfo=UTC))
"""No vehicle offered these readings earlier; clocks that lost power start at 1970 or 1980."""

_MILLENNIUM_US = _micros(datetime(2000, 1, 1, tzinfo=UTC))
RESET_CLOCK_US: Final = (_MILLENNIUM_US - 14 * _HOUR_US, _MILLENNIUM_US + 36 * _HOUR_US)
"""The day 2000-01-01 in every time zone (UTC+14 to UTC-12): where other clocks start that lost power."""

LOWS: Final = np.array([PARAMETERS[code].low for code in CODES])
HIGHS: Final = np.array([PARAMETERS[code].high for code in CODES])
ALLOWANCES: Final = np.array([PARAMETERS[code].step / 2 for code in CODES])
"""Half an encoding step: a sender may have rounded the last digit of an end value up."""


def find_time_faults(taken_us: NDArray[np.int64], now_us: int) -> list[tuple[int, str, str]]:
    """Find times that cannot be true.

    Parameters
    ----------
    taken_us : int64 array of shape (n,)
        Times taken [microseconds since 1970-01-01T00:00Z].
    now_us : int
        Time of arrival, same unit.

    Returns
    -------
    list of (row, code, detail)
        ``future-time`` or ``clock-not-set``.

    Examples
    --------
    >>> find_time_faults(np.array([0, 10**15]), now_us=10**15)
    [(0, 'clock-not-set', '1970-01-01T00:00:00Z is what a clock shows that was never set.')]
    >>> find_time_faults(np.array([10**15 + 400_000_001]), now_us=10**15 + 7)[0][2]
    '2001-09-09T01:53:20Z lies more than 5 minutes ahead of the time of arrival 2001-09-09T01:46:40Z.'
    """
    future = taken_us > now_us + FUTURE_US
    unset = taken_us < EARLIEST_US
    unset |= (taken_us >= RESET_CLOCK_US[0]) & (taken_us < RESET_CLOCK_US[1])
    found: list[tuple[int, str, str]] = []
    for row in np.flatnonzero(unset | future).tolist():
        shown = _second(int(taken_us[row]))
        if unset[row]:
            found.append((row, "clock-not-set", f"{shown} is what a clock shows that was never set."))
        else:
            detail = f"{shown} lies more than 5 minutes ahead of the time of arrival {_second(now_us)}."
            found.append((row, "future-time", detail))
    return found


def _second(us: int) -> str:
    """Write a time to the second: people read it, and the fault is one of minutes or years."""
    return write_time(us - us % 1_000_000)


def lie_outside(values: NDArray[np.float64], column: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Tell which readings no sensor can encode.

    Parameters
    ----------
    values : float64 array of shape (c,)
        Readings in default units.
    column : intp array of shape (c,)
        Parameter of each, a place in `parameters.CODES`.

    Returns
    -------
    bool array of shape (c,)

    Examples
    --------
    >>> lie_outside(np.array([-41.0, 90.0]), np.array([6, 6]))
    array([ True, False])
    """
    allowance = ALLOWANCES[column]
    outside: NDArray[np.bool_] = (values < LOWS[column] - allowance) | (values > HIGHS[column] + allowance)
    return outside


def describe_range(column: int, value: float) -> str:
    """Say in one sentence why a reading is outside its range."""
    parameter = PARAMETERS[CODES[column]]
    return (
        f"{parameter.code} is {value:g} {parameter.unit}; its sensor can encode "
        f"{parameter.low:g} to {parameter.high:g}."
    )


def count_ends(values: NDArray[np.float64]) -> int:
    """Count readings that stand at the sensor's end, which speak of sensor or wiring, not of the engine.

    Parameters
    ----------
    values : float64 array of shape (n, P)
        Readings in default units, order of `parameters.CODES`.

    Examples
    --------
    >>> row = np.full((1, len(CODES)), np.nan)
    >>> row[0, CODES.index("ECT")] = -40
    >>> count_ends(row)
    1
    """
    return sum(
        int(np.count_nonzero(np.abs(values[:, place] - end) <= ALLOWANCES[place]))
        for place, code in enumerate(CODES)
        for end in PARAMETERS[code].stuck_at
    )


def find_repeats(identities: Sequence[object]) -> list[tuple[int, int]]:
    """Find rows that repeat an earlier row's identity.

    Parameters
    ----------
    identities : sequence of hashable, length n
        What makes a snapshot the same one.

    Returns
    -------
    list of (row, first)
        Row and the first row of that identity.

    Examples
    --------
    >>> find_repeats(["a", "b", "a"])
    [(2, 0)]
    """
    if len(set(identities)) == len(identities):
        return []
    first: dict[object, int] = {}
    return [
        (row, first[identity])
        for row, identity in enumerate(identities)
        if first.setdefault(identity, row) != row
    ]
