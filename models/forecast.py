"""When a drifting series reaches a limit: a mixture over onset and slope, never a single line.

Every candidate onset of a ramp gives a slope with its error; their likelihoods weigh them, and so does a
log-uniform prior on the slope: a fault is found when chance has made it look large, so that the plain
estimate on that day is too steep. The interval that results is wide at first, as it must be, and "not within
a year" is an allowed answer.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

HORIZON_DAYS: Final = 365.0
"""A crossing later than this is not stated."""

PARTS: Final = 4
"""Steps between two candidate ages: with many clear readings the likelihood is narrower than their grid, and
slopes read off at the grid's ages alone would miss the true one; chosen by us from simulated ramps."""

PACES: Final = np.array([0.4, 0.75, 1.1, 1.8])
"""Pace ahead over mean pace so far, dealt out in turn over the samples: faults do not grow in straight lines;
chosen by us, wide enough for growth with the root or the square of time and for faults that level off."""

TEMPER: Final = 0.3
"""Weight of the evidence on the onset: readings of one series are not independent; chosen by us."""

LEAST_SHIFT: Final = 0.25
"""Standard errors below which a shift is not taken for any smaller: log-uniform ends there; chosen by us."""

_NORMAL_POINTS: Final = np.array([-1.2816, -0.5244, 0.0, 0.5244, 1.2816])
"""Of the normal distribution at 0.1, 0.3 ... 0.9."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outlook:
    """Slope and shift of n series as weighted samples, each array of shape (n, M).

    Parameters
    ----------
    shift : float64 array
        Distance from the own baseline on the evaluation day [series' unit].
    slope : float64 array
        Mean change a day since the onset [series' unit / day].
    pace : float64 array of shape (M,)
        Pace ahead over that mean.
    weight : float64 array
        Rows sum to 1.
    """

    shift: NDArray[np.float64]
    slope: NDArray[np.float64]
    pace: NDArray[np.float64]
    weight: NDArray[np.float64]


def imagine(
    z: NDArray[np.float64], root: NDArray[np.float64], ages: NDArray[np.float64], ratio: NDArray[np.float64]
) -> Outlook:
    """Spread each series over candidate onsets and the error of its slope.

    Parameters
    ----------
    z, root : float64 arrays of shape (n, L)
        Standardised shift and root information of a ramp of each age.
    ages : float64 array of shape (L,)
        Age of each candidate onset [days].
    ratio : float64 array of shape (n, L)
        Log-likelihood ratio of the whole finding at each onset [nats].

    Returns
    -------
    Outlook
        With five samples at each of (L - 1) x `PARTS` + 1 ages; a row without information is all zero with
        equal weights.
    """
    known = root > 0
    place = np.arange((len(ages) - 1) * PARTS + 1) / PARTS
    left = np.minimum(place.astype(np.int64), len(ages) - 2)
    right = place - left
    tried = (known[:, left] | (right == 1)) & (known[:, left + 1] | (right == 0))
    safe = np.where(known, root, 1.0)
    size = _between(np.where(known, z / safe, 0.0), known, left, right)
    error = _between(np.where(known, 1.0 / safe, 0.0), known, left, right)
    age = np.exp((1 - right) * np.log(ages[left]) + right * np.log(ages[left + 1]))
    nats = np.where(tried, _between(ratio, known, left, right), -np.inf)
    top = nats.max(axis=1, keepdims=True)
    weight = np.where(tried, np.exp(TEMPER * (nats - np.where(np.isfinite(top), top, 0.0))), 0.0)
    total = weight.sum(axis=1, keepdims=True)
    weight = np.where(total > 0, weight / np.where(total > 0, total, 1.0), 1.0 / len(place))
    shift = np.where(tried, size, 0.0)[:, :, None] + np.where(tried, error, 0.0)[:, :, None] * _NORMAL_POINTS
    turn = (np.arange(len(place))[:, None] + np.arange(len(_NORMAL_POINTS))[None, :]) % len(PACES)
    slope = shift / age[None, :, None]
    flat = (len(z), -1)
    least = np.where(tried, error, 1.0)[:, :, None] * LEAST_SHIFT / age[None, :, None]
    points = weight[:, :, None] / np.maximum(np.abs(slope), least)
    points = np.where(total[:, :, None] > 0, points, 1.0)
    points = points / points.sum(axis=(1, 2), keepdims=True)
    return Outlook(
        shift=shift.reshape(flat),
        slope=slope.reshape(flat),
        pace=PACES[turn].ravel(),
        weight=points.reshape(flat),
    )


def with_quiet(outlook: Outlook, quiet: NDArray[np.float64]) -> Outlook:
    """Add "nothing changed" to the candidates, with the given chance of shape (n,)."""
    none = np.zeros((len(quiet), 1))
    return Outlook(
        shift=np.hstack((outlook.shift, none)),
        slope=np.hstack((outlook.slope, none)),
        pace=np.append(outlook.pace, 1.0),
        weight=np.hstack((outlook.weight * (1.0 - quiet[:, None]), quiet[:, None])),
    )


def _between(
    values: NDArray[np.float64],
    known: NDArray[np.bool_],
    left: NDArray[np.int64],
    right: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Read values off between neighbours, bent as the values around them are where those are known."""
    bend = np.zeros_like(values)
    bend[:, 1:-1] = np.diff(values, 2, axis=1)
    bend[:, 1:-1][~(known[:, :-2] & known[:, 1:-1] & known[:, 2:])] = 0.0
    bend[:, 0], bend[:, -1] = bend[:, 1], bend[:, -2]
    line = (1 - right) * values[:, left] + right * values[:, left + 1]
    bent = (1 - right) * bend[:, left] + right * bend[:, left + 1]
    mixed: NDArray[np.float64] = line - right * (1 - right) / 2 * bent
    return mixed


def weighted_points(
    values: NDArray[np.float64], weight: NDArray[np.float64], shares: tuple[float, ...]
) -> NDArray[np.float64]:
    """Give weighted quantiles of each row.

    Examples
    --------
    >>> weighted_points(np.array([[3.0, 1.0, 2.0]]), np.array([[0.2, 0.4, 0.4]]), (0.5,))
    array([[2.]])
    """
    order = np.argsort(values, axis=1, kind="stable")
    ordered = np.take_along_axis(values, order, axis=1)
    running = np.cumsum(np.take_along_axis(weight, order, axis=1), axis=1)
    out = np.empty((len(values), len(shares)))
    for column, share in enumerate(shares):
        place = np.minimum((running < share - 1e-12).sum(axis=1), values.shape[1] - 1)
        out[:, column] = ordered[np.arange(len(values)), place]
    return out


def days_to_limit(
    outlook: Outlook,
    baseline: NDArray[np.float64],
    low: NDArray[np.float64],
    high: NDArray[np.float64],
    upward: NDArray[np.bool_],
) -> NDArray[np.float64]:
    """Give the days until the limit ahead is reached for every sample, shape (n, M).

    Parameters
    ----------
    outlook : Outlook
    baseline, low, high : float64 arrays of shape (n,)
        Own baseline and the sheet's band [series' unit]; NaN where there is no limit.
    upward : bool array of shape (n,)
        Which side the series moves to.

    Returns
    -------
    float64 array
        0 where already outside; inf where the sample never gets there or there is no limit.

    Examples
    --------
    >>> one = Outlook(shift=np.array([[4.0]]), slope=np.array([[0.1]]), pace=np.array([1.0]),
    ...               weight=np.array([[1.0]]))
    >>> days_to_limit(one, np.array([0.0]), np.array([-8.0]), np.array([8.0]), np.array([True]))
    array([[40.]])
    """
    limit = np.where(upward, high, low)[:, None]
    gap = np.where(upward[:, None], limit - baseline[:, None] - outlook.shift,
                   baseline[:, None] + outlook.shift - limit)  # fmt: skip
    speed = np.where(upward[:, None], outlook.slope, -outlook.slope) * outlook.pace
    with np.errstate(divide="ignore", invalid="ignore"):
        days = np.where(speed > 0, gap / np.where(speed > 0, speed, 1.0), np.inf)
    days = np.where(gap <= 0, 0.0, days)
    return np.where(np.isfinite(limit), days, np.inf)
