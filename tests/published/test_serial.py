"""Serial correlation and what it leaves of n, against certified and computed values."""

import numpy as np
import pytest

from models.statistics.serial import autocorrelation, effective_size

MICHELSON = [
    850, 740, 900, 1070, 930, 850, 950, 980, 980, 880, 1000, 980, 930, 650, 760, 810, 1000, 1000, 960, 960,
    960, 940, 960, 940, 880, 800, 850, 880, 900, 840, 830, 790, 810, 880, 880, 830, 800, 790, 760, 800,
    880, 880, 880, 860, 720, 720, 620, 860, 970, 950, 880, 910, 850, 870, 840, 840, 850, 840, 840, 840,
    890, 810, 810, 820, 800, 770, 760, 740, 750, 760, 910, 920, 890, 860, 880, 720, 840, 850, 850, 780,
    890, 840, 780, 810, 760, 810, 790, 810, 820, 850, 870, 870, 810, 740, 810, 940, 950, 800, 810, 870,
]  # fmt: skip
"""Michelson's 100 measurements of the speed of light, 1879 [km/s above 299,000]; from memory, they reproduce
the certified mean, standard deviation and autocorrelation of NIST StRD *Michelso*."""


def test_michelson_certified_values() -> None:
    """NIST StRD Michelso: mean 299.8524, sd 0.0790105478190518, lag-1 autocorrelation 0.535199668621283."""
    speed = 299.0 + np.array(MICHELSON) / 1000.0

    assert float(speed.mean()) == pytest.approx(299.8524, abs=1e-10)
    assert float(speed.std(ddof=1)) == pytest.approx(0.0790105478190518, abs=1e-12)
    assert float(autocorrelation(speed)) == pytest.approx(0.535199668621283, abs=1e-10)


@pytest.mark.parametrize(
    ("count", "correlation", "printed"),
    [(100, 0.5, 33.784), (100, 0.3, 54.204), (52, 0.6, 13.486), (365, 0.8, 41.056)],
)
def test_effective_number(count: int, correlation: float, printed: float) -> None:
    """Bayley & Hammersley 1946: n / (1 + 2 sum (1 - k/n) r^k), computed."""
    lags = np.arange(1, count)
    summed = count / (1.0 + 2.0 * float(np.sum((1.0 - lags / count) * correlation**lags)))

    assert float(effective_size(count, correlation)) == pytest.approx(printed, abs=6e-4)
    assert float(effective_size(count, correlation)) == pytest.approx(summed, rel=1e-12)


def test_large_samples_tend_to_the_simple_ratio() -> None:
    """For n 100, r 0.5 the simple n (1 - r) / (1 + r) is 33.333: close, and below the exact 33.784."""
    assert 100 * 0.5 / 1.5 < float(effective_size(100, 0.5)) < 1.02 * 100 * 0.5 / 1.5
