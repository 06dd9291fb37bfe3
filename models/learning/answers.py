"""How each vehicle answers to its loads and to heat, where it differs from its like.

`models.learning.adjust` takes off what a compressor or a hot day adds in like vehicles. One that always
answered otherwise would look faulty in its first hot month. So vehicles' own answers are learned beside the
common ones: of each series the spread between like vehicles is estimated, and each vehicle's answer is drawn
towards that of its like as far as its own readings cannot tell.

References
----------
Robinson, G. K. (1991). That BLUP is a good thing: the estimation of random effects. Statist. Sci. 6, 15-32.
DerSimonian, R. and Laird, N. (1986). Meta-analysis in clinical trials. Controlled Clinical Trials 7, 177-188:
the spread beyond what errors explain; here by medians, so that faulty vehicles do not widen it. Both from
memory.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.learning.adjust import BLOCK_DAYS
from models.series import COVARIATES, LOADED, SERIES, Observations
from models.statistics.grouped import medians_within

ANSWERED: Final = ("ac", "warm_air")
"""Covariates to which like vehicles answer differently; chosen by us: on tuning fleets of three makers they
differed in nothing but what a compressor asks of idle control, told or not."""

LEAST_MET: Final = 2.0
"""Sum of squares of a covariate, in ordinary changes, below which a vehicle has no answer to compare."""

LEAST_VEHICLES: Final = 10
"""Answers of like vehicles below which their spread is not known and nobody's own counts; chosen by us."""

_LEAST_READINGS: Final = 3
_WILD: Final = 3.0
_HALF: Final = 0.6745  # median of the absolute value of a standard normal
_HALVINGS: Final = 30
_PLACES: Final = np.array([tuple(COVARIATES).index(name) for name in ANSWERED])

Floats = NDArray[np.float64]


def own_answers(
    seen: Observations,
    value: Floats,
    taught: NDArray[np.bool_],
    sigma: Floats,
    group: NDArray[np.int32],
) -> Floats:
    """Give what vehicles' own answers explain of readings at idle, beyond the common ones.

    Parameters
    ----------
    seen : Observations
    value : float64 array of shape (k,)
        Readings less what is common to like vehicles [series' unit].
    taught : bool array of shape (k,)
        Readings to learn from.
    sigma : float64 array of shape (V, S)
        Noise of one reading.
    group : int32 array of shape (V,)
        Like vehicles.

    Returns
    -------
    float64 array of shape (k,)
        [series' unit]; 0 for series without idle loads, and where a covariate was not read.
    """
    vehicles = len(group)
    square, cross = _products(seen, value, taught, sigma)
    answer = _draw_towards_like(square, cross, group).reshape(vehicles, len(SERIES), len(ANSWERED))
    explained = np.zeros(len(seen))
    for rows in seen.blocks(vehicles):
        place = rows.start + np.flatnonzero(LOADED[seen.series[rows]])
        vehicle, series = seen.vehicle[place], seen.series[place]
        met = np.nan_to_num(seen.covariate(place, _PLACES))
        explained[place] = (met * answer[vehicle, series]).sum(axis=1) * sigma[vehicle, series]
    return explained


def _products(
    seen: Observations, value: Floats, taught: NDArray[np.bool_], sigma: Floats
) -> tuple[Floats, Floats]:
    """Sum products of covariates with each other and with readings [sigma], within blocks of days.

    Returns
    -------
    square : float64 array of shape (V * S, C, C)
    cross : float64 array of shape (V * S, C)
    """
    cells, many = len(sigma) * len(SERIES), len(ANSWERED)
    square, cross = np.zeros((cells, many, many)), np.zeros((cells, many))
    for rows in seen.blocks(len(sigma)):
        place = rows.start + np.flatnonzero(LOADED[seen.series[rows]] & taught[rows])
        if not len(place):
            continue
        cell, block = seen.cell[place], seen.day[place] // BLOCK_DAYS
        level = np.cumsum((np.diff(cell, prepend=-1) != 0) | (np.diff(block, prepend=-1) != 0)) - 1
        scaled = value[place] / sigma[seen.vehicle[place], seen.series[place]]
        told, middle = medians_within(scaled, level, least=_LEAST_READINGS)
        usual = np.full(int(level[-1]) + 1, np.nan)
        usual[told] = middle
        away = scaled - usual[level]
        known = np.isfinite(away)
        place, cell, level, away = place[known], cell[known], level[known], away[known]
        _, level = np.unique(level, return_inverse=True)
        away = _off_mean(np.clip(away, -_WILD, _WILD), level)
        met = np.stack(
            [_off_mean(column, level) for column in np.nan_to_num(seen.covariate(place, _PLACES)).T], axis=1
        )
        low, high = int(seen.vehicle[rows.start]), int(seen.vehicle[rows.stop - 1]) + 1
        own = slice(low * len(SERIES), high * len(SERIES))
        within = cell - own.start
        for one in range(many):
            cross[own, one] = np.bincount(within, met[:, one] * away, minlength=own.stop - own.start)
            for other in range(many):
                product = met[:, one] * met[:, other]
                square[own, one, other] = np.bincount(within, product, minlength=own.stop - own.start)
    return square, cross


def _off_mean(value: Floats, level: NDArray[np.int64]) -> Floats:
    """Take the mean of its level, all of 0 to the largest present, off each value."""
    found: Floats = value - (np.bincount(level, value) / np.bincount(level))[level]
    return found


def _draw_towards_like(square: Floats, cross: Floats, group: NDArray[np.int32]) -> Floats:
    """Give each vehicle's answers beyond the common ones [sigma per ordinary change], shape (V * S, C)."""
    like = np.repeat(group, len(SERIES)).astype(np.int64) * len(SERIES)
    like += np.tile(np.arange(len(SERIES)), len(group))
    spread = np.zeros_like(cross)
    for column in range(cross.shape[1]):
        known = np.flatnonzero(square[:, column, column] >= LEAST_MET)
        for pair in np.unique(like[known]).tolist():
            told = known[like[known] == pair]
            if len(told) >= LEAST_VEHICLES:
                variance = 1.0 / square[told, column, column]
                spread[like == pair, column] = _spread(cross[told, column] * variance, variance)
    answer = np.zeros_like(cross)
    own = np.flatnonzero((spread > 0).any(axis=1))
    doubt = np.where(spread[own] > 0, 1.0 / np.maximum(spread[own], 1e-6) ** 2, 1e12)
    sharpness = square[own] + doubt[:, :, None] * np.eye(cross.shape[1])
    answer[own] = np.linalg.solve(sharpness, cross[own][:, :, None])[:, :, 0]
    return answer


def _spread(answer: Floats, variance: Floats) -> float:
    """Give the spread with which half of the answers lie as near their median as half of a normal sample do.

    0 where their errors alone explain as much.
    """
    away = np.abs(answer - np.median(answer))
    low, high = 0.0, float(away.max())
    if np.median(away / np.sqrt(variance)) <= _HALF:
        return 0.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        wide = np.median(away / np.sqrt(variance + middle**2)) > _HALF
        low, high = (middle, high) if wide else (low, middle)
    return low
