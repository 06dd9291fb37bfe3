"""When a drifting series reaches a limit: a mixture over onset and slope, never a single line.

Every candidate onset of a ramp gives a slope with its error; their likelihoods weigh them, and so does a
prior that leans towards small slopes: a fault is found when chance has made it look large, so that the plain
estimate on that day is too steep. Beside the ramps stand steps, which hardly grow. The interval that results
is wide at first, as it must be, and "not within a year" is an allowed answer.
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

PACES: Final = np.array([0.35, 0.65, 1.0, 1.6, 2.4])
"""Pace ahead over mean pace so far, dealt out in turn over the samples: faults do not grow in straight lines;
chosen by us, wide enough for growth with the root or the square of time and for faults that level off."""

TEMPER: Final = 0.5
"""Weight of the evidence on the onset: readings of one series are not independent; from tuning seeds."""

LEAN: Final = 0.5
"""Power of 1 / |slope| in the prior, between flat and log-uniform; from tuning seeds: with a flat one slow
faults were said to come too soon, with a log-uniform one fast faults too late."""

LEAST_SHIFT: Final = 0.25
"""Standard errors below which a shift is not taken for any smaller: the prior ends there; chosen by us."""

STEPS: Final = 0.05
"""Chance of a step before the readings have spoken; chosen by us."""

GROWTH: Final = np.array([0.0, 0.002, 0.006, 0.02])
"""Growth of a step [its own size / day], dealt out in turn over the samples; chosen by us."""

_NORMAL_POINTS: Final = np.array([-1.2816, -0.5244, 0.0, 0.5244, 1.2816])
"""Of the normal distribution at 0.1, 0.3 ... 0.9."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outlook:
    """Slope and shift of n series as weighted samples, ramps before steps, each array of shape (n, M).

    Parameters
    ----------
    shift : float64 array
        Distance from the own baseline on the evaluation day [series' unit].
    slope : float64 array
        Mean change a day since the onset, of a step its growth [series' unit / day].
    pace : float64 array of shape (M,)
        Pace ahead over that mean.
    weight : float64 array
        Rows sum to 1.
    """

    shift: NDArray[np.float64]
    slope: NDArray[np.float64]
    pace: NDArray[np.float64]
    weight: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shifts:
    """Standardised shifts of n series at each age and their root information, arrays of shape (n, L)."""

    z: NDArray[np.float64]
    root: NDArray[np.float64]


def imagine(ramps: Shifts, steps: Shifts, ages: NDArray[np.float64], ratio: NDArray[np.float64]) -> Outlook:
    """Spread each series over candidate onsets, shapes and the error of its slope.

    Parameters
    ----------
    ramps, steps : Shifts
    ages : float64 array of shape (L,)
        Age of each candidate onset [days].
    ratio : float64 array of shape (n, L)
        Log-likelihood ratio of the whole finding for a ramp of each age [nats].

    Returns
    -------
    Outlook
        With five samples at each of (L - 1) x `PARTS` + 1 ages of a ramp and L of a step; a row without
        information is all zero with equal weights.
    """
    ramp, step = _imagine_ramps(ramps, ages, ratio), _imagine_steps(steps)
    share = _share_of_steps(ramps, steps)[:, None]
    return Outlook(
        shift=np.hstack((ramp.shift, step.shift)),
        slope=np.hstack((ramp.slope, step.slope)),
        pace=np.concatenate((ramp.pace, step.pace)),
        weight=np.hstack((ramp.weight * (1.0 - share), step.weight * share)),
    )


def _share_of_steps(ramps: Shifts, steps: Shifts) -> NDArray[np.float64]:
    """Weigh steps against ramps by the series' own likelihoods, shape (n,)."""
    nats = [np.where(shape.root > 0, shape.z**2 / 2.0, -np.inf) for shape in (ramps, steps)]
    top = np.maximum(nats[0].max(axis=1), nats[1].max(axis=1))
    top = np.where(np.isfinite(top), top, 0.0)[:, None]
    ramp, step = (np.exp(TEMPER * (one - top)).mean(axis=1) for one in nats)
    total = STEPS * step + (1.0 - STEPS) * ramp
    share: NDArray[np.float64] = np.where(total > 0, STEPS * step / np.where(total > 0, total, 1.0), STEPS)
    return share


def _imagine_steps(steps: Shifts) -> Outlook:
    known = steps.root > 0
    safe = np.where(known, steps.root, 1.0)
    error = np.where(known, 1.0 / safe, 0.0)[:, :, None]
    shift = np.where(known, steps.z / safe, 0.0)[:, :, None] + error * _NORMAL_POINTS
    count = steps.root.shape[1]
    turn = (np.arange(count)[:, None] + np.arange(len(_NORMAL_POINTS))[None, :]) % len(GROWTH)
    nats = np.where(known, steps.z**2 / 2.0, -np.inf)
    weight = _tempered(nats)[:, :, None] * np.ones(len(_NORMAL_POINTS))
    flat = (len(shift), -1)
    return Outlook(
        shift=shift.reshape(flat),
        slope=(shift * GROWTH[turn]).reshape(flat),
        pace=np.ones(turn.size),
        weight=(weight / len(_NORMAL_POINTS)).reshape(flat),
    )


def _tempered(nats: NDArray[np.float64]) -> NDArray[np.float64]:
    """Turn log-likelihood ratios into weights that sum to 1 in each row; equal ones where none is known."""
    top = nats.max(axis=1, keepdims=True)
    weight = np.exp(TEMPER * (nats - np.where(np.isfinite(top), top, 0.0)))
    total = weight.sum(axis=1, keepdims=True)
    return np.where(total > 0, weight / np.where(total > 0, total, 1.0), 1.0 / nats.shape[1])


def _imagine_ramps(ramps: Shifts, ages: NDArray[np.float64], ratio: NDArray[np.float64]) -> Outlook:
    z, root = ramps.z, ramps.root
    known = root > 0
    place = np.arange((len(ages) - 1) * PARTS + 1) / PARTS
    left = np.minimum(place.astype(np.int64), len(ages) - 2)
    right = place - left
    tried = (known[:, left] | (right == 1)) & (known[:, left + 1] | (right == 0))
    safe = np.where(known, root, 1.0)
    size = _between(np.where(known, z / safe, 0.0), known, left, right)
    error = _between(np.where(known, 1.0 / safe, 0.0), known, left, right)
    age = np.exp((1 - right) * np.log(ages[left]) + right * np.log(ages[left + 1]))
    weight = _tempered(np.where(tried, _between(ratio, known, left, right), -np.inf))
    shift = np.where(tried, size, 0.0)[:, :, None] + np.where(tried, error, 0.0)[:, :, None] * _NORMAL_POINTS
    turn = (np.arange(len(place))[:, None] + np.arange(len(_NORMAL_POINTS))[None, :]) % len(PACES)
    slope = shift / age[None, :, None]
    flat = (len(z), -1)
    least = np.where(tried, error, 1.0)[:, :, None] * LEAST_SHIFT / age[None, :, None]
    points = weight[:, :, None] / np.maximum(np.abs(slope), least) ** LEAN
    points = np.where(tried.any(axis=1)[:, None, None], points, 1.0)
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
