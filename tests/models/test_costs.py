"""Costs per cause and over a vehicle's life."""

import numpy as np
import pytest

from models.costs import cost_per_cause, mean_cumulative_cost
from models.errors import OutOfRangeError, ShapeError


def test_rare_causes_are_pooled_and_marked() -> None:
    """Causes with fewer than five repairs share a row that names them; the sums still add up."""
    causes = ["a"] * 5 + ["b"] * 4 + ["c"]

    rows = cost_per_cause(causes, [True] * 10, np.arange(10.0))

    assert [(row.cause, row.members, row.count) for row in rows] == [
        ("a", ("a",), 5),
        ("pooled", ("b", "c"), 5),
    ]
    assert sum(row.total for row in rows) == 45.0


def test_repairs_without_a_cost_are_counted_apart() -> None:
    """A repair whose cost nobody wrote down is counted and not averaged as zero."""
    row = cost_per_cause(["a"] * 5, [False] * 5, [10.0, np.nan, 30.0, np.nan, 20.0], engine_hours=500)[0]

    assert (row.count, row.without_cost, row.median, row.low, row.high) == (3, 2, 20.0, 10.0, 30.0)
    assert row.per_1000_hours == 120.0
    assert np.isnan(row.per_100_000_km)


def test_nothing_to_show() -> None:
    """No repairs, no rows; repairs without any cost have a sum of zero and no median."""
    assert cost_per_cause([], [], []) == ()
    row = cost_per_cause(["a"] * 5, [True] * 5, [np.nan] * 5)[0]
    assert row.total == 0.0
    assert np.isnan(row.median)


def test_costs_refuse() -> None:
    """Lengths that differ, negative costs and an exposure of zero are refused."""
    with pytest.raises(ShapeError):
        cost_per_cause(["a"], [True, False], [1.0])
    with pytest.raises(OutOfRangeError, match="costs"):
        cost_per_cause(["a"], [True], [-1.0])
    with pytest.raises(OutOfRangeError, match="km"):
        cost_per_cause(["a"], [True], [1.0], km=0.0)


def test_complete_fleet_is_a_plain_mean() -> None:
    """With every vehicle watched to the end the curve ends at the mean sum, with its standard error."""
    rng = np.random.default_rng(0)
    who, cost = rng.integers(0, 30, 90), rng.lognormal(4, 0.5, 90)
    sums = np.bincount(who, weights=cost, minlength=30)

    curve = mean_cumulative_cost(who, rng.uniform(0, 100, 90), cost, until=np.full(30, 100.0))

    assert float(curve.mean[-1]) == pytest.approx(float(sums.mean()))
    assert float(curve.error[-1]) == pytest.approx(float(sums.std() / np.sqrt(30)))


def test_censoring_is_allowed_for() -> None:
    """Vehicles sold early take no part later: the curve still follows the rate of one repair per ten days."""
    rng = np.random.default_rng(1)
    until = rng.uniform(20, 100, 600)
    count = rng.poisson(until / 10)
    who = np.repeat(np.arange(600), count)
    age = rng.uniform(0, until[who])

    curve = mean_cumulative_cost(who, age, np.ones(len(who)), until)

    at_80 = int(np.searchsorted(curve.age, 80.0)) - 1
    assert float(curve.mean[at_80]) == pytest.approx(8.0, abs=4 * float(curve.error[at_80]))
    assert float(curve.error[at_80]) < 0.3


def test_late_entry() -> None:
    """A vehicle that came in at age 5 is not at risk before."""
    curve = mean_cumulative_cost([0, 1], [2, 6], [10, 10], until=[10, 10], since=[0, 5])

    np.testing.assert_array_equal(curve.at_risk, [1, 2])
    np.testing.assert_array_equal(curve.mean, [10.0, 15.0])


def test_no_repairs() -> None:
    """Without repairs the curve is empty."""
    assert mean_cumulative_cost([], [], [], until=[10.0]).age.shape == (0,)


def test_curve_refuses() -> None:
    """Unknown vehicles, repairs outside their observation and lengths that differ are refused."""
    with pytest.raises(OutOfRangeError, match="vehicle"):
        mean_cumulative_cost([2], [1], [1], until=[10])
    with pytest.raises(OutOfRangeError, match="age"):
        mean_cumulative_cost([0], [11], [1], until=[10])
    with pytest.raises(ShapeError, match="cost"):
        mean_cumulative_cost([0], [1], [1, 2], until=[10])
    with pytest.raises(ShapeError, match="since"):
        mean_cumulative_cost([0], [1], [1], until=[10], since=[0, 0])
