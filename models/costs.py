"""What repairs have cost: per cause, planned against unplanned, and cumulated over a vehicle's life.

References
----------
W. B. Nelson, Recurrent Events Data Analysis for Product Repairs (2003) (from memory): mean cumulative
function. J. F. Lawless, C. Nadeau, Technometrics 37 (1995) 158-168 (from memory): its robust variance.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.arguments import as_columns, demand_positive
from models.errors import OutOfRangeError, ShapeError

LEAST_REPAIRS: Final = 5
"""Repairs below which a cause is not shown alone [1]; the analyst's rule."""

POOLED: Final = "pooled"
"""Name of the row that takes the rare causes together."""

CHUNK_VEHICLES: Final = 256
"""Vehicles whose paths are held at once [1]; chosen by us: 256 x 10,000 events are 20 MB."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseCost:
    """One row of the table of costs.

    Parameters
    ----------
    cause : str
        Code, or `pooled`.
    members : tuple of str
        Causes behind the row, one unless pooled.
    planned : bool
        Whether the repairs followed a ticket rather than a complaint or breakdown.
    count, without_cost : int
        Repairs with and without a recorded cost.
    total, median, low, high : float
        Sum, median, least and greatest cost [currency]; NaN except for the sum without a recorded cost.
    per_100_000_km, per_1000_hours : float
        Sum over the fleet's exposure [currency]; NaN where the exposure is not known.
    """

    cause: str
    members: tuple[str, ...]
    planned: bool
    count: int
    without_cost: int
    total: float
    median: float
    low: float
    high: float
    per_100_000_km: float
    per_1000_hours: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MeanCumulative:
    """Mean cumulative cost (or number) of repairs for one vehicle by age.

    Parameters
    ----------
    age : float64 array of shape (m,)
        Ages at which a repair was seen, ascending [unit of the ages given].
    mean, error : float64 array of shape (m,)
        Mean cumulative amount up to and including that age, and its standard error.
    at_risk : int64 array of shape (m,)
        Vehicles under observation at that age.
    """

    age: NDArray[np.float64]
    mean: NDArray[np.float64]
    error: NDArray[np.float64]
    at_risk: NDArray[np.int64]


def cost_per_cause(
    causes: Sequence[str],
    planned: Sequence[bool],
    costs: ArrayLike,
    *,
    km: float | None = None,
    engine_hours: float | None = None,
) -> tuple[CauseCost, ...]:
    """Set planned against unplanned cost for each cause; causes with fewer than five repairs are pooled.

    Parameters
    ----------
    causes, planned : sequences of length n
        Cause code of each repair and whether it was planned.
    costs : array-like of shape (n,)
        Cost of each [currency]; NaN where not recorded.
    km, engine_hours : float, optional
        What the fleet drove and ran in the same time, above zero [km], [h]; None where not known.

    Returns
    -------
    tuple of CauseCost
        By cause, the unplanned row after the planned one; the pooled rows last; none where there is no
        repair.

    Raises
    ------
    ShapeError, OutOfRangeError
        When lengths differ, a cost is negative or an exposure is not positive.

    Examples
    --------
    >>> rows = cost_per_cause(["a"] * 5 + ["b"], [True] * 3 + [False] * 3, [1, 2, 3, 8, 9, 4], km=50_000)
    >>> [(row.cause, row.planned, row.total, row.median, row.per_100_000_km) for row in rows]
    [('a', True, 6.0, 2.0, 12.0), ('a', False, 17.0, 8.5, 34.0), ('pooled', False, 4.0, 4.0, 8.0)]
    """
    amount = as_columns(costs, "costs")
    if amount.shape != (len(causes),) or len(planned) != len(causes):
        raise ShapeError("costs", f"one value for each of {len(causes)} causes and planned", amount.shape)
    if np.any(amount < 0.0):
        raise OutOfRangeError("costs", "zero or above, or NaN", float(np.nanmin(amount)))
    for name, exposure in (("km", km), ("engine_hours", engine_hours)):
        if exposure is not None:
            demand_positive(exposure, name)
    code = np.array(causes, dtype=np.str_)
    ahead = np.array(planned, dtype=np.bool_)
    names, number = np.unique(code, return_counts=True)
    common = [str(one) for one in names[number >= LEAST_REPAIRS]]
    groups: list[tuple[str, tuple[str, ...]]] = [(one, (one,)) for one in common]
    rare = tuple(str(one) for one in names[number < LEAST_REPAIRS])
    if rare:
        groups.append((POOLED, rare))
    rows = []
    for name, members in groups:
        for way in (True, False):
            inside = np.isin(code, members) & (ahead == way)
            if inside.any():
                rows.append(_cost_row(name, members, way, amount[inside], km, engine_hours))
    return tuple(rows)


def mean_cumulative_cost(
    vehicle: ArrayLike, age: ArrayLike, cost: ArrayLike, until: ArrayLike, since: ArrayLike | None = None
) -> MeanCumulative:
    """Estimate the mean cumulative cost of repeated repairs without assuming any law.

    Parameters
    ----------
    vehicle : int array-like of shape (n,)
        Place of the vehicle of each repair.
    age : array-like of shape (n,)
        Its age at the repair [days, km or hours].
    cost : array-like of shape (n,)
        Cost of each [currency]; ones count repairs.
    until, since : array-like of shape (V,)
        Age at which the observation of each vehicle ends and begins; it begins at 0 unless given. Both
        ends count as observed.

    Returns
    -------
    MeanCumulative
        Empty without repairs.

    Raises
    ------
    ShapeError, OutOfRangeError
        When lengths differ, a vehicle is unknown or a repair lies outside its vehicle's observation.

    Examples
    --------
    >>> curve = mean_cumulative_cost([0, 1, 0], [3, 4, 7], [100, 60, 40], until=[10, 5])
    >>> curve.age, curve.mean, curve.at_risk
    (array([3., 4., 7.]), array([ 50.,  80., 120.]), array([2, 2, 1]))
    """
    who = np.asarray(vehicle, dtype=np.int64)
    when, amount = as_columns(age, "age"), as_columns(cost, "cost")
    end = as_columns(until, "until")
    start = np.zeros_like(end) if since is None else as_columns(since, "since")
    if not who.shape == when.shape == amount.shape or when.ndim != 1:
        raise ShapeError("cost", f"the shape of vehicle {who.shape}, one axis", amount.shape)
    if start.shape != end.shape or end.ndim != 1:
        raise ShapeError("since", f"the shape of until {end.shape}, one axis", start.shape)
    if np.any((who < 0) | (who >= len(end))):
        raise OutOfRangeError("vehicle", f"a place from 0 to {len(end) - 1}", int(who.max(initial=-1)))
    seen = (when >= start[who]) & (when <= end[who]) & ~np.isnan(amount)
    if not seen.all():
        raise OutOfRangeError("age", "inside the vehicle's observation, with a cost", float(when[~seen][0]))
    ages, place = np.unique(when, return_inverse=True)
    at_risk = np.count_nonzero((start[:, None] <= ages) & (ages <= end[:, None]), axis=0)
    rise = np.bincount(place, weights=amount, minlength=len(ages)) / at_risk
    variance = np.zeros(len(ages))
    for first in range(0, len(end), CHUNK_VEHICLES):
        part = slice(first, first + CHUNK_VEHICLES)
        watched = (start[part, None] <= ages) & (ages <= end[part, None])
        path = -rise * watched
        mine = (who >= first) & (who < first + CHUNK_VEHICLES)
        np.add.at(path, (who[mine] - first, place[mine]), amount[mine])
        variance += (np.cumsum(path / at_risk, axis=1) ** 2).sum(axis=0)
    return MeanCumulative(age=ages, mean=np.cumsum(rise), error=np.sqrt(variance), at_risk=at_risk)


def _cost_row(
    name: str,
    members: tuple[str, ...],
    planned: bool,
    amount: NDArray[np.float64],
    km: float | None,
    hours: float | None,
) -> CauseCost:
    """Sum up the repairs of one row."""
    known = amount[~np.isnan(amount)]
    total = math.fsum(known)
    return CauseCost(
        cause=name,
        members=members,
        planned=planned,
        count=len(known),
        without_cost=len(amount) - len(known),
        total=total,
        median=float(np.median(known)) if len(known) else math.nan,
        low=float(known.min()) if len(known) else math.nan,
        high=float(known.max()) if len(known) else math.nan,
        per_100_000_km=math.nan if km is None else 100_000.0 * total / km,
        per_1000_hours=math.nan if hours is None else 1000.0 * total / hours,
    )
