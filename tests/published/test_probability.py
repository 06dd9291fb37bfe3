"""Shares, intervals and scores of stated probabilities against published values."""

import pytest

from models.statistics.calibration import brier_score
from models.statistics.proportion import poisson_rate, wilson


def test_wilson_eight_of_ten() -> None:
    """8 of 10: Wilson's 95 % interval is (0.4902, 0.9433)."""
    assert wilson(8, 10) == pytest.approx((0.4902, 0.9433), abs=5e-5)


def test_ticket_sentence_of_the_trade() -> None:
    """A fault found in 31 of 40 is shown as 62-88 %."""
    low, high = wilson(31, 40)

    assert (round(100 * low), round(100 * high)) == (62, 88)


def test_rule_of_three() -> None:
    """No event: the one-sided 95 % (two-sided 90 %) end is -ln 0.05, the statisticians' rule of three."""
    assert poisson_rate(0, 1.0, confidence=0.90)[1] == pytest.approx(2.9957, abs=5e-5)


@pytest.mark.parametrize(("count", "low", "high"), [(0, 0.0, 3.689), (1, 0.0253, 5.572), (10, 4.795, 18.39)])
def test_poisson_limits(count: int, low: float, high: float) -> None:
    """Exact limits of a Poisson mean as tabled by Garwood (1936)."""
    assert poisson_rate(count, 1.0) == pytest.approx((low, high), rel=1e-3)


def test_brier_example() -> None:
    """scikit-learn's documentation example: y 0 1 1 0, p .1 .9 .8 .3 score 0.0375."""
    assert brier_score([0, 1, 1, 0], [0.1, 0.9, 0.8, 0.3]) == pytest.approx(0.0375, abs=1e-12)
