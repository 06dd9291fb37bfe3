"""What a depot or the fleet does as a whole: taken out first, reported once.

The common movement of a series on a day is a robust mean over the vehicles of one depot of how far each is
from its own long-run level. Old days see three days on either side; the newest month sees only the past
week, so a number once used is never changed by later data until the next fit.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.series import SERIES, Observations

HALF_WINDOW_DAYS: Final = 3
"""Days on either side that share one common movement; chosen by us: a tank of fuel lasts about a week."""

MIN_VEHICLES: Final = 8
"""Fewer vehicles than this are no crowd; the fleet's owner may read it as "like vehicles, minimum 8"."""

_PRIOR_READINGS: Final = 3.0
_CLIP_SIGMA: Final = 1.5
_ROUNDS: Final = 4
_NOWHERE: Final = -1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Common:
    """Common movement by crowd, series and day.

    Parameters
    ----------
    shift : float64 array of shape (G, S, D)
        In the series' unit; 0 where the crowd is too small or silent.
    support : float64 array of shape (G, S, D)
        Readings behind each number.
    crowd : int32 array of shape (V,)
        Crowd of each vehicle; -1 for none.
    first_day : int
        Day of the first column [days since 1970-01-01].
    """

    shift: NDArray[np.float64]
    support: NDArray[np.float64]
    crowd: NDArray[np.int32]
    first_day: int

    def at(self, seen: Observations) -> NDArray[np.float64]:
        """Give the common movement for each observation, shape (k,)."""
        crowd = self.crowd[seen.vehicle]
        found = self.shift[crowd, seen.series, seen.day - self.first_day]
        return np.where(crowd >= 0, found, 0.0)


def form_crowds(depot: NDArray[np.int32]) -> NDArray[np.int32]:
    """Put each vehicle in its depot's crowd; small depots join into one, and a small fleet has none.

    Parameters
    ----------
    depot : int32 array of shape (V,)
        Depot of each vehicle; -1 where none.

    Returns
    -------
    int32 array of shape (V,)
        Crowd numbers from 0; -1 where fewer than `MIN_VEHICLES` move together.

    Examples
    --------
    >>> form_crowds(np.array([0] * 9 + [1] * 3, dtype=np.int32)).tolist()
    [0, 0, 0, 0, 0, 0, 0, 0, 0, -1, -1, -1]
    """
    crowd = np.full(len(depot), -1, np.int32)
    small = np.ones(len(depot), dtype=bool)
    number = 0
    for place in np.unique(depot[depot >= 0]):
        members = depot == place
        if members.sum() >= MIN_VEHICLES:
            crowd[members], small[members], number = number, False, number + 1
    if small.sum() >= MIN_VEHICLES:
        crowd[small] = number
    return crowd


def find_common(
    seen: Observations,
    away: NDArray[np.float64],
    sigma: NDArray[np.float64],
    crowd: NDArray[np.int32],
    *,
    days: tuple[int, int],
    fitted_until: int,
) -> Common:
    """Estimate the common movement.

    Parameters
    ----------
    seen : Observations
    away : float64 array of shape (k,)
        Adjusted value less the vehicle's long-run level; NaN where that level is unknown.
    sigma : float64 array of shape (S,)
        Pooled noise of each series, which sets how far one reading may pull.
    crowd : int32 array of shape (V,)
    days : (first, last)
        Range of days to cover [days since 1970-01-01].
    fitted_until : int
        Days up to `fitted_until` - `HALF_WINDOW_DAYS` see both sides; later ones only the week before.

    Returns
    -------
    Common
    """
    first, last = days
    groups, length = max(int(crowd.max(initial=-1)) + 1, 1), last - first + 1
    shape = (groups, len(SERIES), length)
    cell = np.empty(len(seen), np.int64)
    support = np.zeros(shape)
    for rows in seen.blocks(len(crowd)):
        part = seen.take(rows)
        member = crowd[part.vehicle]
        place = np.ravel_multi_index((np.maximum(member, 0), part.series, part.day - first), shape)
        cell[rows] = np.where(np.isfinite(away[rows]) & (member >= 0), place, _NOWHERE)
        np.add.at(support.ravel(), cell[rows][cell[rows] >= 0], 1.0)
    support = _windowed(support, fitted_until - first)
    shift = np.zeros(shape)
    for _ in range(_ROUNDS):
        total = np.zeros(shape)
        for rows in seen.blocks(len(crowd)):
            used = cell[rows] >= 0
            place, width = cell[rows][used], _CLIP_SIGMA * sigma[seen.series[rows][used]]
            rest = np.clip(away[rows][used] - shift.ravel()[place], -width, width)
            np.add.at(total.ravel(), place, rest)
        shift = shift + _windowed(total, fitted_until - first) / np.maximum(support, 1.0)
    return Common(
        shift=shift * support / (support + _PRIOR_READINGS), support=support, crowd=crowd, first_day=first
    )


def _windowed(daily: NDArray[np.float64], two_sided_until: int) -> NDArray[np.float64]:
    """Sum over the window of each day along the last axis."""
    length = daily.shape[-1]
    running = np.concatenate((np.zeros((*daily.shape[:-1], 1)), np.cumsum(daily, axis=-1)), axis=-1)
    day = np.arange(length)
    both = day <= two_sided_until - HALF_WINDOW_DAYS
    low = np.maximum(np.where(both, day - HALF_WINDOW_DAYS, day - 2 * HALF_WINDOW_DAYS), 0)
    high = np.minimum(np.where(both, day + HALF_WINDOW_DAYS, day) + 1, length)
    summed: NDArray[np.float64] = running[..., high] - running[..., low]
    return summed
