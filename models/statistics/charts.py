"""Control charts that remember: EWMA and tabular CUSUM, run over many series at once.

One idea: add up small deviations until they can no longer be chance. Limits come from
`models.statistics.runlength`, or from block-bootstrapped clean residuals where readings are correlated;
tables for independent normal readings then promise far fewer false signals than there are.

References
----------
E. S. Page, Biometrika 41 (1954) 100-115 (from memory): CUSUM.
NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.3 (CUSUM) and 6.3.2.4 (EWMA).
D. C. Montgomery, Introduction to Statistical Quality Control, chapter 9.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.errors import OutOfRangeError
from models.statistics.arguments import as_columns, demand_positive


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cusum:
    """Both one-sided sums after every reading.

    Parameters
    ----------
    high, low : float64 array of the shape of the readings
        Evidence of a rise and of a fall, zero or above [unit of the readings].
    run_high, run_low : int64 array of the same shape
        Readings since that sum was last zero; the change began before the first of them.
    """

    high: NDArray[np.float64]
    low: NDArray[np.float64]
    run_high: NDArray[np.int64]
    run_low: NDArray[np.int64]


def ewma(
    values: ArrayLike, weight: float, *, target: ArrayLike = 0.0, start: ArrayLike | None = None
) -> NDArray[np.float64]:
    """Smooth readings exponentially: z = weight * x + (1 - weight) * z before.

    Parameters
    ----------
    values : array-like of shape (n,) or (V, n)
        Readings in time order [unit]; NaN marks a missing one and leaves the memory as it was.
    weight : float
        Share of the newest reading, above 0 and up to 1 [1].
    target : array-like of shape () or (V,)
        What z starts from [unit].
    start : array-like of shape () or (V,), optional
        z carried over from before [unit]; overrides `target`.

    Returns
    -------
    float64 array of the same shape
        z after each reading.

    Raises
    ------
    OutOfRangeError
        For a weight outside 0..1.

    Examples
    --------
    >>> ewma([52.0, 47.0, 53.0, 49.3], 0.3, target=50.0).round(4)
    array([50.6   , 49.52  , 50.564 , 50.1848])
    """
    _demand_weight(weight)
    columns = as_columns(values)
    state = np.broadcast_to(np.asarray(target if start is None else start, np.float64), columns.shape[:-1])
    answer = np.empty(columns.shape)
    for place in range(columns.shape[-1]):
        reading = columns[..., place]
        state = np.where(np.isnan(reading), state, weight * reading + (1.0 - weight) * state)
        answer[..., place] = state
    return answer


def ewma_reach(weight: float, width: float, *, count: ArrayLike | None = None) -> NDArray[np.float64]:
    """Give the half-width of the EWMA's limits in units of one reading's sigma.

    Parameters
    ----------
    weight : float
        Share of the newest reading, above 0 and up to 1 [1].
    width : float
        Limit in standard deviations of z, L in the books [1].
    count : array-like, optional
        Readings so far, for the limits that widen from the first reading on; None gives the asymptote.

    Returns
    -------
    float64 array of the shape of count
        L sqrt(weight / (2 - weight) * [1 - (1 - weight)^(2 i)]).

    Raises
    ------
    OutOfRangeError
        For a weight outside 0..1 or a width that is not positive.

    Examples
    --------
    >>> ewma_reach(0.1, 2.7, count=[1, 2]).round(4), float(ewma_reach(0.1, 2.7).round(4))
    (array([0.27  , 0.3632]), 0.6194)
    """
    _demand_weight(weight)
    asymptote = demand_positive(width, "width") * math.sqrt(weight / (2.0 - weight))
    if count is None:
        return np.asarray(asymptote)
    return np.asarray(asymptote * np.sqrt(1.0 - (1.0 - weight) ** (2.0 * np.asarray(count, np.float64))))


def cusum(
    values: ArrayLike,
    reference: float,
    *,
    target: ArrayLike = 0.0,
    start: float = 0.0,
    restart: ArrayLike | None = None,
) -> Cusum:
    """Run the two one-sided tabular sums.

    Parameters
    ----------
    values : array-like of shape (n,) or (V, n)
        Readings in time order [unit]; NaN marks a missing one and leaves the sums and counts as they were.
    reference : float
        Slack taken off each deviation, k in the books: half the shift to be found [unit].
    target : array-like of shape () or (V,)
        Mean while nothing is wrong [unit].
    start : float
        Both sums before the first reading (head start) [unit].
    restart : bool array-like of the shape of values, optional
        True where the memory is cleared before the reading (repair, memory reset).

    Returns
    -------
    Cusum

    Raises
    ------
    OutOfRangeError
        For a negative reference or head start.

    Examples
    --------
    >>> sums = cusum([9.45, 7.99, 9.29, 11.66, 12.16], 0.5, target=10.0)
    >>> sums.high.round(2), sums.low.round(2), sums.run_high
    (array([0.  , 0.  , 0.  , 1.16, 2.82]), array([0.05, 1.56, 1.77, 0.  , 0.  ]), array([0, 0, 0, 1, 2]))
    """
    demand_positive(reference, "reference", zero=True)
    demand_positive(start, "start", zero=True)
    columns = as_columns(values)
    cleared = np.broadcast_to(False if restart is None else np.asarray(restart, np.bool_), columns.shape)
    gap = columns - np.asarray(target, np.float64)[..., np.newaxis]
    rise, rise_run = _one_sided(gap - reference, start, cleared)
    fall, fall_run = _one_sided(-gap - reference, start, cleared)
    return Cusum(high=rise, low=fall, run_high=rise_run, run_low=fall_run)


def _one_sided(
    steps: NDArray[np.float64], start: float, cleared: NDArray[np.bool_]
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Sum steps, never below zero, counting the readings since zero."""
    total = np.full(steps.shape[:-1], start)
    run = np.zeros(steps.shape[:-1], dtype=np.int64)
    sums = np.empty(steps.shape)
    runs = np.empty(steps.shape, dtype=np.int64)
    for place in range(steps.shape[-1]):
        step = steps[..., place]
        total = np.where(cleared[..., place], 0.0, total)
        run = np.where(cleared[..., place], 0, run)
        known = ~np.isnan(step)
        total = np.where(known, np.maximum(0.0, total + np.where(known, step, 0.0)), total)
        run = np.where(known, np.where(total > 0.0, run + 1, 0), run)
        sums[..., place], runs[..., place] = total, run
    return sums, runs


def _demand_weight(weight: float) -> None:
    """Refuse an EWMA weight outside 0..1."""
    if not 0.0 < weight <= 1.0:
        raise OutOfRangeError("weight", "above 0 and up to 1", weight)
