"""Trend tests and straight lines against worked examples with published answers."""

import numpy as np
import pytest

from models.statistics.robust import pair_slopes
from models.statistics.trend import fit_line, mann_kendall, sen_trend

EPA_TIME = [89.6, 90.1, 90.8, 91.1, 92.1, 93.1, 94.1, 95.6, 96.1, 96.3]
EPA_VALUE = [56, 53, 51, 55, 52, 60, 62, 59, 61, 63]
"""USEPA Unified Guidance 2009, Examples 17-7 and 21-8 (in the scripts of the R package EnvStats).

Example 17-6 is not tested: only six of its 23 rows are at hand."""

NORRIS_X = [
    0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4,
    0.6, 775.5, 666.9, 338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3,
    0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5,
]  # fmt: skip
NORRIS_Y = [
    0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3,
    0.1, 778.1, 668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3,
    0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2,
]  # fmt: skip
"""NIST Statistical Reference Datasets, Norris."""


def test_epa_mann_kendall() -> None:
    """S 25, Var(S) 125, Z 2.146625, two-sided p 0.03182313, tau 0.5555556."""
    test = mann_kendall(EPA_TIME, EPA_VALUE)

    assert float(test.s[0]) == 25.0
    assert float(test.variance[0]) == pytest.approx(125.0)
    assert float(test.z[0]) == pytest.approx(2.146625, abs=5e-7)
    assert float(test.p[0]) == pytest.approx(0.03182313, abs=5e-9)
    assert float(test.tau[0]) == pytest.approx(0.5555556, abs=5e-8)


def test_epa_sen_slope() -> None:
    """Slope 1.3333333, intercept -65.9666667, 95 % interval by Gilbert's ranks 0.3992083..2.3333333."""
    fit = sen_trend(EPA_TIME, EPA_VALUE)

    assert float(fit.slope[0]) == pytest.approx(1.3333333, abs=5e-8)
    assert float(fit.intercept[0]) == pytest.approx(-65.9666667, abs=5e-8)
    assert float(fit.low[0]) == pytest.approx(0.3992083, abs=5e-8)
    assert float(fit.high[0]) == pytest.approx(2.3333333, abs=5e-8)


def test_every_reading_higher_than_the_last() -> None:
    """1..100 rising: S 4950, Var 112750, Z 14.738700, tau 1 (tests of MannKendall.jl)."""
    test = mann_kendall(range(100), range(1, 101))

    assert (float(test.s[0]), float(test.variance[0]), float(test.tau[0])) == (4950.0, 112750.0, 1.0)
    assert float(test.z[0]) == pytest.approx(14.738700, abs=5e-7)


def test_sen_1968() -> None:
    """Sen's own example: slope 4, separate intercept 4, joint intercept 6, 93 % interval (3.71, 4.38)."""
    x, y = [1, 2, 3, 4, 10, 12, 18], [9, 15, 19, 20, 45, 55, 78]

    fit = sen_trend(x, y, confidence=0.93)

    assert (float(fit.slope[0]), float(fit.intercept[0])) == (4.0, 4.0)
    assert float(np.median(np.array(y) - 4.0 * np.array(x))) == 6.0
    # Sen rounds the ranks, Gilbert interpolates between them: the ends differ by one rank at most.
    (_, slopes, _), *_ = pair_slopes(x, [y])
    for end, printed in ((float(fit.low[0]), 3.71), (float(fit.high[0]), 4.38)):
        rank = int(np.abs(slopes[0] - printed).argmin())
        assert slopes[0, rank] == pytest.approx(printed, abs=0.01)
        assert slopes[0, rank - 1] <= end <= slopes[0, rank + 1]


def test_norris_certified_line() -> None:
    """NIST's certified intercept, slope, standard error and R squared, to twelve digits of the slope."""
    fit = fit_line(NORRIS_X, NORRIS_Y)

    assert fit.intercept == pytest.approx(-0.262323073774029, abs=1e-11)
    assert fit.slope == pytest.approx(1.00211681802045, abs=1e-13)
    assert fit.slope_error == pytest.approx(0.000429796848199937, abs=1e-14)
    assert fit.r_squared == pytest.approx(0.999993745883712, abs=1e-13)


def test_a_correction_never_lends_significance() -> None:
    """Negative correlation would shrink the variance and raise Z; the factor stops at 1."""
    plain = mann_kendall(EPA_TIME, EPA_VALUE)
    corrected = mann_kendall(EPA_TIME, EPA_VALUE, correlation=-0.4)
    assert float(corrected.z[0]) == float(plain.z[0])


def test_our_rule_carries_lag_one_on() -> None:
    """The rule of every test: the factor of an AR(1) process over all lags, n over its effective number."""
    test = mann_kendall(range(100), range(1, 101), correlation=0.5)

    assert float(test.factor[0]) == pytest.approx(100 / 33.784, rel=2e-5)
    lags = np.arange(1, 100)
    yue_wang = 1.0 + 2.0 * float(np.sum((1.0 - lags / 100) * 0.5**lags))
    assert float(test.factor[0]) == pytest.approx(yue_wang, rel=1e-12)
