"""EWMA and CUSUM against the worked examples of the NIST handbook and of Montgomery's tables."""

import numpy as np
import pytest

from models.statistics.charts import cusum, ewma, ewma_reach

NIST_EWMA_DATA = [
    52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5,
    49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1,
]  # fmt: skip
"""NIST/SEMATECH e-Handbook 6.3.2.4."""

NIST_CUSUM_DATA = [
    324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600,
    324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350,
]  # fmt: skip
"""NIST/SEMATECH e-Handbook 6.3.2.3."""

MONTGOMERY_DATA = [
    9.45, 7.99, 9.29, 11.66, 12.16, 10.18, 8.04, 11.46, 9.20, 10.34,
    9.03, 11.47, 10.51, 9.40, 10.08, 9.37, 10.62, 10.31, 8.52, 10.84,
    10.90, 9.33, 12.29, 11.50, 10.60, 11.08, 10.38, 11.62, 11.31, 10.52,
]  # fmt: skip
"""Montgomery, Introduction to Statistical Quality Control, Table 9.1."""


def test_nist_ewma_values() -> None:
    """The handbook's twenty smoothed values come out, to its printed digits."""
    printed = [
        50.60, 49.52, 50.564, 50.1848, 50.1594, 49.2116, 49.7481, 49.8537, 50.2576, 50.3303,
        50.1112, 49.3578, 49.5205, 50.0543, 49.3780, 49.9246, 50.7272, 51.2291, 51.9403, 51.9882,
    ]  # fmt: skip

    np.testing.assert_allclose(ewma(NIST_EWMA_DATA, 0.3, target=50.0), printed, atol=6e-5)


def test_nist_ewma_limits() -> None:
    """The handbook's limits are 52.5884 and 47.4115 (it rounds a factor), and no point leaves them."""
    reach = 2.0539 * float(ewma_reach(0.3, 3.0))

    smoothed = ewma(NIST_EWMA_DATA, 0.3, target=50.0)

    assert 50.0 + reach == pytest.approx(52.5884, abs=1e-4)
    assert 50.0 - reach == pytest.approx(47.4115, abs=2e-4)
    assert np.all(np.abs(smoothed - 50.0) < reach)


def test_nist_cusum_sums() -> None:
    """The handbook's upper sums come out and the first signal is at observation 14."""
    sums = cusum(NIST_CUSUM_DATA, 0.3175, target=325.0)

    printed = [0, 0, 0, 0, 0.0325, *[0] * 7, 3.0075, 4.94, 7.4475, 10.63, 11.9875, 14.445, 16.0025, 19.035]
    np.testing.assert_allclose(sums.high, printed, atol=1e-9)
    assert sums.low.max() == pytest.approx(0.7150, abs=1e-9)
    assert int(sums.low.argmax()) + 1 == 8
    assert int(np.argmax(np.maximum(sums.high, sums.low) > 4.1959)) + 1 == 14


def test_montgomery_cusum_table() -> None:
    """Table 9.2: both sums at k 0.5, a signal at 29 with seven readings since zero: a shift after 22."""
    sums = cusum(MONTGOMERY_DATA, 0.5, target=10.0)

    high = [
        0, 0, 0, 1.16, 2.82, 2.50, 0.04, 1.00, 0, 0, 0, 0.97, 0.98, 0, 0,
        0, 0.12, 0, 0, 0.34, 0.74, 0, 1.79, 2.79, 2.89, 3.47, 3.35, 4.47, 5.28, 5.30,
    ]  # fmt: skip
    low = [0.05, 1.56, 1.77, 0, 0, 0, 1.46, 0, 0.30, 0, 0.47, 0, 0, 0.10, 0, 0.13, 0, 0, 0.98, 0, 0, 0.17, 0]
    np.testing.assert_allclose(sums.high, high, atol=1e-9)
    np.testing.assert_allclose(sums.low[: len(low)], low, atol=1e-9)
    signal = int(np.argmax(sums.high > 5.0))
    assert signal + 1 == 29
    assert signal + 1 - int(sums.run_high[signal]) == 22


def test_montgomery_ewma_table() -> None:
    """Table 9.10: smoothed values at lambda 0.1, limits at L 2.7, out at readings 29 and 30 only."""
    printed = [
        9.945, 9.7495, 9.70355, 9.8992, 10.12528, 10.13075, 9.92167, 10.07551, 9.98796, 10.02316,
        9.92384, 10.07846, 10.12161, 10.04945, 10.05251, 9.98426, 10.04783, 10.07405, 9.91864, 10.01078,
        10.09970, 10.02273, 10.24946, 10.37451, 10.39706, 10.46535, 10.45682, 10.57314, 10.64682, 10.63414,
    ]  # fmt: skip

    smoothed = ewma(MONTGOMERY_DATA, 0.1, target=10.0)
    reach = ewma_reach(0.1, 2.7, count=np.arange(1, 31))

    np.testing.assert_allclose(smoothed, printed, atol=6e-6)
    np.testing.assert_allclose(reach[:2], [0.27, 0.3632], atol=5e-5)
    assert 10.0 + float(ewma_reach(0.1, 2.7)) == pytest.approx(10.6194, abs=5e-5)
    assert (np.flatnonzero(np.abs(smoothed - 10.0) > reach) + 1).tolist() == [29, 30]
