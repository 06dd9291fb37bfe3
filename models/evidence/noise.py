"""How much a sound vehicle's readings scatter: from day to day, over weeks, and together.

Three numbers decide what counts as evidence: the day-to-day noise of each vehicle's series, how much more
slowly a mean of many days calms down than independence would have it (long-run inflation), and how the series
of one vehicle move together.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.series import BOUNDED, SERIES, Observations
from models.statistics.grouped import order_within
from models.statistics.robust import MAD_CONSISTENCY

POOL_READINGS: Final = 20.0
"""A vehicle's own scatter counts fully only beyond about this many readings; chosen by us."""

BLOCKS: Final = (1, 2, 4, 8, 16)
"""Sizes of blocks of successive readings whose means show how slowly chance averages out."""

MOST_INFLATION: Final = 12.0
DEFAULT_INFLATION: Final = (1.2, 1.6, 2.3, 3.2, 4.2)
"""Used for a series until enough blocks are at hand: a slow part of lag-1 correlation 0.3 to 0.54, as in one
open recording of learned trim, that also outlasts a few weeks."""

_STEPS: Final = np.array([series.step for series in SERIES])
_SHARE_FLOOR: Final = 0.12
_CORRELATION_KEPT: Final = 0.8
_EIGENVALUE_FLOOR: Final = 0.15
_MIN_PAIRS: Final = 20
_WILD: Final = 3.0
_NORMAL_85: Final = 1.4395  # 85 % point of the absolute value of a standard normal


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Noise:
    """Scatter of sound readings.

    Parameters
    ----------
    sigma : float64 array of shape (V, S)
        Standard deviation of one day's adjusted reading [series' unit].
    rounding : float64 array of shape (V, S)
        How far a mean of any number of readings may be off because of what the logger rounds off [series'
        unit]; near 0 where readings scatter by more than its steps.
    pooled : float64 array of shape (S,)
        The same over the fleet.
    inflation : float64 array of shape (G, S, len(BLOCKS))
        Variance of a mean of so many readings over what independent ones would have, by like vehicles, at
        least 1.
    correlation : float64 array of shape (S, S)
        Of slow movements of one vehicle's series; positive definite, unit diagonal.
    """

    sigma: NDArray[np.float64]
    rounding: NDArray[np.float64]
    pooled: NDArray[np.float64]
    inflation: NDArray[np.float64]
    correlation: NDArray[np.float64]

    @property
    def rounding_of_change(self) -> NDArray[np.float64]:
        """Error of a change, shape (V, S): its two means, before and since, may each be off."""
        change: NDArray[np.float64] = np.sqrt(2.0) * self.rounding
        return change

    def inflate(self, group: NDArray[np.int32], count: NDArray[np.float64]) -> NDArray[np.float64]:
        """Give the inflation for means of `count` readings, shape (V, S), log-interpolated between blocks."""
        return self.inflate_at(group[:, None], np.arange(count.shape[1])[None, :], count)

    def inflate_at(
        self, group: NDArray[np.int32], series: NDArray[np.int64], count: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Give the same for some series of some like vehicles; arrays that broadcast together."""
        place = np.log2(np.clip(count, 1.0, BLOCKS[-1]))
        low = np.minimum(place.astype(np.int64), len(BLOCKS) - 2)
        share = place - low
        left, right = self.inflation[group, series, low], self.inflation[group, series, low + 1]
        mixed: NDArray[np.float64] = (1 - share) * left + share * right
        return mixed


def estimate_sigma(
    seen: Observations,
    adjusted: NDArray[np.float64],
    taught: NDArray[np.bool_],
    group: NDArray[np.int32],
    groups: int,
    steps: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Estimate day-to-day noise from successive differences, which a slow drift hardly touches.

    Parameters
    ----------
    seen : Observations
        Sorted by vehicle, series, day.
    adjusted : float64 array of shape (k,)
    taught : bool array of shape (k,)
        Observations to learn from.
    group : int32 array of shape (V,)
        Like vehicles, 0 to `groups` - 1.
    groups : int
    steps : float64 array of shape (V, S)
        Steps in which each vehicle's logger rounds; 0 where nothing is known.

    Returns
    -------
    sigma : float64 array of shape (V, S)
        Own scatter shrunk to that of like vehicles; at least half a step of sensor or logger; 1 for a series
        that nobody reports.
    rounding : float64 array of shape (V, S)
        See `Noise` and `rounding_error`; what readings scatter by is taken from like vehicles.
    pooled : float64 array of shape (S,)
        Over the fleet; NaN for a series that nobody reports.
    """
    own, count = _own_scatter(seen, adjusted, taught, len(group))
    floor = np.where(BOUNDED, _SHARE_FLOOR, _STEPS / 2)
    fleet = np.where(BOUNDED, _share_sigma(seen, taught), _pool(own, count))
    fleet = np.where(np.isfinite(fleet), np.maximum(fleet, floor), np.nan)
    sigma, rounding = np.ones_like(own), np.zeros_like(own)
    for place in range(groups):
        mine = group == place
        like = _pool(own[mine], count[mine])
        like = np.where(BOUNDED | ~np.isfinite(like), fleet, np.maximum(like, floor))
        part = np.where(BOUNDED | ~np.isfinite(own[mine]), like, own[mine])
        mixed = (count[mine] * part**2 + POOL_READINGS * like**2) / (count[mine] + POOL_READINGS)
        least = np.maximum(floor, steps[mine] / 2)
        sigma[mine] = np.sqrt(np.maximum(np.where(np.isfinite(mixed), mixed, 1.0), least**2))
        rounding[mine] = rounding_error(steps[mine], np.nan_to_num(like))
    return sigma, rounding, fleet


def rounding_error(step: NDArray[np.float64], sigma: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give how far rounding may put a mean off, however many readings it has.

    Readings that scatter by much less than a step all round alike, and their mean is off by up to half of it;
    scatter makes them straddle the edges, and the error falls as the first harmonic of rounding does,
    exp(-2 pi^2 (sigma / step)^2) (Widrow 1956, IRE Trans. Circuit Theory 3, memory).

    Examples
    --------
    >>> rounding_error(np.array([1.0, 0.1]), np.array([0.05, 0.1])).round(3).tolist()
    [0.476, 0.0]
    """
    ratio = sigma / np.where(step > 0, step, 1.0)
    return np.where(step > 0, step / 2.0 * np.exp(-2.0 * (np.pi * ratio) ** 2), 0.0)


def _own_scatter(
    seen: Observations, adjusted: NDArray[np.float64], taught: NDArray[np.bool_], vehicles: int
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Scale of each vehicle's successive differences, and how many there are, shape (V, S)."""
    own = np.full((vehicles, len(SERIES)), np.nan)
    count = np.zeros(own.shape, np.int64)
    for rows in seen.blocks(vehicles):
        part, value = seen.take(rows).take(taught[rows]), adjusted[rows][taught[rows]]
        if not len(part):
            continue
        first, last = int(part.vehicle[0]), int(part.vehicle[-1])
        cell = part.cell - first * len(SERIES)
        same = np.flatnonzero(np.diff(cell) == 0)
        change = np.abs(value[same + 1] - value[same]) / np.sqrt(2.0)
        scale, steps = _grouped_scale(change, cell[same], (last + 1 - first) * len(SERIES))
        own[first : last + 1] = scale.reshape(-1, len(SERIES))
        count[first : last + 1] = steps.reshape(-1, len(SERIES))
    return own, count


def _pool(own: NDArray[np.float64], count: NDArray[np.int64]) -> NDArray[np.float64]:
    """Median over vehicles with five or more differences, else over all with any; NaN without."""
    pooled = np.full(own.shape[1], np.nan)
    for place in range(own.shape[1]):
        enough = count[:, place] >= 5
        known = enough if enough.any() else count[:, place] > 0
        if known.any():
            pooled[place] = np.median(own[known, place])
    return pooled


def _share_sigma(seen: Observations, taught: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Give the noise of a switch for which n readings of "on" weigh as the n log(1/share on) they are worth.

    With share p a normal weight of n (1 - p)^2 / (2 sigma^2) equals n log(1 / p) at this sigma.
    """
    row = np.flatnonzero(BOUNDED[seen.series] & taught)
    series = seen.series[row]
    total = np.bincount(series, seen.value[row], minlength=len(SERIES))
    share = total / np.maximum(np.bincount(series, minlength=len(SERIES)), 1)
    share = np.clip(share, 0.02, 0.9)
    sigma: NDArray[np.float64] = (1 - share) / np.sqrt(2 * np.log(1 / share))
    return sigma


def _grouped_scale(
    value: NDArray[np.float64], group: NDArray[np.int32], groups: int
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Scale of normal absolute values of each group, and its count.

    The larger of what the median and what the 85 % point say: a voltage that is commanded to either of two
    levels has a small median step and large noise.
    """
    order = order_within(value, group)
    count = np.bincount(group, minlength=groups)
    start = np.concatenate(([0], np.cumsum(count)[:-1]))
    scale = np.full(groups, np.nan)
    filled = count > 0
    ordered = value[order]
    middle = ordered[start[filled] + (count[filled] - 1) // 2] * MAD_CONSISTENCY
    upper = ordered[start[filled] + (count[filled] * 0.85).astype(np.int64)] / _NORMAL_85
    scale[filled] = np.maximum(middle, np.where(count[filled] >= 8, upper, 0.0))
    return scale, count


def estimate_slow(
    seen: Observations,
    residual: NDArray[np.float64],
    taught: NDArray[np.bool_],
    sigma: NDArray[np.float64],
    group: NDArray[np.int32],
    groups: int,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Estimate long-run inflation and the correlation of slow movements.

    Parameters
    ----------
    seen : Observations
    residual : float64 array of shape (k,)
        Less the vehicle's own long-run level; NaN, where that is not known, counts as 0.
    taught : bool array of shape (k,)
        Observations to learn from.
    sigma : float64 array of shape (V, S)
    group : int32 array of shape (V,)
        Like vehicles, 0 to `groups` - 1.
    groups : int

    Returns
    -------
    inflation : float64 array of shape (G, S, len(BLOCKS))
    correlation : float64 array of shape (S, S)
    """
    inflation = np.empty((groups, len(SERIES), len(BLOCKS)))
    for place in range(len(SERIES)):
        row = np.flatnonzero((seen.series == place) & taught)
        vehicle = seen.vehicle[row]
        scaled = np.nan_to_num(residual[row]) / sigma[vehicle, place]
        inflation[:, place] = _inflation(vehicle, np.clip(scaled, -_WILD, _WILD), group, groups)
    change = _slow_changes(seen, residual, taught, sigma)
    change[:, BOUNDED] = np.nan  # shares are weighed by `models.alarm.switches`, which knows no correlation
    return inflation, _correlation(change)


def _inflation(
    vehicle: NDArray[np.int32], scaled: NDArray[np.float64], group: NDArray[np.int32], groups: int
) -> NDArray[np.float64]:
    """Say how much more means of one series vary than independent ones would, shape (G, len(BLOCKS))."""
    start = np.flatnonzero(np.diff(vehicle, prepend=-1))
    rank = np.arange(len(vehicle)) - np.repeat(start, np.diff(np.append(start, len(vehicle))))
    found = np.empty((groups, len(BLOCKS)))
    for place, length in enumerate(BLOCKS):
        begins = (rank % length) == 0
        block = np.cumsum(begins) - 1
        size = np.bincount(block)
        mean = np.abs(np.bincount(block, scaled) / np.maximum(size, 1))[size == length]
        like = group[vehicle[np.flatnonzero(begins)[size == length]]]
        pooled = _variance_ratio(mean, length, DEFAULT_INFLATION[place])
        for number in range(groups):
            found[number, place] = _variance_ratio(mean[like == number], length, pooled)
    found = np.maximum.accumulate(found, axis=1)
    return np.clip(found, 1.0, MOST_INFLATION)


def _variance_ratio(mean: NDArray[np.float64], length: int, otherwise: float) -> float:
    """Variance of block means, robustly, times the block length; something else where blocks are few."""
    if len(mean) < _MIN_PAIRS:
        return otherwise
    return length * (MAD_CONSISTENCY * float(np.median(mean))) ** 2


def _slow_changes(
    seen: Observations,
    residual: NDArray[np.float64],
    taught: NDArray[np.bool_],
    sigma: NDArray[np.float64],
    *,
    days: int = 21,
) -> NDArray[np.float64]:
    """Give changes between successive three-week means of a vehicle [sigma], shape (n, S); NaN where none."""
    known = seen.day[taught]
    if not len(known):
        return np.empty((0, len(SERIES)))
    first, blocks = int(known.min()), int(known.max() - known.min()) // days + 1
    parts = []
    for rows in seen.blocks(len(sigma)):
        part = seen.take(rows).take(taught[rows])
        if not len(part):
            continue
        scaled = np.nan_to_num(residual[rows][taught[rows]]) / sigma[part.vehicle, part.series]
        lowest = int(part.vehicle[0])
        shape = (int(part.vehicle[-1]) + 1 - lowest, blocks, len(SERIES))
        cell = np.ravel_multi_index((part.vehicle - lowest, (part.day - first) // days, part.series), shape)
        size = np.bincount(cell, minlength=int(np.prod(shape)))
        mean = np.bincount(cell, scaled, minlength=int(np.prod(shape)))
        mean = np.where(size > 0, mean / np.maximum(size, 1), np.nan).reshape(shape)
        change = np.diff(mean, axis=1).reshape(-1, len(SERIES))
        parts.append(change[np.isfinite(change).any(axis=1)])
    return np.concatenate(parts)


def _correlation(change: NDArray[np.float64]) -> NDArray[np.float64]:
    """Correlate slow changes pairwise, clipped and shrunk."""
    with np.errstate(invalid="ignore"):
        scale = np.array([_scale(column) for column in change.T])
        change = np.clip(change / scale, -3, 3)
    present = np.isfinite(change)
    filled = np.where(present, change, 0.0)
    weight = present.astype(float)
    pairs = weight.T @ weight
    power = np.sqrt(np.maximum((filled**2).T @ weight * (weight.T @ filled**2), 1e-12))
    found = (filled.T @ filled) / power * _CORRELATION_KEPT
    found[pairs < _MIN_PAIRS] = 0.0
    return _positive(found)


def _scale(column: NDArray[np.float64]) -> float:
    present = column[np.isfinite(column)]
    return max(MAD_CONSISTENCY * float(np.median(np.abs(present))), 1e-9) if len(present) else 1.0


def _positive(found: NDArray[np.float64]) -> NDArray[np.float64]:
    """Nearest usable correlation matrix: eigenvalues floored, unit diagonal."""
    np.fill_diagonal(found, 1.0)
    value, vector = np.linalg.eigh((found + found.T) / 2)
    fixed = (vector * np.maximum(value, _EIGENVALUE_FLOOR)) @ vector.T
    scale = np.sqrt(np.diag(fixed))
    unit: NDArray[np.float64] = fixed / np.outer(scale, scale)
    return unit
