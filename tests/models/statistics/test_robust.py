"""Robust scale, place and slope."""

import numpy as np
import pytest

from models.statistics.robust import mad_sigma


@pytest.mark.parametrize("seed", range(5))
def test_mad_estimates_sigma(seed: int) -> None:
    """Of normal readings the scaled MAD is their standard deviation."""
    values = np.random.default_rng(seed).normal(0.0, 2.5, (1, 20_000))

    # The standard error of the scaled MAD is 1.17 sigma / sqrt(n) = 0.021.
    assert float(mad_sigma(values)[0]) == pytest.approx(2.5, abs=0.08)
