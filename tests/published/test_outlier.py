"""The second opinion's parts: the isolation forest's path length and the distance behind Hotelling's T2."""

import numpy as np
import pytest
from scipy import stats
from sklearn.ensemble._iforest import _average_path_length

from models.statistics.outlier import average_path_length, squared_distance

SWEAT = np.array(
    [
        [3.7, 48.5, 9.3], [5.7, 65.1, 8.0], [3.8, 47.2, 10.9], [3.2, 53.2, 12.0], [3.1, 55.5, 9.7],
        [4.6, 36.1, 7.9], [2.4, 24.8, 14.0], [7.2, 33.1, 7.6], [6.7, 47.4, 8.5], [5.4, 54.1, 11.3],
        [3.9, 36.9, 12.7], [4.5, 58.8, 12.3], [3.5, 27.8, 9.8], [4.5, 40.2, 8.4], [1.5, 13.5, 10.1],
        [8.5, 56.4, 7.1], [4.5, 71.6, 8.2], [6.5, 52.8, 10.9], [4.1, 44.1, 11.2], [5.5, 40.9, 9.4],
    ]
)  # fmt: skip
"""Perspiration of twenty women, Johnson & Wichern, Applied Multivariate Statistical Analysis, Example 5.2."""


def test_path_lengths() -> None:
    """The values of c(n) in scikit-learn's own tests of the forest; Liu, Ting & Zhou 2008 (from memory)."""
    printed = [0.0, 0.0, 1.0, 2.327020, 4.695532, 10.244771, 12.967940]

    np.testing.assert_allclose(average_path_length([0, 1, 2, 5, 16, 256, 999]), printed, atol=5e-7)


def test_path_lengths_are_the_forests_own() -> None:
    """The forest that scores vehicles normalises by the same c(n)."""
    counts = np.array([1, 2, 3, 10, 256])

    np.testing.assert_allclose(average_path_length(counts), _average_path_length(counts), rtol=1e-9)


@pytest.mark.parametrize(("depth", "printed"), [(5.0, 0.712986), (3.0, 0.816298)])
def test_scores_from_depths(depth: float, printed: float) -> None:
    """Score 2^(-depth / c(256)): a depth of c gives 0.5, 5 gives 0.712986, 3 gives 0.816298."""
    normal = float(average_path_length(256))

    assert 2.0 ** (-depth / normal) == pytest.approx(printed, abs=5e-7)
    assert 2.0 ** (-normal / normal) == 0.5


def test_hotelling_sweat_data() -> None:
    """T2 9.7388 (printed 9.74), F 2.90455 with (3, 17) degrees of freedom, p 0.064928."""
    mean = SWEAT.mean(axis=0)

    t2 = 20 * float(squared_distance(np.array([[4.0, 50.0, 10.0]]), mean, np.cov(SWEAT.T))[0])
    f = t2 * (20 - 3) / ((20 - 1) * 3)

    np.testing.assert_allclose(mean, [4.640, 45.400, 9.965], atol=1e-9)
    assert t2 == pytest.approx(9.7388, abs=5e-5)
    assert f == pytest.approx(2.90455, abs=5e-6)
    assert float(stats.f.sf(f, 3, 17)) == pytest.approx(0.064928, abs=5e-7)


def test_hotelling_critical_value() -> None:
    """The 10 % point of T2 there is 8.1726 (printed 8.18), so the mean is rejected at 10 %."""
    critical = 19 * 3 / 17 * float(stats.f.ppf(0.90, 3, 17))

    assert critical == pytest.approx(8.1726, abs=5e-5)


def test_distances_of_sound_rows_follow_chi_square() -> None:
    """Of normal rows with three columns one in twenty lies beyond the chi-square point 7.8147."""
    rows = np.random.default_rng(20).standard_normal((20_000, 3))

    distance = squared_distance(rows, np.zeros(3), np.eye(3))

    # Binomial standard error of the share is 0.0015.
    assert float(np.mean(distance > 7.8147)) == pytest.approx(0.05, abs=0.006)
    assert float(np.mean(distance > 11.3449)) == pytest.approx(0.01, abs=0.003)
