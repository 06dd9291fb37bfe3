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

PACES: Final = np.array([0.5, 0.75, 1.0, 1.35, 1.9])
"""Pace ahead over mean pace so far, dealt out in turn over the samples: faults do not grow in straight lines;
chosen by us for growth between the root and the square of time. With 0.35 to 2.4 the intervals of tuning
seeds were a sixth wider and held as much."""

TEMPER: Final = 0.5
"""Weight of the evidence on the onset: readings of one series are not independent; from tuning seeds."""

LEAN: Final = 0.5
"""Power of 1 / |slope| in the prior, between flat and log-uniform; from tuning seeds: with a flat one slow
faults were said to come too soon, with a log-uniform one fast faults too late."""

USUAL_DAYS: Final = 60.0
"""Days in which a ramp usually grows to what drivers complain of; chosen by us. A ramp much steeper than that
is rarer beforehand, so that a fault seen young and large is rather a step."""

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


def imagine(ramps: Shifts, steps: Shifts, ages: NDArray[np.float64], usual: NDArray[np.float64]) -> Outlook:
    """Spread each series over candidate onsets, shapes and the error of its slope.

    Parameters
    ----------
    ramps, steps : Shifts
        Of n series at L ages.
    ages : float64 array of shape (L,)
        Age of each candidate onset [days].
    usual : float64 array of shape (n,)
        Slope of a usual fault of each series [series' unit / day]: what drivers complain of in `USUAL_DAYS`.

    Returns
    -------
    Outlook
        With five samples at each of L ages of a ramp and L of a step; a row without information is all zero
        with equal weights.
    """
    nats = [np.where(shape.root > 0, shape.z**2 / 2.0, -np.inf) for shape in (ramps, steps)]
    top = np.maximum(nats[0].max(axis=1), nats[1].max(axis=1))
    top = np.where(np.isfinite(top), top, 0.0)[:, None]
    ramp = _imagine_ramps(ramps, ages, np.exp(TEMPER * (nats[0] - top)), usual)
    step = _imagine_steps(steps, np.exp(TEMPER * (nats[1] - top)))
    weight = np.hstack((ramp.weight * (1.0 - STEPS), step.weight * STEPS))
    weight = np.where((weight > 0).any(axis=1, keepdims=True), weight, 1.0)
    return Outlook(
        shift=np.hstack((ramp.shift, step.shift)),
        slope=np.hstack((ramp.slope, step.slope)),
        pace=np.concatenate((ramp.pace, step.pace)),
        weight=weight / weight.sum(axis=1, keepdims=True),
    )


def _spread(shifts: Shifts) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Give five points of each shift, shape (n, L, 5), and its error, shape (n, L, 1); 0 where not tried."""
    known = shifts.root > 0
    safe = np.where(known, shifts.root, 1.0)
    error = np.where(known, 1.0 / safe, 0.0)[:, :, None]
    return np.where(known, shifts.z / safe, 0.0)[:, :, None] + error * _NORMAL_POINTS, error


def _turns(ages: int, choices: int) -> NDArray[np.int64]:
    """Deal choices out in turn over the five points of each age, shape (ages, 5)."""
    turn: NDArray[np.int64] = (np.arange(ages)[:, None] + np.arange(len(_NORMAL_POINTS))[None, :]) % choices
    return turn


def _imagine_steps(steps: Shifts, likely: NDArray[np.float64]) -> Outlook:
    """Give samples of steps; their weights do not sum to 1."""
    shift, _ = _spread(steps)
    turn = _turns(likely.shape[1], len(GROWTH))
    flat = (len(shift), -1)
    return Outlook(
        shift=shift.reshape(flat),
        slope=(shift * GROWTH[turn]).reshape(flat),
        pace=np.ones(turn.size),
        weight=np.broadcast_to(likely[:, :, None], shift.shape).reshape(flat),
    )


def _imagine_ramps(
    ramps: Shifts, ages: NDArray[np.float64], likely: NDArray[np.float64], usual: NDArray[np.float64]
) -> Outlook:
    """Give samples of ramps; their weights do not sum to 1."""
    shift, error = _spread(ramps)
    slope = shift / ages[None, :, None]
    least = np.where(error > 0, error, 1.0) * LEAST_SHIFT / ages[None, :, None]
    prior = (usual[:, None, None] / np.maximum(np.abs(slope), least)) ** LEAN
    turn = _turns(len(ages), len(PACES))
    flat = (len(shift), -1)
    return Outlook(
        shift=shift.reshape(flat),
        slope=slope.reshape(flat),
        pace=PACES[turn].ravel(),
        weight=(likely[:, :, None] * prior).reshape(flat),
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
