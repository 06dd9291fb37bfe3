"""Residual histories in a form from which any window's sums are two look-ups.

Observations stay flat; running sums over them and one pointer for each vehicle, series and day make the
sums over any window of any series a subtraction. A nightly evaluation and a replay of a year use the same
arrays.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.series import SERIES, Observations

CLIP_READINGS: Final = 7
"""Readings whose median decides what is wild; chosen by us: it outvotes three."""


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
    vehicles : int
        Number of vehicles V.
    pointer : int64 array of shape (V * S * days + 1,)
        Observations before each (vehicle, series, day).
    running : float64 array of shape (k + 1, 5)
        Running sums of 1, day, day squared, value, day x value over usable observations; the five lie side
        by side because they are always read together.
    """

    first_day: int
    days: int
    vehicles: int
    pointer: NDArray[np.int64]
    running: NDArray[np.float64]

    def before(
        self, day: NDArray[np.int64] | NDArray[np.int32] | int, rows: NDArray[np.int64] | None = None
    ) -> NDArray[np.int64]:
        """Give the number of observations before a day of each series of some vehicles, all by default.

        Returns
        -------
        int64 array of shape (len(rows), S)
        """
        vehicles = np.arange(self.vehicles) if rows is None else rows
        place = np.clip(np.asarray(day) - self.first_day, 0, self.days)
        base = (vehicles[:, None] * len(SERIES) + np.arange(len(SERIES))[None, :]) * self.days
        found: NDArray[np.int64] = self.pointer[base + place]
        return found

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
    cell = (seen.vehicle.astype(np.int64) * len(SERIES) + seen.series) * length + (seen.day - first)
    pointer = np.zeros(vehicles * len(SERIES) * length + 1, np.int64)
    np.cumsum(np.bincount(cell, minlength=len(pointer) - 1), out=pointer[1:])
    day = (seen.day - first).astype(np.float64)
    value = np.where(usable, residual, 0.0)
    weight = usable.astype(np.float64)
    running = np.zeros((len(seen) + 1, 5))
    columns = (weight, weight * day, weight * day**2, value, value * day)
    for place, column in enumerate(columns):
        np.cumsum(column, out=running[1:, place])
    return History(first_day=first, days=length, vehicles=vehicles, pointer=pointer, running=running)


def clip_to_neighbours(
    seen: Observations,
    residual: NDArray[np.float64],
    sigma: NDArray[np.float64],
    stretch: NDArray[np.int64],
    *,
    width: float = 2.5,
) -> NDArray[np.float64]:
    """Pull single wild readings to within `width` sigma of the median of themselves and six before.

    Only earlier readings of the same stretch take part, so a number never changes later. The first six of
    a stretch share the median of its first seven: nothing is said of a stretch before it has seven.

    Parameters
    ----------
    seen : Observations
        Sorted by vehicle, series, day.
    residual : float64 array of shape (k,)
    sigma : float64 array of shape (V, S)
    stretch : int64 array of shape (k,)
        Numbers that change where a vehicle's series has a known break; not falling.

    Returns
    -------
    float64 array of shape (k,)
    """
    if not len(residual):
        return residual
    start = np.flatnonzero(np.diff(stretch, prepend=stretch[0] - 1))
    length = np.diff(np.append(start, len(stretch)))
    first = np.repeat(start, length)
    last = np.repeat(start + np.minimum(length, CLIP_READINGS) - 1, length)
    row = np.arange(len(residual))
    window_end = np.maximum(row, last)
    window_start = np.maximum(window_end - CLIP_READINGS + 1, first)
    place = window_start[:, None] + np.arange(CLIP_READINGS)[None, :]
    window = np.where(place <= window_end[:, None], residual[np.minimum(place, len(residual) - 1)], np.inf)
    window.sort(axis=1)
    present = window_end - window_start + 1
    middle = (window[row, (present - 1) // 2] + window[row, present // 2]) / 2
    reach = width * sigma[seen.vehicle, seen.series]
    return np.clip(residual, middle - reach, middle + reach)
