"""How much a sound vehicle's readings scatter: from day to day, over weeks, and together.

Three numbers decide what counts as evidence: the day-to-day noise of each vehicle's series, how much more
slowly a mean of many days calms down than independence would have it (long-run inflation), and how the series
of one vehicle move together.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.series import SERIES, Observations
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
_BOUNDED: Final = np.array([series.bounded for series in SERIES])
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
    pooled : float64 array of shape (S,)
        The same over the fleet.
    inflation : float64 array of shape (G, S, len(BLOCKS))
        Variance of a mean of so many readings over what independent ones would have, by like vehicles, at
        least 1.
    correlation : float64 array of shape (S, S)
        Of slow movements of one vehicle's series; positive definite, unit diagonal.
    """

    sigma: NDArray[np.float64]
    pooled: NDArray[np.float64]
    inflation: NDArray[np.float64]
    correlation: NDArray[np.float64]

    def inflate(self, group: NDArray[np.int32], count: NDArray[np.float64]) -> NDArray[np.float64]:
        """Give the inflation for means of `count` readings, shape (V, S), log-interpolated between blocks."""
        place = np.log2(np.clip(count, 1.0, BLOCKS[-1]))
        low = np.minimum(place.astype(np.int64), len(BLOCKS) - 2)
        share = place - low
        series = np.arange(count.shape[1])[None, :]
        left = self.inflation[group[:, None], series, low]
        right = self.inflation[group[:, None], series, low + 1]
        mixed: NDArray[np.float64] = (1 - share) * left + share * right
        return mixed


def estimate_sigma(
    seen: Observations,
    adjusted: NDArray[np.float64],
    group: NDArray[np.int32],
    groups: int,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Estimate day-to-day noise from successive differences, which a slow drift hardly touches.

    Parameters
    ----------
    seen : Observations
        Sorted by vehicle, series, day.
    adjusted : float64 array of shape (k,)
    group : int32 array of shape (V,)
        Like vehicles, 0 to `groups` - 1.
    groups : int

    Returns
    -------
    sigma : float64 array of shape (V, S)
        Own scatter shrunk to that of like vehicles; 1 for a series that nobody reports.
    pooled : float64 array of shape (S,)
        Over the fleet; NaN for a series that nobody reports.
    """
    cell = seen.vehicle.astype(np.int64) * len(SERIES) + seen.series
    same = np.flatnonzero(np.diff(cell) == 0)
    step = np.abs(adjusted[same + 1] - adjusted[same]) / np.sqrt(2.0)
    own, count = _grouped_scale(step, cell[same], len(group) * len(SERIES))
    own, count = own.reshape(len(group), -1), count.reshape(len(group), -1)
    floor = np.where(_BOUNDED, _SHARE_FLOOR, _STEPS / 2)
    fleet = np.where(_BOUNDED, _share_sigma(seen), _pool(own, count))
    fleet = np.where(np.isfinite(fleet), np.maximum(fleet, floor), np.nan)
    sigma = np.ones_like(own)
    for place in range(groups):
        mine = group == place
        like = _pool(own[mine], count[mine])
        like = np.where(_BOUNDED | ~np.isfinite(like), fleet, np.maximum(like, floor))
        part = np.where(_BOUNDED | ~np.isfinite(own[mine]), like, own[mine])
        mixed = (count[mine] * part**2 + POOL_READINGS * like**2) / (count[mine] + POOL_READINGS)
        sigma[mine] = np.sqrt(np.maximum(np.where(np.isfinite(mixed), mixed, 1.0), floor**2))
    return sigma, fleet


def _pool(own: NDArray[np.float64], count: NDArray[np.int64]) -> NDArray[np.float64]:
    """Median over vehicles with five or more differences, else over all with any; NaN without."""
    pooled = np.full(own.shape[1], np.nan)
    for place in range(own.shape[1]):
        enough = count[:, place] >= 5
        known = enough if enough.any() else count[:, place] > 0
        if known.any():
            pooled[place] = np.median(own[known, place])
    return pooled


def _share_sigma(seen: Observations) -> NDArray[np.float64]:
    """Give the noise of a switch for which n readings of "on" weigh as the n log(1/share on) they are worth.

    With share p a normal weight of n (1 - p)^2 / (2 sigma^2) equals n log(1 / p) at this sigma.
    """
    total = np.bincount(seen.series, seen.value, minlength=len(SERIES))
    share = total / np.maximum(np.bincount(seen.series, minlength=len(SERIES)), 1)
    share = np.clip(share, 0.02, 0.9)
    sigma: NDArray[np.float64] = (1 - share) / np.sqrt(2 * np.log(1 / share))
    return sigma


def _grouped_scale(
    value: NDArray[np.float64], group: NDArray[np.int64], groups: int
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
    sigma: NDArray[np.float64],
    group: NDArray[np.int32],
    groups: int,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Estimate long-run inflation and the correlation of slow movements.

    Parameters
    ----------
    seen : Observations
    residual : float64 array of shape (k,)
        Less the vehicle's own long-run level.
    sigma : float64 array of shape (V, S)
    group : int32 array of shape (V,)
        Like vehicles, 0 to `groups` - 1.
    groups : int

    Returns
    -------
    inflation : float64 array of shape (G, S, len(BLOCKS))
    correlation : float64 array of shape (S, S)
    """
    scaled = residual / sigma[seen.vehicle, seen.series]
    return _inflation(seen, scaled, group, groups), _correlation(seen, scaled)


def _inflation(
    seen: Observations, scaled: NDArray[np.float64], group: NDArray[np.int32], groups: int
) -> NDArray[np.float64]:
    cell = seen.vehicle.astype(np.int64) * len(SERIES) + seen.series
    start = np.flatnonzero(np.diff(cell, prepend=-1))
    rank = np.arange(len(cell)) - np.repeat(start, np.diff(np.append(start, len(cell))))
    scaled = np.clip(scaled, -_WILD, _WILD)
    found = np.empty((groups, len(SERIES), len(BLOCKS)))
    for place, length in enumerate(BLOCKS):
        begins = (rank % length) == 0
        block = np.cumsum(begins) - 1
        size = np.bincount(block)
        mean = np.abs(np.bincount(block, scaled) / np.maximum(size, 1))[size == length]
        first = np.flatnonzero(begins)[size == length]
        series, like = seen.series[first], group[seen.vehicle[first]]
        pooled = _variance_ratio(mean, series, length)
        pooled = np.where(np.isfinite(pooled), pooled, DEFAULT_INFLATION[place])
        for number in range(groups):
            mine = like == number
            own = _variance_ratio(mean[mine], series[mine], length)
            found[number, :, place] = np.where(np.isfinite(own), own, pooled)
    found = np.maximum.accumulate(found, axis=2)
    return np.clip(found, 1.0, MOST_INFLATION)


def _variance_ratio(mean: NDArray[np.float64], series: NDArray[np.int32], length: int) -> NDArray[np.float64]:
    """Variance of block means by series, robustly, times the block length; NaN where blocks are few."""
    result = np.full(len(SERIES), np.nan)
    for place in np.unique(series):
        mine = mean[series == place]
        if len(mine) >= _MIN_PAIRS:
            result[place] = length * (MAD_CONSISTENCY * float(np.median(mine))) ** 2
    return result


def _correlation(seen: Observations, scaled: NDArray[np.float64], *, days: int = 21) -> NDArray[np.float64]:
    """Correlate changes between successive three-week means of one vehicle, pairwise, clipped and shrunk."""
    count = len(SERIES)
    if not len(seen):
        return np.eye(count)
    block = (seen.day - seen.day.min()) // days
    blocks = int(block.max()) + 1
    shape = (int(seen.vehicle.max()) + 1, blocks, count)
    cell = np.ravel_multi_index((seen.vehicle, block, seen.series), shape)
    size = np.bincount(cell, minlength=int(np.prod(shape)))
    mean = np.bincount(cell, scaled, minlength=int(np.prod(shape)))
    mean = np.where(size > 0, mean / np.maximum(size, 1), np.nan).reshape(shape)
    change = np.diff(mean, axis=1).reshape(-1, count)
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
