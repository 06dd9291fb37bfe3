"""False discovery and conformal p-values."""

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.multitest import multipletests

from models.errors import OutOfRangeError, ShapeError
from models.statistics.multiple import (
    benjamini_hochberg,
    conformal_p,
    conformal_p_within,
    expected_false_share,
)


def test_adjustment_is_the_librarys() -> None:
    """Adjusted values agree with statsmodels, ties included."""
    p = np.round(np.random.default_rng(0).uniform(size=60) ** 2, 2)

    np.testing.assert_allclose(benjamini_hochberg(p), multipletests(p, method="fdr_bh")[1], atol=1e-12)


def test_tests_not_made_do_not_count() -> None:
    """A missing p-value stays missing and leaves the others as if it were not there."""
    adjusted = benjamini_hochberg([0.01, np.nan, 0.04])

    np.testing.assert_allclose(adjusted[[0, 2]], benjamini_hochberg([0.01, 0.04]))
    assert np.isnan(adjusted[1])
    assert benjamini_hochberg([]).shape == (0,)


def test_expected_false_share_of_pure_chance() -> None:
    """Where everything is chance, everything shown is."""
    p = (np.arange(1000) + 0.5) / 1000

    assert expected_false_share(p, 0.05) == pytest.approx(1.0)
    assert np.isnan(expected_false_share(p, 0.0))


def test_conformal_p_is_uniform_on_sound_rows() -> None:
    """Sound rows exceed a level as often as the level says."""
    rng = np.random.default_rng(1)
    p = np.concatenate([conformal_p(rng.normal(size=99), rng.normal(size=1)) for _ in range(3000)])

    assert float(np.mean(p <= 0.1)) == pytest.approx(0.1, abs=0.015)
    # Steps of 0.01, and the 1 % point of the Kolmogorov-Smirnov distance at 3,000.
    assert stats.kstest(p, "uniform").statistic < 0.01 + 1.63 / np.sqrt(3000)


def test_missing_scores_have_no_p() -> None:
    """A missing score gets no p-value and is not counted against others; no calibration gives 1."""
    np.testing.assert_array_equal(conformal_p([np.nan, 1.0], [np.nan, 2.0]), [np.nan, 0.5])
    np.testing.assert_array_equal(conformal_p_within([np.nan, 1.0]), [np.nan, 1.0])
    np.testing.assert_array_equal(conformal_p([], [3.0]), [1.0])


def test_multiple_refuses() -> None:
    """Rows, values that are no p and thresholds outside 0..1 are refused."""
    with pytest.raises(ShapeError):
        benjamini_hochberg([[0.1]])
    with pytest.raises(OutOfRangeError, match="p_values"):
        benjamini_hochberg([0.5, 1.2])
    with pytest.raises(OutOfRangeError, match="threshold"):
        expected_false_share([0.1], 2.0)
