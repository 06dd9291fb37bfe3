"""Many looks at once: how many of the things shown are chance.

One idea: a p-value says nothing until it is known how many were looked at. Tickets are sized by run lengths,
not by these; what stands here puts "of these n, about so many are chance" on a page and gives scores without
a distribution a p-value.

References
----------
Y. Benjamini, Y. Hochberg, J. R. Statist. Soc. B 57 (1995) 289-300.
V. Vovk, A. Gammerman, G. Shafer, Algorithmic Learning in a Random World (2005), from memory.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.errors import OutOfRangeError, ShapeError
from models.statistics.arguments import as_columns, demand_share


def benjamini_hochberg(p_values: ArrayLike) -> NDArray[np.float64]:
    """Adjust p-values so that rejecting those up to q keeps the expected false share at or below q.

    Parameters
    ----------
    p_values : array-like of shape (n,)
        Each from 0 to 1; NaN marks a test that was not made and is not counted.

    Returns
    -------
    float64 array of shape (n,)
        Adjusted values in the same order; NaN stays.

    Raises
    ------
    ShapeError, OutOfRangeError
        With other than one axis or a value outside 0..1.

    Examples
    --------
    >>> benjamini_hochberg([0.04, 0.01, 0.5]).round(3)
    array([0.06, 0.03, 0.5 ])
    """
    p = _one_axis(p_values, "p_values")
    if np.any((p < 0.0) | (p > 1.0)):
        raise OutOfRangeError("p_values", "from 0 to 1", float(p[(p < 0.0) | (p > 1.0)][0]))
    adjusted = np.full(p.shape, np.nan)
    known = np.flatnonzero(~np.isnan(p))
    order = known[np.argsort(p[known], kind="stable")]
    scaled = p[order] * len(order) / np.arange(1, len(order) + 1)
    adjusted[order] = np.minimum(1.0, np.minimum.accumulate(scaled[::-1])[::-1])
    return adjusted


def expected_false_share(p_values: ArrayLike, threshold: float) -> float:
    """Estimate which share of the tests shown at a threshold is chance, were all tests chance.

    Parameters
    ----------
    p_values : array-like of shape (n,)
        Each from 0 to 1; NaN marks a test that was not made.
    threshold : float
        Everything up to this p is shown.

    Returns
    -------
    float
        n * threshold over the number shown, at most 1; NaN when nothing is shown.

    Raises
    ------
    ShapeError, OutOfRangeError
        With other than one axis or a threshold outside 0..1.

    Examples
    --------
    >>> round(expected_false_share([0.001, 0.004, 0.2, 0.6, 0.9], 0.01), 3)
    0.025
    """
    demand_share(threshold, "threshold", ends=True)
    p = _one_axis(p_values, "p_values")
    shown = int(np.count_nonzero(p <= threshold))
    if shown == 0:
        return float("nan")
    return min(1.0, int(np.count_nonzero(~np.isnan(p))) * threshold / shown)


def conformal_p(calibration: ArrayLike, scores: ArrayLike) -> NDArray[np.float64]:
    """Give scores a p-value by counting calibration scores that are at least as strange.

    Valid when the new row and the calibration rows could be exchanged and none of them trained the score.

    Parameters
    ----------
    calibration : array-like of shape (n,)
        Scores of sound rows, larger is stranger; NaN is not counted.
    scores : array-like of shape (m,)
        New scores; NaN stays NaN.

    Returns
    -------
    float64 array of shape (m,)
        (number at least as large + 1) / (n + 1); never below 1 / (n + 1).

    Raises
    ------
    ShapeError
        With other than one axis.

    Examples
    --------
    >>> conformal_p([0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9], [0.95, 0.9, 0.55, 0.05])
    array([0.1, 0.2, 0.5, 1. ])
    """
    known = _one_axis(calibration, "calibration")
    known = np.sort(known[~np.isnan(known)])
    new = _one_axis(scores, "scores")
    stranger = len(known) - np.searchsorted(known, new, side="left")
    return np.where(np.isnan(new), np.nan, (stranger + 1.0) / (len(known) + 1.0))


def conformal_p_within(scores: ArrayLike) -> NDArray[np.float64]:
    """Give each row of one group a p-value against all the others.

    Parameters
    ----------
    scores : array-like of shape (n,)
        Larger is stranger; NaN stays NaN and is not counted.

    Returns
    -------
    float64 array of shape (n,)
        Share of the rows, itself included, that are at least as strange. The strangest row always gets 1 / n:
        it ranks rows and does not say that any is faulty.

    Raises
    ------
    ShapeError
        With other than one axis.

    Examples
    --------
    >>> conformal_p_within([0.2, 0.9, 0.4, 0.4])
    array([1.  , 0.25, 0.75, 0.75])
    """
    given = _one_axis(scores, "scores")
    known = np.sort(given[~np.isnan(given)])
    stranger = len(known) - np.searchsorted(known, given, side="left")
    return np.where(np.isnan(given), np.nan, stranger / max(1, len(known)))


def _one_axis(values: ArrayLike, name: str) -> NDArray[np.float64]:
    """Copy into float64 and demand one axis."""
    column = as_columns(values, name)
    if column.ndim != 1:
        raise ShapeError(name, "one axis (n,)", column.shape)
    return column
