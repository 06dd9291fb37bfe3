"""Serial correlation, effective number and block bootstrap."""

import numpy as np
import pytest
from numpy.typing import NDArray
from statsmodels.tsa.stattools import acf

from models.errors import OutOfRangeError
from models.statistics.serial import (
    autocorrelation,
    effective_size,
    robust_autocorrelation,
    without_bias,
)


def _ar1(rho: float, count: int, rows: int, seed: int) -> NDArray[np.float64]:
    """Make stationary series of lag-1 correlation rho."""
    rng = np.random.default_rng(seed)
    values = rng.standard_normal((rows, count))
    for place in range(1, count):
        values[:, place] = rho * values[:, place - 1] + np.sqrt(1 - rho**2) * values[:, place]
    return values


@pytest.mark.parametrize("lag", [1, 2, 7])
def test_autocorrelation_is_the_librarys(lag: int) -> None:
    """Without gaps the estimate is statsmodels' acf."""
    values = _ar1(0.6, 80, 1, 0)[0]

    assert float(autocorrelation(values, lag)) == pytest.approx(float(acf(values, nlags=lag)[lag]), abs=1e-12)


@pytest.mark.parametrize("seed", range(3))
def test_gaps_do_not_bias(seed: int) -> None:
    """Dropping a third of the days leaves the estimate where it was."""
    values = _ar1(0.5, 4000, 1, seed)[0]
    values[np.random.default_rng(seed + 50).random(4000) < 1 / 3] = np.nan

    # Standard error at 1,800 pairs is about 0.02.
    assert float(autocorrelation(values)) == pytest.approx(0.5, abs=0.07)


def test_wild_readings_do_not_hide_memory() -> None:
    """Two readings in a hundred at ten sigma leave the robust estimate within a fifth."""
    values = _ar1(0.6, 3000, 1, 4)[0]
    values[::50] += 10.0

    assert float(autocorrelation(values)) < 0.3
    assert float(robust_autocorrelation(values)) == pytest.approx(0.6, abs=0.12)


def test_bias_is_taken_out() -> None:
    """Over many short series of correlation 0.4 the corrected mean is 0.4, the plain one is not."""
    values = _ar1(0.4, 30, 4000, 5)

    plain = autocorrelation(values)

    assert float(plain.mean()) < 0.35
    assert float(without_bias(plain, 30).mean()) == pytest.approx(0.4, abs=0.02)
    assert np.isnan(without_bias(0.4, 5))


def test_effective_number_is_the_variance_of_a_mean() -> None:
    """Means of 40 readings of correlation 0.5 vary like means of the effective number."""
    means = _ar1(0.5, 40, 20_000, 6).mean(axis=1)

    assert 1.0 / float(means.var()) == pytest.approx(float(effective_size(40, 0.5)), rel=0.05)


def test_effective_number_has_bounds() -> None:
    """None, one and negative correlation: 0, 1 and n."""
    np.testing.assert_array_equal(effective_size([0, 1, 20], [0.5, 0.9, -0.5]), [0.0, 1.0, 20.0])


@pytest.mark.parametrize(("count", "correlation"), [(-1, 0.0), (10, 1.0)])
def test_effective_number_refuses(count: int, correlation: float) -> None:
    """A negative count and a correlation of one are refused."""
    with pytest.raises(OutOfRangeError):
        effective_size(count, correlation)


def test_lag_of_zero_is_refused() -> None:
    """A lag below one is refused."""
    with pytest.raises(OutOfRangeError, match="lag"):
        autocorrelation([1.0, 2.0], 0)
