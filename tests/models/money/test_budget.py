"""The budget."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from models.errors import OutOfRangeError, ShapeError
from models.money.budget import OpenTicket, RepairHistory, forecast_budget

TABLE = np.array([150.0, 400.0, np.nan])
FIRST = (1.0,) + (0.0,) * 11
WHOLE = (1.0, 0.0, 0.0)


def _history(months: float, seed: int = 0, rate: float = 0.02) -> RepairHistory:
    """Make a history of two depots and three causes at one repair per fifty vehicle-months."""
    rng = np.random.default_rng(seed)
    count = int(months * rate)
    return RepairHistory(
        cause=rng.integers(0, 3, count),
        depot=rng.integers(0, 2, count),
        cost=rng.lognormal(5.0, 0.5, count).round(2),
        vehicle_months=np.full(2, months / 2),
    )


@pytest.fixture
def coming() -> NDArray[np.float64]:
    """Fifty vehicles at each of two depots for twelve months."""
    return np.full((12, 2), 50.0)


def test_means_add_up_exactly(coming: NDArray[np.float64]) -> None:
    """Means by month, cause and depot add up to the total to the cent."""
    budget = forecast_budget(_history(6000), coming, TABLE, seed=1)

    total = int(budget.total.mean)
    assert total > 0
    for part in (budget.month, budget.cause, budget.depot, budget.cells):
        assert int(part.mean.sum()) == total


def test_fixed_seed_repeats(coming: NDArray[np.float64]) -> None:
    """The same seed gives the same budget to the cent, another one a slightly different one."""
    first, second, other = (forecast_budget(_history(6000), coming, TABLE, seed=s) for s in (1, 1, 2))

    np.testing.assert_array_equal(first.cells.p90, second.cells.p90)
    np.testing.assert_array_equal(first.month.p10, second.month.p10)
    assert int(first.total.mean) != int(other.total.mean)
    assert int(first.total.mean) == pytest.approx(int(other.total.mean), rel=0.03)


def test_wider_when_history_is_short(coming: NDArray[np.float64]) -> None:
    """The same rate seen over a tenth of the time gives a wider range."""
    width = {}
    for months in (600.0, 6000.0, 60_000.0):
        total = forecast_budget(_history(months), coming, TABLE, seed=1).total
        width[months] = (int(total.p90) - int(total.p10)) / int(total.mean)

    assert width[600.0] > 1.5 * width[6000.0]
    assert width[6000.0] > 1.02 * width[60_000.0]


def test_mean_is_rate_times_cost(coming: NDArray[np.float64]) -> None:
    """With a long history the mean is the rate times the vehicle-months times the mean cost."""
    history = _history(60_000)

    budget = forecast_budget(history, coming, TABLE, seed=1)

    assert budget.repairs == pytest.approx(0.02 * 1200, rel=0.03)
    assert int(budget.total.mean) == pytest.approx(100 * 24 * float(history.cost.mean()), rel=0.05)


def test_points_are_in_order(coming: NDArray[np.float64]) -> None:
    """P10 <= P50 <= P90 everywhere, and the total's range is narrower than the sum of the months'."""
    budget = forecast_budget(_history(6000), coming, TABLE, seed=1)

    for part in (budget.cells, budget.month, budget.cause, budget.depot, budget.total):
        assert np.all((part.p10 <= part.p50) & (part.p50 <= part.p90))
    months = int((budget.month.p90 - budget.month.p10).sum())
    assert int(budget.total.p90 - budget.total.p10) < months


def test_tickets_fill_their_month(coming: NDArray[np.float64]) -> None:
    """Many open tickets raise their month; a few expected anyway do not add to it."""
    quiet = forecast_budget(_history(6000), coming, TABLE, seed=1)
    ticket = OpenTicket(depot=0, months=FIRST, probability=0.9, causes=(0.9, 0.1, 0.0))

    busy = forecast_budget(_history(6000), coming, TABLE, (ticket,) * 20, seed=1)
    usual = forecast_budget(
        _history(6000), coming, TABLE, (replace(ticket, probability=0.2, causes=(1.0, 0, 0)),), seed=1
    )

    assert int(busy.month.mean[0]) > 4 * int(quiet.month.mean[0])
    assert int(busy.month.mean[1:].sum()) == pytest.approx(int(quiet.month.mean[1:].sum()), rel=0.05)
    assert usual.repairs == pytest.approx(quiet.repairs, rel=0.02)


def test_a_troubled_depot_costs_more(coming: NDArray[np.float64]) -> None:
    """A depot with nine in ten of the repairs at half the exposure is expected to have most of the cost."""
    history = _history(6000)
    history = replace(history, depot=(np.arange(len(history.depot)) % 10 == 0).astype(np.int64))

    budget = forecast_budget(history, coming, TABLE, seed=1)

    assert int(budget.depot.mean[0]) > 4 * int(budget.depot.mean[1])


def test_prices_come_from_the_nearest_source(coming: NDArray[np.float64]) -> None:
    """Own costs first, then the table, then all causes together, and what nothing prices is said."""
    blank = RepairHistory(
        cause=np.array([2, 2]),
        depot=np.array([0, 1]),
        cost=np.full(2, np.nan),
        vehicle_months=np.ones(2) * 50,
    )

    assert forecast_budget(blank, coming, TABLE, seed=1).unpriced == (2,)
    one_known = replace(blank, cause=np.array([0, 2]), cost=np.array([90.0, np.nan]))
    told = forecast_budget(one_known, coming, TABLE, seed=1)
    assert (told.pooled, told.unpriced) == ((2,), ())


def test_free_repairs_stay_free(coming: NDArray[np.float64]) -> None:
    """Repairs under warranty count as repairs that cost nothing, not as missing costs."""
    history = _history(3000)
    free = replace(history, cost=np.where(np.arange(60) % 2 == 0, 0.0, history.cost))

    half = int(forecast_budget(free, coming, TABLE, seed=1).total.mean)

    assert half == pytest.approx(int(forecast_budget(history, coming, TABLE, seed=1).total.mean) / 2, rel=0.2)


def test_no_repair_yet_is_a_range_not_zero(coming: NDArray[np.float64]) -> None:
    """A history without repairs still leaves the chance of some."""
    none = RepairHistory(
        cause=np.zeros(0, np.int64),
        depot=np.zeros(0, np.int64),
        cost=np.zeros(0),
        vehicle_months=np.array([300.0, 300.0]),
    )

    budget = forecast_budget(none, coming, TABLE, seed=1)

    assert budget.history == 0
    assert int(budget.total.mean) > 0
    assert int(budget.total.p90) > 0


def test_nothing_comes_from_nothing() -> None:
    """A depot without vehicles in the coming months costs nothing."""
    coming = np.column_stack([np.full(12, 50.0), np.zeros(12)])

    assert int(forecast_budget(_history(6000), coming, TABLE, seed=1).depot.mean[1]) == 0


def test_tickets_spread_over_their_months(coming: NDArray[np.float64]) -> None:
    """A ticket counts in each month by its chance of falling there; what falls later is not counted."""
    half = OpenTicket(depot=0, months=(0.0, 0.25, 0.25, *FIRST[3:]), probability=1.0, causes=WHOLE)

    quiet = forecast_budget(_history(6000), coming, TABLE, seed=1).visits[:, 0, 0]
    found = forecast_budget(_history(6000), coming, TABLE, (half,) * 40, seed=1).visits[:, 0, 0]

    assert found[1] == pytest.approx(10.0, abs=0.5)
    assert found[2] == pytest.approx(10.0, abs=0.5)
    assert found[[0, *range(3, 12)]].sum() == pytest.approx(quiet[[0, *range(3, 12)]].sum(), rel=0.1)


def test_clumped_repairs_widen(coming: NDArray[np.float64]) -> None:
    """Repairs that clump give the same mean and a wider range."""
    plain = forecast_budget(_history(6000), coming, TABLE, seed=1).total
    clumped = forecast_budget(replace(_history(6000), dispersion=3.0), coming, TABLE, seed=1).total

    assert int(clumped.mean) == pytest.approx(int(plain.mean), rel=0.05)
    assert int(clumped.p90 - clumped.p10) > 1.3 * int(plain.p90 - plain.p10)


@pytest.mark.parametrize(
    ("change", "name"),
    [
        ({"dispersion": 0.5}, "history.dispersion"),
        ({"cause": np.array([3])}, "history.cause"),
        ({"depot": np.array([-1])}, "history.depot"),
        ({"cost": np.array([-1.0])}, "history.cost"),
        ({"cost": np.array([1.0, 2.0])}, "history.cost"),
        ({"vehicle_months": np.zeros(2)}, "history.vehicle_months"),
        ({"vehicle_months": np.array([np.nan, 1.0])}, "history.vehicle_months"),
        ({"vehicle_months": np.ones(3)}, "coming_months"),
    ],
)
def test_history_refused(
    change: dict[str, NDArray[np.float64]], name: str, coming: NDArray[np.float64]
) -> None:
    """Places outside the lists, negative costs, lengths that differ and no exposure are refused by name."""
    history = RepairHistory(
        cause=np.array([0]), depot=np.array([0]), cost=np.array([1.0]), vehicle_months=np.ones(2)
    )

    with pytest.raises((OutOfRangeError, ShapeError), match=name):
        forecast_budget(replace(history, **change), coming, TABLE, seed=1)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("ticket", "name"),
    [
        (OpenTicket(depot=2, months=FIRST, probability=0.5, causes=WHOLE), "ticket.depot"),
        (OpenTicket(depot=0, months=(1.0,), probability=0.5, causes=WHOLE), "ticket.months"),
        (OpenTicket(depot=0, months=(0.9,) * 12, probability=0.5, causes=WHOLE), "ticket.months"),
        (OpenTicket(depot=0, months=FIRST, probability=1.5, causes=WHOLE), "ticket.probability"),
        (OpenTicket(depot=0, months=FIRST, probability=0.5, causes=(1.0, 0.5, 0.0)), "ticket.causes"),
        (OpenTicket(depot=0, months=FIRST, probability=0.5, causes=(1.0,)), "ticket.causes"),
    ],
)
def test_tickets_refused(ticket: OpenTicket, name: str, coming: NDArray[np.float64]) -> None:
    """Tickets outside the budget's depots and months, or with shares that are none, are refused."""
    with pytest.raises(OutOfRangeError, match=name):
        forecast_budget(_history(600), coming, TABLE, (ticket,), seed=1)


def test_budget_refuses(coming: NDArray[np.float64]) -> None:
    """Too few draws, an empty or free cost table and a negative exposure are refused."""
    with pytest.raises(OutOfRangeError, match="draws"):
        forecast_budget(_history(600), coming, TABLE, seed=1, draws=5)
    with pytest.raises(ShapeError, match="table"):
        forecast_budget(_history(600), coming, np.zeros(0), seed=1)
    with pytest.raises(OutOfRangeError, match="table"):
        forecast_budget(_history(600), coming, np.zeros(3), seed=1)
    with pytest.raises(OutOfRangeError, match="coming_months"):
        forecast_budget(_history(600), -coming, TABLE, seed=1)
