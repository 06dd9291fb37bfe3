"""Robust scale against its definition."""

import pytest
from scipy import stats

from models.statistics.robust import MAD_CONSISTENCY, mad_sigma


def test_consistency_constant() -> None:
    """1 / Phi^-1(0.75) is 1.482602218505602."""
    assert pytest.approx(1.0 / float(stats.norm.ppf(0.75)), abs=1e-15) == MAD_CONSISTENCY


def test_mad_of_seven_numbers() -> None:
    """1 1 2 2 4 6 9: median 2, MAD 1, scaled 1.482602."""
    assert float(mad_sigma([1, 1, 2, 2, 4, 6, 9])) == pytest.approx(1.482602, abs=5e-7)
