"""Does a series drift, and how fast: rank tests and straight lines that allow for serial correlation.

The rule for serial correlation, fixed for every test here: the lag-1 autocorrelation r of the residuals
around the fitted line is carried on geometrically (an AR(1) process), and the variance is multiplied by
1 + 2 sum over k of (1 - k/n) r^k, never by less than 1. A correction may cost significance, never lend it.

References
----------
USEPA, Statistical Analysis of Groundwater Monitoring Data, Unified Guidance (2009), chapters 17 and 21.
R. O. Gilbert, Statistical Methods for Environmental Pollution Monitoring (1987), 16.5 (from memory).
S. Yue, C. Wang, Water Resources Management 18 (2004) 201-218 (from memory).
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

from models.errors import OutOfRangeError, ShapeError
from models.statistics.arguments import as_columns, as_times, demand_share
from models.statistics.robust import middle, pair_slopes
from models.statistics.serial import effective_size, without_bias


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SenTrend:
    """Sen slopes of V series, each with its interval.

    Parameters
    ----------
    slope, low, high : float64 array of shape (V,)
        Median of the pair slopes and its interval [unit / day]; NaN with fewer than two readings.
    intercept : float64 array of shape (V,)
        Median reading less slope times median time [unit].
    count : int64 array of shape (V,)
        Readings behind each.
    """

    slope: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    intercept: NDArray[np.float64]
    count: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MannKendall:
    """Mann-Kendall tests of V series.

    Parameters
    ----------
    s : float64 array of shape (V,)
        Rises less falls over all pairs [1].
    variance : float64 array of shape (V,)
        Variance of S without trend, ties and serial correlation allowed for.
    z, p : float64 array of shape (V,)
        Continuity-corrected normal score and two-sided p-value; NaN with fewer than three readings; z 0
        and p 1 for a constant series.
    tau : float64 array of shape (V,)
        S over the number of pairs (Kendall's tau-a).
    factor : float64 array of shape (V,)
        What the variance was multiplied by for serial correlation, 1 or more.
    """

    s: NDArray[np.float64]
    variance: NDArray[np.float64]
    z: NDArray[np.float64]
    p: NDArray[np.float64]
    tau: NDArray[np.float64]
    factor: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class LineFit:
    """A straight line by weighted least squares.

    Parameters
    ----------
    slope, intercept : float
        [unit / day], [unit at time 0].
    slope_error : float
        Standard error of the slope [unit / day], inflated for serial correlation.
    noise : float
        Residual standard deviation at weight 1 [unit].
    r_squared : float
        Explained share of the weighted variance [1]; NaN for a constant series.
    count : int
        Readings used.
    effective : float
        Independent readings they are worth [1].
    correlation : float
        Lag-1 autocorrelation allowed for [1].
    """

    slope: float
    intercept: float
    slope_error: float
    noise: float
    r_squared: float
    count: int
    effective: float
    correlation: float

    def interval(self, confidence: float) -> tuple[float, float]:
        """Give the slope's interval by Student's t with the effective number less two degrees of freedom.

        Parameters
        ----------
        confidence : float
            Share of such intervals that hold the true slope [1].

        Returns
        -------
        tuple of float
            Low and high end [unit / day].
        """
        demand_share(confidence, "confidence")
        freedom = max(1.0, self.effective - 2.0)
        reach = float(special.stdtrit(freedom, 0.5 + 0.5 * confidence)) * self.slope_error
        return self.slope - reach, self.slope + reach


def sen_trend(times: ArrayLike, values: ArrayLike, *, confidence: float = 0.95) -> SenTrend:
    """Fit Sen slopes with the interval that Gilbert reads off interpolated ranks.

    Parameters
    ----------
    times : array-like of shape (n,)
        Times shared by all series, in any order [days].
    values : array-like of shape (n,) or (V, n)
        Readings; NaN marks a missing one.
    confidence : float
        Share of such intervals that hold the true slope of independent readings [1].

    Returns
    -------
    SenTrend
        With V = 1 for a single series. Where the ranks fall outside the pairs there are (few readings), the
        interval ends at the least and greatest pair slope.

    Raises
    ------
    ShapeError, OutOfRangeError
        When times do not fit the values, or the confidence is no share.

    Examples
    --------
    >>> t = [89.6, 90.1, 90.8, 91.1, 92.1, 93.1, 94.1, 95.6, 96.1, 96.3]
    >>> fit = sen_trend(t, [56, 53, 51, 55, 52, 60, 62, 59, 61, 63])
    >>> [float(part[0].round(7)) for part in (fit.slope, fit.intercept, fit.low, fit.high)]
    [1.3333333, -65.9666667, 0.3992083, 2.3333333]
    """
    columns = np.atleast_2d(as_columns(values))
    reach = float(special.ndtri(0.5 + 0.5 * demand_share(confidence, "confidence")))
    half_ranks = reach * np.sqrt(_independent_variance(columns))
    slope, low, high = (np.full(len(columns), np.nan) for _ in range(3))
    for rows, slopes, pairs in pair_slopes(times, columns):
        total = pairs.astype(np.float64)
        slope[rows] = _at_rank(slopes, pairs, 0.5 * (total + 1.0))
        low[rows] = _at_rank(slopes, pairs, 0.5 * (total - half_ranks[rows]))
        high[rows] = _at_rank(slopes, pairs, 0.5 * (total + half_ranks[rows]) + 1.0)
    axis = np.where(np.isnan(columns), np.nan, as_times(times, columns.shape[1]))
    count = np.count_nonzero(~np.isnan(columns), axis=1)
    return SenTrend(
        slope=slope, low=low, high=high, intercept=middle(columns) - slope * middle(axis), count=count
    )


def mann_kendall(times: ArrayLike, values: ArrayLike, *, correlation: ArrayLike = 0.0) -> MannKendall:
    """Test series for a monotone trend by counting rises and falls.

    The p-value is that of the normal approximation with ties and continuity allowed for, not the exact one.

    Parameters
    ----------
    times : array-like of shape (n,)
        Times shared by all series, in any order [days]; readings of equal time form no pair.
    values : array-like of shape (n,) or (V, n)
        Readings; NaN marks a missing one.
    correlation : array-like of shape () or (V,)
        Lag-1 autocorrelation of the residuals around the trend, below 1; NaN and negative count as 0.

    Returns
    -------
    MannKendall
        With V = 1 for a single series.

    Raises
    ------
    ShapeError, OutOfRangeError
        When times do not fit the values or a correlation is 1 or above.

    Examples
    --------
    >>> test = mann_kendall(range(100), range(1, 101))
    >>> float(test.s[0]), float(test.variance[0]), float(test.z[0].round(6))
    (4950.0, 112750.0, 14.7387)
    """
    columns = np.atleast_2d(as_columns(values))
    count = np.count_nonzero(~np.isnan(columns), axis=1).astype(np.float64)
    s = np.zeros(len(columns))
    pairs = np.zeros(len(columns))
    for rows, slopes, there in pair_slopes(times, columns):
        s[rows] = np.count_nonzero(slopes > 0.0, axis=1) - np.count_nonzero(slopes < 0.0, axis=1)
        pairs[rows] = there
    r = np.broadcast_to(np.nan_to_num(np.asarray(correlation, dtype=np.float64)), count.shape)
    factor = np.maximum(count, 1.0) / np.maximum(effective_size(np.maximum(count, 1.0), r), 1.0)
    variance = _independent_variance(columns) * factor
    enough = count >= 3
    moved = enough & (variance > 0.0)
    z = np.zeros(len(columns))
    np.divide(np.sign(s) * (np.abs(s) - 1.0), np.sqrt(variance), out=z, where=moved & (s != 0.0))
    z = np.where(enough, z, np.nan)
    tau = np.divide(s, pairs, out=np.full(len(columns), np.nan), where=pairs > 0)
    return MannKendall(s=s, variance=variance, z=z, p=2.0 * special.ndtr(-np.abs(z)), tau=tau, factor=factor)


def fit_line(
    times: ArrayLike,
    values: ArrayLike,
    weights: ArrayLike | None = None,
    *,
    correlation: float | None = 0.0,
) -> LineFit:
    """Fit a straight line by weighted least squares, with a standard error that allows for memory.

    Parameters
    ----------
    times, values : array-like of shape (n,)
        Times in any order [days] and readings; NaN marks a missing reading.
    weights : array-like of shape (n,), optional
        One over the relative variance of each reading, above zero where used; None weighs all alike.
    correlation : float or None
        Lag-1 autocorrelation of the residuals, below 1; None estimates it from neighbouring residuals in
        order of time and takes out its bias (negative counts as 0).

    Returns
    -------
    LineFit
        NaN slope with fewer than two times, NaN error with fewer than three readings.

    Raises
    ------
    ShapeError, OutOfRangeError
        When the shapes differ, a weight is negative or the correlation is 1 or above.

    Examples
    --------
    >>> fit = fit_line([0, 1, 2, 3, 4], [1.0, 3.1, 4.9, 7.0, 9.0])
    >>> round(fit.slope, 2), round(fit.intercept, 2), round(fit.slope_error, 4)
    (1.99, 1.02, 0.0252)
    """
    column = as_columns(values)
    if column.ndim != 1:
        raise ShapeError("values", "one axis (n,)", column.shape)
    axis = as_times(times, len(column))
    weight = np.ones(len(column)) if weights is None else as_columns(weights, "weights")
    if weight.shape != column.shape:
        raise ShapeError("weights", f"the shape of values {column.shape}", weight.shape)
    if np.any(weight < 0.0):
        raise OutOfRangeError("weights", "zero or above", float(np.nanmin(weight)))
    kept = ~np.isnan(column) & (weight > 0.0)
    order = np.argsort(axis[kept], kind="stable")
    return _least_squares(axis[kept][order], column[kept][order], weight[kept][order], correlation)


def _least_squares(
    axis: NDArray[np.float64],
    column: NDArray[np.float64],
    weight: NDArray[np.float64],
    correlation: float | None,
) -> LineFit:
    """Fit readings that are all there and in order of time."""
    count = len(column)
    nan = math.nan
    if count == 0 or axis[0] == axis[-1]:
        return LineFit(
            slope=nan, intercept=nan, slope_error=nan, noise=nan, r_squared=nan,
            count=count, effective=float(count), correlation=nan if correlation is None else correlation,
        )  # fmt: skip
    total = weight.sum()
    centre, level = weight @ axis / total, weight @ column / total
    away = axis - centre
    leverage = weight @ (away * away)
    slope = weight @ (away * (column - level)) / leverage
    residual = column - level - slope * away
    left, spread = weight @ (residual * residual), weight @ ((column - level) ** 2)
    if correlation is None:
        correlation = _residual_correlation(np.sqrt(weight) * residual)
    effective = float(effective_size(count, correlation))
    noise = math.sqrt(left / (count - 2)) if count > 2 else nan
    return LineFit(
        slope=float(slope),
        intercept=float(level - slope * centre),
        slope_error=noise / math.sqrt(leverage) * math.sqrt(count / effective),
        noise=noise,
        r_squared=float(1.0 - left / spread) if spread > 0.0 else nan,
        count=count,
        effective=effective,
        correlation=float(correlation),
    )


def _residual_correlation(residual: NDArray[np.float64]) -> float:
    """Estimate lag-1 autocorrelation of residuals in order of time; 0 where unknown or negative."""
    square = residual @ residual
    if square <= 0.0:
        return 0.0
    raised = float(without_bias(residual[1:] @ residual[:-1] / square, len(residual)))
    return max(0.0, raised) if math.isfinite(raised) else 0.0


def _independent_variance(columns: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give Var(S) of independent readings, ties allowed for: [n(n-1)(2n+5) - sum t(t-1)(2t+5)] / 18."""
    ascending = np.sort(columns, axis=1)
    n = np.count_nonzero(~np.isnan(ascending), axis=1).astype(np.float64)
    if ascending.shape[1] == 0:
        return np.zeros(len(columns))
    starts = np.ones(ascending.shape, dtype=bool)
    starts[:, 1:] = ascending[:, 1:] != ascending[:, :-1]
    group = np.cumsum(starts.ravel()) - 1
    size = np.bincount(group, weights=(~np.isnan(ascending)).ravel())
    owner = np.nonzero(starts)[0]
    ties = np.bincount(owner, weights=size * (size - 1.0) * (2.0 * size + 5.0), minlength=len(columns))
    return np.asarray((n * (n - 1.0) * (2.0 * n + 5.0) - ties) / 18.0)


def _at_rank(
    ascending: NDArray[np.float64], count: NDArray[np.int64], rank: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Read sorted rows at a rank counted from 1, interpolating between neighbours and held inside the row."""
    if ascending.shape[1] == 0:
        return np.full(len(ascending), np.nan)
    last = np.maximum(count - 1, 0)
    place = np.clip(rank - 1.0, 0.0, last)
    below = np.floor(place).astype(np.int64)
    above = np.minimum(below + 1, last)
    low = np.take_along_axis(ascending, below[:, np.newaxis], 1)[:, 0]
    high = np.take_along_axis(ascending, above[:, np.newaxis], 1)[:, 0]
    return np.asarray(np.where(count > 0, low + (place - below) * (high - low), np.nan))
