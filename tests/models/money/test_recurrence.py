"""Mean cumulative function: what must hold for any history."""

import numpy as np
import pytest

from models.errors import OutOfRangeError, ShapeError
from models.money.recurrence import mean_cumulative


def fleet(rng: np.random.Generator, units: int, rate: np.ndarray) -> tuple[np.ndarray, ...]:
    """Simulate a year of repairs, each unit with its own rate."""
    counts = rng.poisson(rate)
    unit = np.repeat(np.arange(units), counts).astype(np.int64)
    age = rng.uniform(0, 1, len(unit))
    return unit, age, np.ones(len(unit)), np.ones(units)


def test_variance_covers() -> None:
    """Where units differ, the variance holds the truth as often as it says; Poisson's does not."""
    rng = np.random.default_rng(7)
    inside = poisson = 0
    runs = 400
    for _ in range(runs):
        found = mean_cumulative(*fleet(rng, 60, rng.gamma(0.5, 4.0, 60)))
        off = abs(found.mean[-1] - 2.0)
        inside += off < 1.96 * found.variance[-1] ** 0.5
        poisson += off < 1.96 * found.independent[-1] ** 0.5

    assert 0.90 < inside / runs < 0.98
    assert poisson / runs < 0.85


def test_dispersion() -> None:
    """Alike units have a dispersion near 1, unlike ones far above; few events say nothing."""
    rng = np.random.default_rng(3)
    alike = mean_cumulative(*fleet(rng, 400, np.full(400, 2.0)))
    unlike = mean_cumulative(*fleet(rng, 400, rng.gamma(0.5, 4.0, 400)))
    few = mean_cumulative(np.array([0, 0]), np.array([0.1, 0.2]), np.ones(2), np.ones(2))

    assert 1.0 <= alike.dispersion < 1.3
    assert unlike.dispersion > 3.0
    assert few.dispersion == 1.0


def test_no_event() -> None:
    """Without an event there is an empty curve and nothing known of clumping."""
    found = mean_cumulative(np.array([], np.int64), np.array([]), np.array([]), np.ones(3))

    assert (len(found.mean), found.dispersion) == (0, 1.0)


@pytest.mark.parametrize(
    ("unit", "age", "amount", "wrong"),
    [
        ([0], [1.0, 2.0], [1.0], ShapeError),
        ([3], [1.0], [1.0], OutOfRangeError),
        ([0], [9.0], [1.0], OutOfRangeError),
    ],
)
def test_refused(unit: list[int], age: list[float], amount: list[float], wrong: type[Exception]) -> None:
    """Lengths that differ, events of no unit and events after its watch are refused."""
    with pytest.raises(wrong):
        mean_cumulative(np.array(unit, np.int64), np.array(age), np.array(amount), np.array([2.0]))
