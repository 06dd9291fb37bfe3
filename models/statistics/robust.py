"""Scale, place and slope that a few wild readings cannot move.

One idea: use ranks instead of squares. All functions take one series or many as rows and skip NaN.

References
----------
P. J. Rousseeuw, C. Croux, Alternatives to the median absolute deviation, JASA 88 (1993) 1273-1283.
NIST/SEMATECH e-Handbook of Statistical Methods 1.3.5.17.
H. Theil 1950; P. K. Sen, JASA 63 (1968) 1379-1389.
"""

from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.statistics.arguments import as_columns, as_times, demand_positive

MAD_CONSISTENCY: Final = 1.482602218505602
"""1 / Phi^-1(0.75) [1]: makes the median absolute deviation estimate a normal standard deviation."""

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
        Smallest answer [unit of values].

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
