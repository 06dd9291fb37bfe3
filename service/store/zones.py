"""Local calendar days of many moments at once."""

from functools import lru_cache
from typing import Final
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np
from numpy.typing import NDArray

from service.store.columns import from_us

DAY_US: Final = 86_400_000_000
WIDEST_OFFSET_US: Final = 15 * 3_600_000_000
"""No time zone is further from UTC than 14 hours (IANA time zone database); one hour of room."""


def is_zone(name: str) -> bool:
    """Tell whether a name is in the IANA time zone database."""
    try:
        ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return False
    return True


def local_days(taken_us: NDArray[np.int64], zone: str) -> NDArray[np.int32]:
    """Give the local calendar day of each moment.

    Parameters
    ----------
    taken_us : int64 array of shape (n,)
        [microseconds since 1970-01-01T00:00Z]
    zone : str
        IANA name.

    Returns
    -------
    int32 array of shape (n,)
        [days since 1970-01-01]
    """
    utc_days = taken_us // DAY_US
    offsets = np.empty(len(taken_us), dtype=np.int64)
    different, place = np.unique(utc_days, return_inverse=True)
    for number, utc_day in enumerate(different.tolist()):
        here = place == number if len(different) > 1 else slice(None)
        offset = _offset_of_day(zone, utc_day)
        if offset is None:  # the clock changes within this UTC day
            offsets[here] = [_offset_us(zone, moment) for moment in taken_us[here].tolist()]
        else:
            offsets[here] = offset
    return ((taken_us + offsets) // DAY_US).astype(np.int32)


@lru_cache(maxsize=100_000)
def _offset_of_day(zone: str, utc_day: int) -> int | None:
    """Give the offset from UTC that holds for a whole UTC day [us]; None where it changes within."""
    first = _offset_us(zone, utc_day * DAY_US)
    last = _offset_us(zone, (utc_day + 1) * DAY_US - 1)
    return first if first == last else None


def _offset_us(zone: str, moment_us: int) -> int:
    offset = from_us(moment_us).astimezone(ZoneInfo(zone)).utcoffset()
    if offset is None:  # cannot happen for an aware time; mypy cannot know
        raise ValueError(f"The zone {zone!r} has no offset.")
    return round(offset.total_seconds() * 1_000_000)
