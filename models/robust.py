"""Scale, place and slope that a few wild readings cannot move.

One idea: use ranks instead of squares. All functions take one series or many as rows and skip NaN.

References
----------
P. J. Rousseeuw, C. Croux, Alternatives to the median absolute deviation, JASA 88 (1993) 1273-1283.
B. Iglewicz, D. C. Hoaglin, How to Detect and Handle Outliers, ASQC 1993.
NIST/SEMATECH e-Handbook of Statistical Methods 1.3.5.17.
H. Theil 1950; P. K. Sen, JASA 63 (1968) 1379-1389.
"""

from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import ArrayLike, NDArray

from models.arguments import as_columns, as_times, demand_positive
from models.errors import OutOfRangeError, ShapeError

MAD_CONSISTENCY: Final = 1.482602218505602
"""1 / Phi^-1(0.75) [1]: makes the median absolute deviation estimate a normal standard deviation."""

MODIFIED_Z_FACTOR: Final = 0.6745
"""Phi^-1(0.75) as Iglewicz and Hoaglin round it [1]."""

CHUNK_ELEMENTS: Final = 4_000_000
"""Most pair slopes held at once [1], 32 MB; chosen by us to stay inside a small machine's memory."""


def middle(values: ArrayLike) -> NDArray[np.float64]:
    """Take the median along the last axis.

    Parameters
    ----------
    values : array-like of shape (n,) or (V, n)
        Readings in any one unit; NaN marks a missing one.

    Returns
    -------
    float64 array of shape () or (V,)
        Median of what is there; NaN where nothing is.

    Examples
    --------
    >>> middle([[1.0, 9.0, np.nan], [np.nan, np.nan, np.nan]])
    array([ 5., nan])
    """
    columns = np.sort(as_columns(values), axis=-1)
    return _median_of_sorted(columns)


def mad_sigma(values: ArrayLike, *, floor: float = 0.0) -> NDArray[np.float64]:
    """Estimate the standard deviation from the median absolute deviation.

    Parameters
    ----------
    values : array-like of shape (n,) or (V, n)
        Readings in any one unit; NaN marks a missing one.
    floor : float
        Smallest answer [unit of values]; see `half_step`.

    Returns
    -------
    float64 array of shape () or (V,)
        Sigma [unit of values]; NaN where no value is; `floor` for a single or constant one.

    Raises
    ------
    OutOfRangeError
        For a negative floor.

    Examples
    --------
    >>> float(mad_sigma([1, 1, 2, 2, 4, 6, 9]))
    1.482602218505602
    """
    demand_positive(floor, "floor", zero=True)
    columns = as_columns(values)
    away = np.abs(columns - middle(columns)[..., np.newaxis])
    return np.asarray(np.maximum(MAD_CONSISTENCY * middle(away), floor))


def half_step(step: float) -> float:
    """Give the least sigma to believe for readings that come in steps.

    A series that rests on one count has a MAD of zero, which would make the next count an infinite
    surprise. Half a step is wider than the step's own rounding error (step / sqrt(12) = 0.29 step).

    Parameters
    ----------
    step : float
        Distance of neighbouring levels [unit of the values]; 0.78125 % for a fuel trim.

    Returns
    -------
    float

    Raises
    ------
    OutOfRangeError
        For a step that is negative or not finite.

    Examples
    --------
    >>> half_step(0.78125)
    0.390625
    """
    return 0.5 * demand_positive(step, "step", zero=True)


def modified_z(values: ArrayLike, *, floor: float = 0.0) -> NDArray[np.float64]:
    """Standardise by median and MAD, after Iglewicz and Hoaglin; 3.5 is their mark of an outlier.

    Parameters
    ----------
    values : array-like of shape (n,) or (V, n)
        Readings in any one unit; NaN marks a missing one.
    floor : float
        Least median absolute deviation to divide by [unit of values].

    Returns
    -------
    float64 array of the same shape
        Modified z [1]; NaN where the value is missing or where more than half the values are equal and no
        floor is given: with no spread nothing can be said.

    Examples
    --------
    >>> modified_z([2.1, 2.6, 2.4, 2.5, 2.3, 2.1, 2.3, 2.6, 8.2, 8.3])[-2:].round(3)
    array([25.856, 26.305])
    """
    demand_positive(floor, "floor", zero=True)
    columns = as_columns(values)
    gap = columns - middle(columns)[..., np.newaxis]
    spread = np.maximum(middle(np.abs(gap)), floor)[..., np.newaxis]
    answer = np.full(columns.shape, np.nan)
    np.divide(MODIFIED_Z_FACTOR * gap, spread, out=answer, where=spread > 0.0)
    return answer


def clip_to_neighbours(
    values: ArrayLike, sigma: ArrayLike, *, window: int = 14, width: float = 2.5
) -> NDArray[np.float64]:
    """Pull wild readings to the trailing median plus or minus some sigmas, before a chart sees them.

    The median looks back only (the reading itself included), so that an evaluation of the past and the
    nightly one see the same clipped values.

    Parameters
    ----------
    values : array-like of shape (n,) or (V, n)
        Residuals in time order, one a day; NaN marks a missing one.
    sigma : array-like of shape () or (V,)
        Standard deviation of one reading [unit of values]; NaN leaves the series as it is.
    window : int
        Readings that the median spans, gaps included [days].
    width : float
        Allowed distance [sigma].

    Returns
    -------
    float64 array of the same shape
        NaN stays NaN.

    Raises
    ------
    OutOfRangeError
        For a window below 1 or a width that is not positive.

    Examples
    --------
    >>> clip_to_neighbours([0.0, 0.2, -0.1, 9.0, 0.1], 0.2, window=5).round(3)
    array([ 0. ,  0.2, -0.1,  0.6,  0.1])
    """
    if window < 1:
        raise OutOfRangeError("window", "at least 1", window)
    demand_positive(width, "width")
    columns = as_columns(values)
    reach = np.asarray(width * np.asarray(sigma, dtype=np.float64))[..., np.newaxis]
    reach = np.where(np.isfinite(reach), reach, np.inf)
    padded = np.concatenate([np.full((*columns.shape[:-1], window - 1), np.nan), columns], axis=-1)
    if columns.shape[-1] == 0:
        return columns
    centre = _median_of_sorted(np.sort(sliding_window_view(padded, window, axis=-1), axis=-1))
    return np.asarray(np.clip(columns, centre - reach, centre + reach))


def weighted_median(values: ArrayLike, weights: ArrayLike) -> float:
    """Take the median of values that count differently.

    Parameters
    ----------
    values : array-like of shape (n,)
        Readings in any one unit; NaN marks a missing one.
    weights : array-like of shape (n,)
        Weight of each [any unit], zero or above; NaN counts as zero.

    Returns
    -------
    float
        The value at which half the weight is reached, or the middle of two where exactly half lies below;
        NaN without weight.

    Raises
    ------
    ShapeError
        When the shapes differ or are not one axis.
    OutOfRangeError
        For a negative weight.

    Examples
    --------
    >>> weighted_median([1.0, 2.0, 10.0], [1, 1, 3])
    10.0
    >>> weighted_median([1.0, 2.0, 3.0, 4.0], [1, 1, 1, 1])
    2.5
    """
    column = as_columns(values)
    weight = as_columns(weights, "weights")
    if column.ndim != 1 or column.shape != weight.shape:
        raise ShapeError("weights", f"the shape of values {column.shape}, one axis", weight.shape)
    if np.any(weight < 0.0):
        raise OutOfRangeError("weights", "zero or above", float(np.nanmin(weight)))
    kept = ~np.isnan(column) & (weight > 0.0)
    if not kept.any():
        return float("nan")
    order = np.argsort(column[kept], kind="stable")
    ordered = column[kept][order]
    reached = np.cumsum(weight[kept][order])
    half = 0.5 * reached[-1]
    place = int(np.searchsorted(reached, half, side="left"))
    if reached[place] == half and place + 1 < len(ordered):
        return float(0.5 * (ordered[place] + ordered[place + 1]))
    return float(ordered[place])


def pair_slopes(
    times: ArrayLike, values: ArrayLike
) -> Iterator[tuple[slice, NDArray[np.float64], NDArray[np.int64]]]:
    """Walk the slopes between all pairs of readings, some series at a time.

    Parameters
    ----------
    times : array-like of shape (n,)
        Times shared by all series, in any order [days]; pairs of equal time have no slope and are left out.
    values : array-like of shape (V, n)
        Readings; NaN marks a missing one.

    Yields
    ------
    rows : slice
        Which series.
    slopes : float64 array of shape (rows, pairs)
        Their slopes, ascending [unit / day]; missing ones are NaN at the end.
    count : int64 array of shape (rows,)
        How many of them there are.

    Examples
    --------
    >>> [(rows.stop, slopes, count) for rows, slopes, count in pair_slopes([0, 1, 3], [[0, 2, 3]])]
    [(1, array([[0.5, 1. , 2. ]]), array([3]))]
    """
    columns = np.atleast_2d(as_columns(values))
    axis = as_times(times, columns.shape[1])
    first, second = np.triu_indices(len(axis), 1)
    span = axis[second] - axis[first]
    usable = span != 0.0
    first, second, span = first[usable], second[usable], span[usable]
    rows = max(1, CHUNK_ELEMENTS // max(1, len(span)))
    for start in range(0, len(columns), rows):
        part = slice(start, min(start + rows, len(columns)))
        slopes = (columns[part][:, second] - columns[part][:, first]) / span
        slopes.sort(axis=1)
        yield part, slopes, np.count_nonzero(~np.isnan(slopes), axis=1)


def theil_sen(times: ArrayLike, values: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Fit straight lines by the median of all pair slopes.

    Parameters
    ----------
    times : array-like of shape (n,)
        Times shared by all series, in any order [days].
    values : array-like of shape (n,) or (V, n)
        Readings; NaN marks a missing one.

    Returns
    -------
    slope : float64 array of shape () or (V,)
        [unit / day]; NaN with fewer than two readings of different time.
    intercept : float64 array of shape () or (V,)
        Median reading less slope times median time of the readings there are [unit], at time 0.

    Raises
    ------
    ShapeError, OutOfRangeError
        When times do not fit the values or are not finite.

    References
    ----------
    Sen 1968, whose own example this is.

    Examples
    --------
    >>> slope, intercept = theil_sen([1, 2, 3, 4, 10, 12, 18], [9, 15, 19, 20, 45, 55, 78])
    >>> float(slope), float(intercept)
    (4.0, 4.0)
    """
    given = as_columns(values)
    columns = np.atleast_2d(given)
    slope = np.full(len(columns), np.nan)
    for rows, slopes, _ in pair_slopes(times, columns):
        slope[rows] = _median_of_sorted(slopes)
    axis = np.where(np.isnan(columns), np.nan, as_times(times, columns.shape[1]))
    intercept = middle(columns) - slope * middle(axis)
    shape = given.shape[:-1]
    return slope.reshape(shape), intercept.reshape(shape)


def _median_of_sorted(ascending: NDArray[np.float64]) -> NDArray[np.float64]:
    """Take medians along the last axis of arrays sorted with NaN at the end."""
    if ascending.shape[-1] == 0:
        return np.full(ascending.shape[:-1], np.nan)
    count = np.count_nonzero(~np.isnan(ascending), axis=-1)
    low = np.maximum((count - 1) // 2, 0)[..., np.newaxis]
    high = np.minimum(count // 2, ascending.shape[-1] - 1)[..., np.newaxis]
    pair = np.take_along_axis(ascending, low, -1) + np.take_along_axis(ascending, high, -1)
    answer = np.asarray(0.5 * pair[..., 0])
    return np.where(count > 0, answer, np.nan)
