"""How much neighbouring readings repeat each other, and what that leaves of their number.

One idea: n correlated readings are worth fewer than n. Series lie on a regular grid (one place a day);
NaN is a gap.

References
----------
G. V. Bayley, J. M. Hammersley, J. R. Statist. Soc. Suppl. 8 (1946) 184-197: effective number of observations.
F. H. C. Marriott, J. A. Pope, Biometrika 41 (1954) 390-402: bias of the lag-1 estimate.
Both cited from memory.
"""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.errors import OutOfRangeError
from models.statistics.arguments import as_columns
from models.statistics.robust import mad_sigma, middle

CLIP_SIGMAS: Final = 2.5
"""Distance from the median at which a reading is pulled in before correlating [robust sigma]; chosen by us:
left alone, two readings in a hundred at seven sigma halve the estimate, 1 / (1 + 0.02 * 49)."""

LARGEST: Final = 0.95
"""Highest lag-1 value that an estimate may take after its bias is taken out [1]; chosen by us: beyond it a
series of a few months says nothing about its mean."""


def autocorrelation(values: ArrayLike, lag: int = 1) -> NDArray[np.float64]:
    """Correlate a series with itself some places later.

    Without gaps this is the textbook estimate (sum of lagged products over sum of squares). With gaps,
    products and squares are averaged over the pairs and places there are.

    Parameters
    ----------
    values : array-like of shape (n,) or (V, n)
        Readings on a regular grid in time order; NaN marks a gap.
    lag : int
        Distance [places].

    Returns
    -------
    float64 array of shape () or (V,)
        r in -1..1; NaN without a pair or without spread.

    Raises
    ------
    OutOfRangeError
        For a lag below 1.

    Examples
    --------
    >>> float(autocorrelation([1.0, 2.0, 3.0, 4.0]))
    0.25
    """
    if lag < 1:
        raise OutOfRangeError("lag", "at least 1", lag)
    columns = as_columns(values)
    length = columns.shape[-1]
    there = np.count_nonzero(~np.isnan(columns), axis=-1)
    mean = _divide(np.nansum(columns, axis=-1), there)
    gap = columns - mean[..., np.newaxis]
    square = _divide(np.nansum(gap * gap, axis=-1), there)
    product = gap[..., lag:] * gap[..., : max(0, length - lag)]
    pairs = np.count_nonzero(~np.isnan(product), axis=-1)
    lagged = _divide(np.nansum(product, axis=-1), pairs) * (max(0, length - lag) / max(1, length))
    tiny = np.finfo(np.float64).eps * np.maximum(1.0, mean * mean)
    return np.clip(_divide(lagged, np.where(square > tiny, square, 0.0)), -1.0, 1.0)


def robust_autocorrelation(values: ArrayLike, *, floor: float = 0.0) -> NDArray[np.float64]:
    """Estimate the lag-1 autocorrelation with wild readings pulled in first.

    Parameters
    ----------
    values : array-like of shape (n,) or (V, n)
        Readings on a regular grid in time order; NaN marks a gap.
    floor : float
        Least robust sigma [unit of values], half a step for quantised readings.

    Returns
    -------
    float64 array of shape () or (V,)
        r in -1..1; NaN without a pair or without spread.

    Examples
    --------
    >>> wave = np.tile([0.0, 1.0, 2.0, 3.0, 4.0, 3.0, 2.0, 1.0], 6)
    >>> wild = np.where(np.arange(48) == 7, 60.0, wave)
    >>> [round(float(autocorrelation(series)), 2) for series in (wave, wild)]
    [0.64, -0.04]
    >>> round(float(robust_autocorrelation(wild)), 2)
    0.43
    """
    columns = as_columns(values)
    centre = middle(columns)[..., np.newaxis]
    reach = CLIP_SIGMAS * mad_sigma(columns, floor=floor)[..., np.newaxis]
    # A series that rests on one value more than half the time has no robust spread: leave it as it is.
    reach = np.where(reach > 0.0, reach, np.inf)
    return autocorrelation(np.clip(columns, centre - reach, centre + reach))


def without_bias(correlation: ArrayLike, count: ArrayLike) -> NDArray[np.float64]:
    """Take the downward bias out of a lag-1 estimate: E[r] is about rho - (1 + 4 rho) / n.

    Parameters
    ----------
    correlation : array-like
        Lag-1 estimates [1]; NaN stays.
    count : array-like
        Readings behind each [1]; with five or fewer the answer is NaN.

    Returns
    -------
    float64 array
        Held inside -0.95..0.95.

    Examples
    --------
    >>> float(without_bias(0.4, 44))
    0.465
    """
    r = np.asarray(correlation, dtype=np.float64)
    n = np.asarray(count, dtype=np.float64)
    enough = n > 5
    raised = (r * n + 1.0) / np.where(enough, n - 4.0, 1.0)
    return np.asarray(np.where(enough, np.clip(raised, -LARGEST, LARGEST), np.nan))


def effective_size(count: ArrayLike, correlation: ArrayLike) -> NDArray[np.float64]:
    """Count the independent readings that would tell as much about a mean as n with lag-1 correlation r.

    n / (1 + 2 sum over k of (1 - k/n) r^k), summed in closed form; a negative r counts as zero, so that the
    answer never exceeds n.

    Parameters
    ----------
    count : array-like
        Readings [1], zero or above.
    correlation : array-like
        Lag-1 autocorrelation of each, below 1; NaN gives NaN.

    Returns
    -------
    float64 array
        Between 1 and n (0 for none).

    Raises
    ------
    OutOfRangeError
        For a negative count or a correlation of 1 or above.

    Examples
    --------
    >>> float(effective_size(100, 0.5).round(3))
    33.784
    """
    n = np.asarray(count, dtype=np.float64)
    r = np.asarray(correlation, dtype=np.float64)
    if np.any(n < 0):
        raise OutOfRangeError("count", "zero or above", float(np.min(n)))
    if np.any(r >= 1.0):
        raise OutOfRangeError("correlation", "below 1", float(np.nanmax(r)))
    r = np.maximum(r, 0.0)
    size = np.maximum(n, 1.0)
    tail = r / (1.0 - r) - r * (1.0 - r**size) / (size * (1.0 - r) ** 2)
    return np.asarray(np.minimum(n, n / (1.0 + 2.0 * tail)))


def _divide(top: ArrayLike, bottom: ArrayLike) -> NDArray[np.float64]:
    """Divide; NaN where the divisor is zero or missing."""
    numerator = np.asarray(top, dtype=np.float64)
    divisor = np.asarray(bottom, dtype=np.float64)
    known = np.abs(divisor) > 0.0
    return np.asarray(np.where(known, numerator / np.where(known, divisor, 1.0), np.nan))
