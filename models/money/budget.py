"""What repairs will cost in the months to come: a range, by month, cause and depot.

One idea: simulate the coming year many times. In each draw every cause has a rate (Gamma, from repairs
counted over vehicle-months), every depot its share of trouble, every repair a cost; open tickets happen
with their stated probability. A short history leaves rates and costs uncertain, so its range is wider
without being told. All sums are whole minor units (cents): the means of the cells add up to every total
exactly.

References
----------
A. Gelman et al., Bayesian Data Analysis, 2.6 (from memory): Poisson counts with a Gamma belief.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.errors import OutOfRangeError, ShapeError
from models.statistics.arguments import demand_share

DRAWS: Final = 2000
"""Simulated years [1]; chosen by us: the 10 % and 90 % points then repeat to about 2 % of the spread."""

PRIOR_REPAIRS: Final = 0.5
"""Repairs that the belief before any history is worth, all causes together [1]; Jeffreys' choice."""

DEPOT_HOLD: Final = 20.0
"""Repairs after which a depot's own record outweighs the fleet's [1]; chosen by us: a spread of 22 %."""

TABLE_WORTH: Final = 3.0
"""Known costs that a line of the cost table is worth [1]; chosen by us."""

COST_SPREAD: Final = 0.6
"""Standard deviation of log cost where nothing is known [1]; chosen by us: one in eight doubles it."""

SPREAD_WORTH: Final = 5.0
"""Known costs that this spread is worth [1]; chosen by us."""

LEAST_EMPIRICAL: Final = 20
"""Known costs of one cause from which past costs themselves are drawn [1]; chosen by us."""

MINOR: Final = 100
"""Minor units in one unit of currency [1]."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RepairHistory:
    """Past repairs and the exposure behind them.

    Parameters
    ----------
    cause, depot : int array of shape (n,)
        Places in the lists of causes and depots.
    cost : float64 array of shape (n,)
        Parts and labour of each [currency]; NaN where not recorded.
    vehicle_months : float64 array of shape (D,)
        Vehicle-months in service that the repairs were counted over, for each depot.
    dispersion : float
        How much more the number of repairs varies than if they came independently [1], from the mean
        cumulative function (`models.money.recurrence`); 1 or more.
    """

    cause: NDArray[np.int64]
    depot: NDArray[np.int64]
    cost: NDArray[np.float64]
    vehicle_months: NDArray[np.float64]
    dispersion: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenTicket:
    """One open ticket as the budget sees it.

    Parameters
    ----------
    depot : int
        Place in the list of depots.
    months : tuple of float, length M
        Chance of each coming month to be the one in which it will be worked on; the rest up to 1 lies later.
    probability : float
        That a repair follows [1].
    causes : tuple of float, length C
        Probability of each cause; the rest up to 1 is shared out alike.
    """

    depot: int
    months: tuple[float, ...]
    probability: float
    causes: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spread:
    """Mean and 10, 50, 90 % points [minor units], all int64 of one shape."""

    mean: NDArray[np.int64]
    p10: NDArray[np.int64]
    p50: NDArray[np.int64]
    p90: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Budget:
    """The coming M months' cost for C causes and D depots.

    Parameters
    ----------
    cells, month, cause, depot, total : Spread
        Of shapes (M, C, D), (M,), (C,), (D,) and (). Means add up exactly; percentage points do not add.
    repairs : float
        Mean number of repairs.
    visits : float64 array of shape (M, C, D)
        Mean number of repairs in each cell; adds up to `repairs`.
    seed, draws, history : int
        Seed, simulated years and past repairs behind it.
    pooled : tuple of int
        Causes priced by the costs of all causes, having neither a cost of their own nor a line in the table.
    unpriced : tuple of int
        Causes that nothing prices: they count as zero and the sums are too low.
    """

    cells: Spread
    month: Spread
    cause: Spread
    depot: Spread
    total: Spread
    repairs: float
    visits: NDArray[np.float64]
    seed: int
    draws: int
    history: int
    pooled: tuple[int, ...]
    unpriced: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Prices:
    """What one repair of each cause costs: log-normal, or drawn from past costs."""

    centre: NDArray[np.float64]
    doubt: NDArray[np.float64]
    spread: NDArray[np.float64]
    free: NDArray[np.float64]
    past: tuple[NDArray[np.float64], ...]
    pooled: tuple[int, ...]
    unpriced: tuple[int, ...]


def forecast_budget(
    history: RepairHistory,
    coming_months: NDArray[np.float64],
    table: NDArray[np.float64],
    tickets: tuple[OpenTicket, ...] = (),
    *,
    seed: int,
    draws: int = DRAWS,
) -> Budget:
    """Simulate the cost of the coming months.

    A ticketed repair is part of the usual rate, not on top of it: in its months, cause and depot the
    usual number is lowered by the number expected from tickets, to zero at the least. Usual numbers, and
    what is believed of their rate, vary by the history's dispersion more than independent repairs would.

    Parameters
    ----------
    history : RepairHistory
        Past repairs; may be empty, but not without vehicle-months.
    coming_months : float64 array of shape (M, D)
        Vehicle-months in service expected in each coming month at each depot.
    table : float64 array of shape (C,)
        Usual cost of one repair of each cause [currency]; NaN where the cost table has no line.
    tickets : tuple of OpenTicket
        Open tickets.
    seed : int
        Seed; the same one gives the same budget.
    draws : int
        Simulated years, at least 10.

    Returns
    -------
    Budget

    Raises
    ------
    ShapeError, OutOfRangeError
        When shapes, places or numbers do not fit.

    Examples
    --------
    >>> past = RepairHistory(
    ...     cause=np.array([0, 0, 1]), depot=np.array([0, 1, 0]),
    ...     cost=np.array([120.0, 80.0, np.nan]), vehicle_months=np.array([100.0, 60.0]))
    >>> year = forecast_budget(past, np.full((12, 2), 5.0), np.array([100.0, 300.0]), seed=1)
    >>> int(year.month.mean.sum()) == int(year.total.mean) == int(year.cells.mean.sum())
    True
    >>> round(year.repairs, 1), [int(year.total.mean), int(year.total.p10), int(year.total.p90)]
    (2.6, [54676, 0, 131560])
    """
    _check(history, coming_months, table)
    _check_tickets(tickets, len(coming_months), len(table), coming_months.shape[1])
    if draws < 10:
        raise OutOfRangeError("draws", "at least 10", draws)
    rng = np.random.default_rng(seed)
    prices = _price(history, table)
    rate = _draw_rates(history, len(table), draws, rng)
    factor = _draw_depots(history, draws, rng)
    centre = prices.centre + prices.doubt * rng.standard_normal((draws, len(table)))
    months, depots = coming_months.shape
    cells = np.zeros((4, months, len(table), depots), dtype=np.int64)
    by_month = np.zeros((draws, months), dtype=np.int64)
    by_cause = np.zeros((draws, len(table)), dtype=np.int64)
    by_depot = np.zeros((draws, depots), dtype=np.int64)
    repairs = 0
    visits = np.zeros((months, len(table), depots))
    for depot in range(depots):
        here = tuple(one for one in tickets if one.depot == depot)
        counts = _draw_counts(
            rate * factor[:, depot : depot + 1], coming_months[:, depot], here, history.dispersion, rng
        )
        cost = _draw_costs(counts, centre, prices, rng)
        repairs += int(counts.sum())
        visits[:, :, depot] = counts.mean(axis=0)
        cells[..., depot] = _describe(cost)
        by_month += cost.sum(axis=2)
        by_cause += cost.sum(axis=1)
        by_depot[:, depot] = cost.sum(axis=(1, 2))
    mean = cells[0]
    return Budget(
        cells=Spread(mean=mean, p10=cells[1], p50=cells[2], p90=cells[3]),
        month=_spread(by_month, mean.sum(axis=(1, 2))),
        cause=_spread(by_cause, mean.sum(axis=(0, 2))),
        depot=_spread(by_depot, mean.sum(axis=(0, 1))),
        total=_spread(by_depot.sum(axis=1), np.asarray(mean.sum())),
        repairs=repairs / draws,
        visits=visits,
        seed=seed,
        draws=draws,
        history=len(history.cause),
        pooled=prices.pooled,
        unpriced=prices.unpriced,
    )


def _check(history: RepairHistory, coming: NDArray[np.float64], table: NDArray[np.float64]) -> None:
    """Refuse a history, an exposure or a table that do not fit each other."""
    depots = len(history.vehicle_months)
    if coming.ndim != 2 or coming.shape[1] != depots:
        raise ShapeError("coming_months", f"shape (M, {depots} depots)", coming.shape)
    if table.ndim != 1 or len(table) == 0:
        raise ShapeError("table", "one value for each cause, at least one", table.shape)
    if not len(history.cause) == len(history.depot) == len(history.cost):
        raise ShapeError("history.cost", f"one value for each of {len(history.cause)}", history.cost.shape)
    _demand_places("history.cause", history.cause, len(table))
    _demand_places("history.depot", history.depot, depots)
    if np.any(history.cost < 0.0):
        raise OutOfRangeError("history.cost", "zero or above, or NaN", float(np.nanmin(history.cost)))
    if np.any(table <= 0.0):
        raise OutOfRangeError("table", "above zero, or NaN", float(np.nanmin(table)))
    for name, months in (("history.vehicle_months", history.vehicle_months), ("coming_months", coming)):
        if not np.all(np.isfinite(months) & (months >= 0.0)):
            raise OutOfRangeError(name, "finite and zero or above", float(np.min(months)))
    if not history.dispersion >= 1.0:
        raise OutOfRangeError("history.dispersion", "1 or above", history.dispersion)
    if history.vehicle_months.sum() <= 0.0:
        raise OutOfRangeError("history.vehicle_months", "above zero at one depot at least", 0.0)


def _check_tickets(tickets: tuple[OpenTicket, ...], months: int, causes: int, depots: int) -> None:
    """Refuse tickets outside the budget's months, causes and depots."""
    _demand_places("ticket.depot", np.array([one.depot for one in tickets], dtype=np.int64), depots)
    for one in tickets:
        demand_share(one.probability, "ticket.probability", ends=True)
        when = np.array(one.months)
        if when.shape != (months,) or np.any(when < 0.0) or when.sum() > 1.0 + 1e-9:
            raise OutOfRangeError("ticket.months", f"{months} shares that sum to 1 or less", one.months)
        shares = np.array(one.causes)
        if shares.shape != (causes,) or np.any(shares < 0.0) or shares.sum() > 1.0 + 1e-9:
            raise OutOfRangeError("ticket.causes", f"{causes} shares that sum to 1 or less", one.causes)


def _demand_places(name: str, places: NDArray[np.int64], end: int) -> None:
    """Refuse places outside a list."""
    wrong = (places < 0) | (places >= end)
    if np.any(wrong):
        raise OutOfRangeError(name, f"a place from 0 to {end - 1}", int(places[wrong][0]))


def _draw_rates(
    history: RepairHistory, causes: int, draws: int, rng: np.random.Generator
) -> NDArray[np.float64]:
    """Draw the fleet's rate of each cause [repairs per vehicle-month], shape (draws, C)."""
    seen = np.bincount(history.cause, minlength=causes)
    shape = (seen + PRIOR_REPAIRS / causes) / history.dispersion
    return rng.gamma(shape, history.dispersion / history.vehicle_months.sum(), (draws, causes))


def _draw_depots(history: RepairHistory, draws: int, rng: np.random.Generator) -> NDArray[np.float64]:
    """Draw each depot's trouble relative to the fleet, shape (draws, D); 1 on average over past exposure."""
    share = history.vehicle_months / history.vehicle_months.sum()
    seen = np.bincount(history.depot, minlength=len(share))
    shape = DEPOT_HOLD + seen
    factor = rng.gamma(shape, 1.0 / (DEPOT_HOLD + share * len(history.cause)), (draws, len(share)))
    return np.asarray(factor / (factor @ share)[:, np.newaxis])


def _draw_counts(
    rate: NDArray[np.float64],
    vehicle_months: NDArray[np.float64],
    tickets: tuple[OpenTicket, ...],
    dispersion: float,
    rng: np.random.Generator,
) -> NDArray[np.int64]:
    """Draw numbers of repairs at one depot, shape (draws, M, C)."""
    draws, causes = rate.shape
    usual: NDArray[np.float64] = rate[:, np.newaxis, :] * vehicle_months[np.newaxis, :, np.newaxis]
    ticketed: NDArray[np.int64] = np.zeros((draws, len(vehicle_months), causes), dtype=np.int64)
    for one in tickets:
        share = np.array(one.causes)
        share = share + max(0.0, 1.0 - share.sum()) / causes
        when = np.array(one.months)
        usual -= one.probability * when[:, np.newaxis] * share[np.newaxis, :]
        happens = rng.random((draws, 1)) < one.probability
        month = np.count_nonzero(np.cumsum(when) < rng.random((draws, 1)), axis=1)
        drawn = np.count_nonzero(np.cumsum(share) < rng.random((draws, 1)), axis=1, keepdims=True)
        chosen = np.minimum(drawn, causes - 1) == np.arange(causes)
        inside = np.flatnonzero(month < len(vehicle_months))
        ticketed[inside, month[inside], :] += (chosen & happens)[inside]
    return ticketed + _clumped(np.maximum(usual, 0.0), dispersion, rng)


def _clumped(expected: NDArray[np.float64], dispersion: float, rng: np.random.Generator) -> NDArray[np.int64]:
    """Draw numbers whose variance is `dispersion` times their mean: Poisson, or Gamma-mixed Poisson."""
    if dispersion > 1.0:
        expected = rng.gamma(expected / (dispersion - 1.0), dispersion - 1.0)
    return np.asarray(rng.poisson(expected), dtype=np.int64)


def _draw_costs(
    counts: NDArray[np.int64], centre: NDArray[np.float64], prices: _Prices, rng: np.random.Generator
) -> NDArray[np.int64]:
    """Draw what these repairs cost together [minor units], shape (draws, M, C)."""
    cost = np.zeros(counts.shape, dtype=np.int64)
    for cause in range(counts.shape[2]):
        number = counts[:, :, cause].ravel()
        cell = np.repeat(np.arange(len(number)), number)
        past = prices.past[cause]
        if cause in prices.unpriced:
            continue
        if len(past) >= LEAST_EMPIRICAL:
            amount = past[rng.integers(0, len(past), len(cell))]
        else:
            middle = centre[cell // counts.shape[1], cause]
            amount = np.exp(middle + prices.spread[cause] * rng.standard_normal(len(cell)))
            amount = np.where(rng.random(len(cell)) < prices.free[cause], 0.0, amount)
        minor = np.rint(MINOR * amount)
        summed = np.bincount(cell, weights=minor, minlength=len(number))
        cost[:, :, cause] = summed.astype(np.int64).reshape(counts.shape[:2])
    return cost


def _price(history: RepairHistory, table: NDArray[np.float64]) -> _Prices:
    """Learn what one repair of each cause costs from past costs and the cost table."""
    known = ~np.isnan(history.cost)
    everything = np.log(history.cost[known & (history.cost > 0.0)])
    past = tuple(history.cost[known & (history.cause == cause)] for cause in range(len(table)))
    lines = [_price_one(own, float(usual), everything) for own, usual in zip(past, table, strict=True)]
    centre, doubt, spread, free = np.array(lines).T
    bare = [cause for cause, own in enumerate(past) if not len(own) and np.isnan(table[cause])]
    return _Prices(
        centre=centre,
        doubt=doubt,
        spread=spread,
        free=free,
        past=past,
        pooled=tuple(bare) if len(everything) else (),
        unpriced=() if len(everything) else tuple(bare),
    )


def _price_one(
    own: NDArray[np.float64], usual: float, everything: NDArray[np.float64]
) -> tuple[float, float, float, float]:
    """Give middle of log cost, doubt about it, spread around it, and the share that cost nothing."""
    logs = np.log(own[own > 0.0])
    start, worth = 0.0, 0.0
    if not np.isnan(usual):
        start, worth = float(np.log(usual)), TABLE_WORTH
    elif len(everything):
        start, worth = float(everything.mean()), 1.0
    total = worth + len(logs)
    free = 1.0 - len(logs) / len(own) if len(own) else 0.0
    squares = float(((logs - logs.mean()) ** 2).sum()) if len(logs) else 0.0
    freedom = SPREAD_WORTH + max(0, len(logs) - 1)
    spread = float(np.sqrt((SPREAD_WORTH * COST_SPREAD**2 + squares) / freedom))
    if total == 0.0:
        return 0.0, 0.0, spread, free
    centre = (worth * start + float(logs.sum())) / total
    return centre, spread / float(np.sqrt(total)), spread, free


def _describe(cost: NDArray[np.int64]) -> NDArray[np.int64]:
    """Give mean, 10, 50 and 90 % points over draws, rounded to whole minor units, shape (4, ...)."""
    points = np.quantile(cost, (0.1, 0.5, 0.9), axis=0)
    return np.asarray(np.rint(np.concatenate([cost.mean(axis=0)[np.newaxis], points])), dtype=np.int64)


def _spread(cost: NDArray[np.int64], mean: NDArray[np.int64]) -> Spread:
    """Put a total's points beside the mean that its cells add up to."""
    described = _describe(cost)
    return Spread(mean=mean, p10=described[1], p50=described[2], p90=described[3])
