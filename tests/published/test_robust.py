"""Robust scale against its definition and the outlier example of Iglewicz and Hoaglin."""

import numpy as np
import pytest
from scipy import stats

from models.robust import MAD_CONSISTENCY, mad_sigma, modified_z


def test_consistency_constant() -> None:
    """1 / Phi^-1(0.75) is 1.482602218505602."""
    assert pytest.approx(1.0 / float(stats.norm.ppf(0.75)), abs=1e-15) == MAD_CONSISTENCY


def test_mad_of_seven_numbers() -> None:
    """1 1 2 2 4 6 9: median 2, MAD 1, scaled 1.482602."""
    assert float(mad_sigma([1, 1, 2, 2, 4, 6, 9])) == pytest.approx(1.482602, abs=5e-7)


def test_iglewicz_hoaglin() -> None:
    """Iglewicz & Hoaglin 1993 (from memory): the last two of ten score 25.856 and 26.305, beyond 3.5."""
    scores = modified_z([2.1, 2.6, 2.4, 2.5, 2.3, 2.1, 2.3, 2.6, 8.2, 8.3])

    np.testing.assert_allclose(scores[-2:], [25.856, 26.305], atol=5e-4)
    assert np.flatnonzero(np.abs(scores) > 3.5).tolist() == [8, 9]
