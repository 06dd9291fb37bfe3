"""Multiplicity: the false discovery rate's own example, and conformal p-values by counting."""

import numpy as np
import pytest

from models.statistics.multiple import benjamini_hochberg, conformal_p

P_1995 = [
    0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344,
    0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1.0,
]  # fmt: skip
"""Benjamini & Hochberg 1995; two public copies carry .6719 where the paper, from memory, has .5719."""


def test_the_paper_rejects_four() -> None:
    """At q 0.05 four hypotheses are rejected, the fourth because 0.0095 <= 4 * 0.05 / 15."""
    assert int(np.count_nonzero(benjamini_hochberg(P_1995) <= 0.05)) == 4


def test_adjusted_values() -> None:
    """The adjusted values, computed and carried by two public tests."""
    printed = [
        0.0015, 0.0030, 0.0095, 0.035625, 0.0603, 0.063857, 0.063857, 0.0645,
        0.0765, 0.486, 0.581182, 0.714875, 0.753231, 0.813214, 1.0,
    ]  # fmt: skip

    np.testing.assert_allclose(benjamini_hochberg(P_1995), printed, atol=5e-7)


def test_the_copying_slip_changes_no_decision() -> None:
    """With .6719 for .5719 the same four are rejected."""
    slipped = [0.6719 if p == 0.5719 else p for p in P_1995]

    assert int(np.count_nonzero(benjamini_hochberg(slipped) <= 0.05)) == 4


def test_conformal_counting() -> None:
    """Vovk et al. 2005 (from memory): nine calibration scores .1...9 give 0.1, 0.2, 0.5 and 1."""
    calibration = np.arange(1, 10) / 10

    np.testing.assert_allclose(conformal_p(calibration, [0.95, 0.9, 0.55, 0.05]), [0.1, 0.2, 0.5, 1.0])


def test_smallest_conformal_p() -> None:
    """With nine calibration points nothing can be stranger than p = 1/10."""
    assert float(conformal_p(np.arange(9), [1e9])[0]) == pytest.approx(0.1)
