"""Residual histories in a form from which any window's sums are two look-ups.

Observations stay flat; running sums over them and a pointer for each vehicle, series and day make the
sums over any window of any series a subtraction. A nightly evaluation and a replay of a year use the same
arrays.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.series import SERIES, Observations

CLIP_READINGS: Final = 11
"""Most readings whose median decides what is wild; chosen by us: it outvotes five, as wild readings come in
clusters on some loggers and an odd tank of fuel is read three to five times."""

CLIP_LEAST: Final = 7
"""Least readings for it, however old; chosen by us: it outvotes three."""

CLIP_DAYS: Final = 21
"""Beyond the least only readings so fresh take part, so that a vehicle that reports seldom is not deaf to a
fault for months; chosen by us: odd tanks are gone by then."""

WILD: Final = 2.5
"""Noise of one reading beyond that median at which a reading is pulled in; chosen by us."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sums:
    """Sums over one window of every vehicle and series, each of shape (V, S).

    Days are counted from the history's first day.
    """

    count: NDArray[np.float64]
    day: NDArray[np.float64]
    day_squared: NDArray[np.float64]
    value: NDArray[np.float64]
    day_value: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class History:
    """Running sums and pointers.

    Parameters
    ----------
    first_day, days : int
        The covered days are `first_day` to `first_day + days - 1`.
    begins : int64 array of shape (V, S)
        Observations before each vehicle's series.
    offset : uint16 array of shape (V, S, days + 1)
        Observations of the series before each day; no series has more than two a day.
    running : float64 array of shape (k + 1, 5)
        Running sums of 1, day, day squared, value, day x value over usable observations; the five lie side
        by side because they are always read together.
    """

    first_day: int
    days: int
    begins: NDArray[np.int64]
    offset: NDArray[np.uint16]
    running: NDArray[np.float64]

    def before(
        self, day: NDArray[np.int64] | NDArray[np.int32] | int, rows: NDArray[np.int64] | None = None
    ) -> NDArray[np.int64]:
        """Give the number of observations before a day of each series of some vehicles, all by default.

        Returns
        -------
        int64 array of shape (len(rows), S)
        """
        vehicles = np.arange(len(self.begins)) if rows is None else rows
        return self.place(vehicles[:, None], np.arange(len(SERIES))[None, :], day)

    def place(
        self,
        vehicle: NDArray[np.int64],
        series: NDArray[np.int64],
        day: NDArray[np.int64] | NDArray[np.int32] | int,
    ) -> NDArray[np.int64]:
        """Give the number of observations before a day of each of some series, in the shape of all three."""
        cell = vehicle * len(SERIES) + series
        within = np.clip(np.asarray(day) - self.first_day, 0, self.days)
        # One flat look-up is twice as fast as one by three places.
        found: NDArray[np.int64] = (
            self.begins.ravel()[cell] + self.offset.ravel()[cell * (self.days + 1) + within]
        )
        return found

    def values(self, rows: NDArray[np.int64]) -> NDArray[np.float64]:
        """Give the residuals of some observations as they count, 0 where they do not; shape (len(rows),)."""
        counted: NDArray[np.float64] = self.running[rows + 1, 3] - self.running[rows, 3]
        return counted

    def sums(self, low: NDArray[np.int64], high: NDArray[np.int64]) -> Sums:
        """Sum over the observations from pointer `low` up to, not including, `high`."""
        taken = self.running[np.maximum(high, low)] - self.running[low]
        return Sums(
            count=taken[..., 0],
            day=taken[..., 1],
            day_squared=taken[..., 2],
            value=taken[..., 3],
            day_value=taken[..., 4],
        )


def middle_of_windows(window: NDArray[np.float64], present: NDArray[np.int64]) -> NDArray[np.float64]:
    """Give the median of each row of readings.

    Parameters
    ----------
    window : float64 array of shape (n, w)
        Infinite where a row has fewer readings; sorted in place.
    present : int64 array of shape (n,)
        Readings of each row, at least one.

    Returns
    -------
    float64 array of shape (n,)

    Examples
    --------
    >>> middle_of_windows(np.array([[3.0, 1.0, np.inf], [5.0, 9.0, 7.0]]), np.array([2, 3])).tolist()
    [2.0, 7.0]
    """
    window.sort(axis=1)
    row = np.arange(len(window))
    middle: NDArray[np.float64] = (window[row, (present - 1) // 2] + window[row, present // 2]) / 2
    return middle


def build_history(
    seen: Observations,
    residual: NDArray[np.float64],
    usable: NDArray[np.bool_],
    *,
    vehicles: int,
    days: tuple[int, int],
) -> History:
    """Build running sums over residuals.

    Parameters
    ----------
    seen : Observations
        Sorted by vehicle, series, day.
    residual : float64 array of shape (k,)
    usable : bool array of shape (k,)
        Observations that count.
    vehicles : int
    days : (first, last)
        Days to cover; every observation lies within.

    Returns
    -------
    History
    """
    first, last = days
    length = last - first + 1
    begins = np.searchsorted(seen.cell, np.arange(vehicles * len(SERIES), dtype=np.int32))
    offset = np.zeros((vehicles, len(SERIES), length + 1), np.uint16)
    running = np.zeros((len(seen) + 1, 5))
    for rows in seen.blocks(vehicles):
        part = seen.take(rows)
        low, high = int(part.vehicle[0]), int(part.vehicle[-1]) + 1
        day = (part.day - first).astype(np.int64)
        shape = (high - low, len(SERIES), length)
        cell = np.ravel_multi_index((part.vehicle - low, part.series, day), shape)
        counts = np.bincount(cell, minlength=int(np.prod(shape))).reshape(shape)
        np.cumsum(counts, axis=2, out=offset[low:high, :, 1:])
        weight = usable[rows].astype(np.float64)
        value = np.where(usable[rows], residual[rows], 0.0)
        sums = running[rows.start : rows.stop + 1]
        for place, column in enumerate((weight, weight * day, weight * day**2, value, value * day)):
            sums[1:, place] = column
        np.cumsum(sums, axis=0, out=sums)
    return History(
        first_day=first,
        days=length,
        begins=begins.reshape(vehicles, len(SERIES)).astype(np.int64),
        offset=offset,
        running=running,
    )


def clip_to_neighbours(
    seen: Observations,
    residual: NDArray[np.float64],
    sigma: NDArray[np.float64],
    stretch: NDArray[np.int32],
    usable: NDArray[np.bool_],
    *,
    width: float = WILD,
) -> NDArray[np.float64]:
    """Pull wild readings to within `width` sigma of the median of themselves and six to ten before.

    Only earlier usable readings of the same stretch take part, so a number never changes later; beyond six
    only those of the last `CLIP_DAYS`. The first six of a stretch share the median of its first seven, or as
    many as there are.

    Parameters
    ----------
    seen : Observations
        Sorted by vehicle, series, day.
    residual : float64 array of shape (k,)
    sigma : float64 array of shape (V, S)
    stretch : int32 array of shape (k,)
        Numbers that change where a vehicle's series has a known break; not falling.
    usable : bool array of shape (k,)
        Readings that count; others stay as they are.

    Returns
    -------
    float64 array of shape (k,)
    """
    clipped = residual.copy()
    for rows in seen.blocks(len(sigma)):
        place = rows.start + np.flatnonzero(usable[rows])
        if not len(place):
            continue
        reach = width * sigma[seen.vehicle[place], seen.series[place]]
        middle = _middle_of_neighbours(residual[place], stretch[place], seen.day[place])
        clipped[place] = np.clip(residual[place], middle - reach, middle + reach)
    return clipped


def _middle_of_neighbours(
    residual: NDArray[np.float64], stretch: NDArray[np.int32], day: NDArray[np.int32]
) -> NDArray[np.float64]:
    """Median of each reading and those before it, of the same stretch."""
    start = np.flatnonzero(np.diff(stretch, prepend=stretch[0] - 1))
    length = np.diff(np.append(start, len(stretch)))
    first = np.repeat(start, length)
    last = np.repeat(start + np.minimum(length, CLIP_LEAST) - 1, length)
    window_end = np.maximum(np.arange(len(residual)), last)
    place = window_end[:, None] - np.arange(CLIP_READINGS)[None, :]
    within = place >= first[:, None]
    within[:, CLIP_LEAST:] &= day[np.maximum(place[:, CLIP_LEAST:], 0)] > day[window_end][:, None] - CLIP_DAYS
    window = np.where(within, residual[np.maximum(place, 0)], np.inf)
    return middle_of_windows(window, within.sum(axis=1))
