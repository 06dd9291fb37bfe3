"""Trend tests and lines."""

import numpy as np
import pymannkendall
import pytest
import statsmodels.api as sm
from numpy.typing import NDArray

from models.errors import OutOfRangeError, ShapeError
from models.statistics.trend import fit_line, mann_kendall, sen_trend


def _ar1(rho: float, count: int, rows: int, seed: int) -> NDArray[np.float64]:
    """Make stationary series of lag-1 correlation rho."""
    values = np.random.default_rng(seed).standard_normal((rows, count))
    for place in range(1, count):
        values[:, place] = rho * values[:, place - 1] + np.sqrt(1 - rho**2) * values[:, place]
    return values


@pytest.mark.parametrize("digits", [0, 1, 6])
def test_mann_kendall_is_the_librarys(digits: int) -> None:
    """S, variance with ties, Z, p and slope agree with pymannkendall, however coarse the readings."""
    values = np.round(np.random.default_rng(digits).normal(0, 2, 40) + 0.05 * np.arange(40), digits)

    ours, oracle = mann_kendall(np.arange(40), values), pymannkendall.original_test(values)

    assert float(ours.s[0]) == oracle.s
    assert float(ours.variance[0]) == pytest.approx(oracle.var_s)
    assert float(ours.z[0]) == pytest.approx(oracle.z)
    assert float(ours.p[0]) == pytest.approx(oracle.p)
    assert float(sen_trend(np.arange(40), values).slope[0]) == pytest.approx(oracle.slope)


def test_correction_holds_the_false_alarms() -> None:
    """Of trendless series of correlation 0.5, the plain test shouts four times too often, ours does not."""
    values = _ar1(0.5, 60, 1500, 2)

    plain = mann_kendall(np.arange(60), values).p < 0.05
    honest = mann_kendall(np.arange(60), values, correlation=0.5).p < 0.05

    assert float(plain.mean()) > 0.15
    # Binomial standard error at 0.05 is 0.006.
    assert float(honest.mean()) == pytest.approx(0.05, abs=0.025)


def test_sen_interval_covers() -> None:
    """Of lines with independent noise about 80 % of the 80 % intervals hold the true slope."""
    values = 0.2 * np.arange(40) + np.random.default_rng(3).normal(size=(1500, 40))

    fit = sen_trend(np.arange(40), values, confidence=0.80)

    assert float(np.mean((fit.low <= 0.2) & (fit.high >= 0.2))) == pytest.approx(0.80, abs=0.04)


def test_few_readings_end_at_the_pairs() -> None:
    """Three readings cannot give ranks beyond their three slopes: the interval is their range."""
    fit = sen_trend([0, 1, 2], [0.0, 1.0, 5.0])

    assert (float(fit.low[0]), float(fit.high[0]), int(fit.count[0])) == (1.0, 4.0, 3)


def test_equal_times_form_no_pair() -> None:
    """Two readings at one time say nothing about a slope."""
    assert np.isnan(sen_trend([5.0, 5.0], [1.0, 2.0]).slope[0])
    assert np.isnan(fit_line([5.0, 5.0], [1.0, 2.0]).slope)


def test_weighted_line_is_the_librarys() -> None:
    """Slope, intercept, error and R squared agree with statsmodels' weighted least squares."""
    rng = np.random.default_rng(4)
    days, weights = np.sort(rng.uniform(0, 50, 30)), rng.uniform(0.2, 3.0, 30)
    values = 2.0 - 0.3 * days + rng.normal(size=30) / np.sqrt(weights)

    ours = fit_line(days, values, weights)
    oracle = sm.WLS(values, sm.add_constant(days), weights=weights).fit()

    assert ours.intercept == pytest.approx(oracle.params[0], rel=1e-10)
    assert ours.slope == pytest.approx(oracle.params[1], rel=1e-10)
    assert ours.slope_error == pytest.approx(oracle.bse[1], rel=1e-10)
    assert ours.r_squared == pytest.approx(oracle.rsquared, rel=1e-10)
    assert ours.interval(0.9) == pytest.approx(tuple(oracle.conf_int(alpha=0.1)[1]), rel=1e-9)


def test_memory_widens_the_line() -> None:
    """With correlated noise the plain 80 % interval covers far too seldom, the honest one nearly."""
    values = _ar1(0.6, 60, 400, 5)

    covered = {
        rho: float(np.mean([np.prod(fit_line(np.arange(60), row, correlation=rho).interval(0.8)) < 0
                            for row in values]))
        for rho in (0.0, None)
    }  # fmt: skip

    assert covered[0.0] < 0.55
    assert covered[None] > 0.68


def test_estimated_memory_is_reported() -> None:
    """The fit says which correlation it allowed for and how many readings are left."""
    fit = fit_line(np.arange(200), _ar1(0.5, 200, 1, 6)[0], correlation=None)

    assert fit.correlation == pytest.approx(0.5, abs=0.2)
    assert fit.effective < 120
    assert fit.count == 200


def test_a_perfect_line() -> None:
    """Readings exactly on a line have no error and no correlation to estimate."""
    fit = fit_line([0, 1, 2, 3], [1.0, 3.0, 5.0, 7.0], correlation=None)

    assert (fit.slope, fit.slope_error, fit.correlation, fit.r_squared) == (2.0, 0.0, 0.0, 1.0)


def test_two_points_have_no_error() -> None:
    """Two readings give a slope and no claim about its error; none give nothing."""
    fit = fit_line([0, 2], [1.0, 5.0])

    assert fit.slope == 2.0
    assert np.isnan(fit.slope_error)
    assert np.isnan(fit_line([], []).slope)


def test_lines_refuse() -> None:
    """Weights of another shape or below zero, rows, correlations of one and wrong lags are refused."""
    with pytest.raises(ShapeError, match="weights"):
        fit_line([0, 1], [1.0, 2.0], [1.0])
    with pytest.raises(OutOfRangeError, match="weights"):
        fit_line([0, 1], [1.0, 2.0], [1.0, -1.0])
    with pytest.raises(ShapeError, match="values"):
        fit_line([0, 1], [[1.0, 2.0]])
    with pytest.raises(OutOfRangeError, match="correlation"):
        fit_line([0, 1, 2], [1.0, 2.0, 4.0], correlation=1.0)
    with pytest.raises(OutOfRangeError, match="confidence"):
        sen_trend([0, 1], [0, 1], confidence=1.0)
