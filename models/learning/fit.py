"""Everything learned from the fleet up to a fit date, and the residuals that follow from it.

Fits happen on fixed dates (every 28 days, weekly while history is short), so a replay that walks the days
and a nightly run that starts from nothing learn the same numbers. A residual uses only readings up to its
own day.
"""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.evidence.history import History, build_history, clip_to_neighbours
from models.evidence.loads import HiddenLoads, hidden_loads
from models.evidence.noise import Noise, estimate_sigma, estimate_slow
from models.learning.adjust import Cells, fit_adjustment, sort_cells
from models.learning.answers import own_answers
from models.learning.breaks import find_moves, find_resets, number_stretches, recorded_resets, relearning
from models.learning.crowd import MIN_VEHICLES, Common, find_common, form_crowds
from models.learning.loggers import find_loggers
from models.learning.rounding import rounding_steps
from models.panel import Daily, Fleet
from models.series import BOUNDED, SERIES, Observations, observe
from models.statistics.grouped import medians_within
from models.statistics.robust import MAD_CONSISTENCY

FIT_EVERY_DAYS: Final = 28
EARLY_FIT_EVERY_DAYS: Final = 7
EARLY_DAYS: Final = 56

_SPREAD_TAIL: Final = 1.5
"""Like vehicles differ with heavier tails than a normal sample's scale says; chosen by us."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Material:
    """What is read once: observations, groups, breaks; independent of any fit.

    Parameters
    ----------
    seen : Observations
    group : int32 array of shape (V,)
        Like vehicles: place of the spec sheet, or the last group for none.
    groups : int
    crowd : int32 array of shape (V,)
        Who shares weather and fuel.
    resets : int64 array of shape (r, 2)
        Vehicle and day of cleared memory, found and recorded.
    found_resets : int64 array of shape (f, 2)
        The found ones alone.
    moves : int64 array of shape (m, 3)
        Vehicle, first day and day known of moves to another altitude.
    loggers : int64 array of shape (n, 4)
        Changes of logger, see `loggers.find_loggers`.
    usable : bool array of shape (k,)
        False while a learned value is being learned anew.
    stretch : int32 array of shape (k,)
        Changes at known repairs, see `breaks.number_stretches`.
    cells : Cells
        Observations by like vehicles and series.
    first_day, last_day : int
    """

    seen: Observations
    group: NDArray[np.int32]
    groups: int
    crowd: NDArray[np.int32]
    resets: NDArray[np.int64]
    found_resets: NDArray[np.int64]
    moves: NDArray[np.int64]
    loggers: NDArray[np.int64]
    usable: NDArray[np.bool_]
    stretch: NDArray[np.int32]
    cells: Cells
    first_day: int
    last_day: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Peers:
    """Like vehicles' long-run levels by group and series, each array of shape (G, S).

    Parameters
    ----------
    level, low, high : float64 arrays
        Median, 10 % and 90 % points [series' unit]; 0, NaN, NaN where nobody reports the series.
    spread : float64 array
        Standard deviation between vehicles with a margin for heavy tails; inf below eight vehicles.
    count : int64 array
        Vehicles behind them.
    """

    level: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    spread: NDArray[np.float64]
    count: NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """What one fit date taught, and all residuals under it.

    Parameters
    ----------
    fit_day : int
        Last day that taught.
    common : Common
        What the vehicles of each depot do together.
    noise : Noise
    peers : Peers
    adjusted : float64 array of shape (k,)
        Value less what covariates, crowd and the vehicle's own answers explain [series' unit].
    history : History
        Of the clipped residuals: adjusted less the like vehicles' level. Of switches no reading counts in it:
        `models.alarm.switches` weighs them.
    hidden : HiddenLoads
        Vehicles that do not report their idle loads.
    """

    fit_day: int
    common: Common
    noise: Noise
    peers: Peers
    adjusted: NDArray[np.float64]
    history: History
    hidden: HiddenLoads


def gather(fleet: Fleet, daily: Daily) -> Material:
    """Read the observations and what is known about breaks."""
    seen = observe(fleet, daily)
    found = find_resets(daily, seen)
    resets = np.unique(np.concatenate((found, recorded_resets(fleet))), axis=0)
    days = daily.day
    group = np.where(fleet.sheet >= 0, fleet.sheet, len(fleet.sheets)).astype(np.int32)
    return Material(
        seen=seen,
        group=group,
        groups=len(fleet.sheets) + 1,
        crowd=form_crowds(fleet.depot),
        resets=resets,
        found_resets=found,
        moves=find_moves(daily),
        loggers=find_loggers(fleet, daily),
        usable=~relearning(seen, resets),
        stretch=number_stretches(fleet, seen),
        cells=sort_cells(seen, group),
        first_day=int(days.min()) if len(days) else 0,
        last_day=int(days.max()) if len(days) else 0,
    )


def fit_day_of(day: int, first_day: int) -> int:
    """Give the fit date that serves an evaluation day.

    Examples
    --------
    >>> fit_day_of(first_day=19_000, day=19_400), fit_day_of(first_day=19_000, day=19_003)
    (19376, 19003)
    """
    early_until = first_day + EARLY_DAYS
    weekly = min(day, early_until)
    fitted = max(weekly - weekly % EARLY_FIT_EVERY_DAYS, day - day % FIT_EVERY_DAYS)
    return fitted if fitted > first_day + EARLY_FIT_EVERY_DAYS else day


def served(material: Material, fit_day: int) -> Material:
    """Keep what the days served by one fit may look at: everything until the next fit.

    A walk over a year would otherwise form the residuals of the whole year at every fit.
    """
    last = fit_day + FIT_EVERY_DAYS
    if material.last_day <= last:
        return material
    keep = material.seen.day <= last
    cells, kept = material.cells, keep[material.cells.order]
    counts = np.add.reduceat(kept.astype(np.int64), cells.bounds[:-1])
    return replace(
        material,
        seen=material.seen.take(keep),
        usable=material.usable[keep],
        stretch=material.stretch[keep],
        cells=Cells(
            order=(np.cumsum(keep, dtype=np.int32) - 1)[cells.order[kept]],
            bounds=np.unique(np.concatenate(([0], np.cumsum(counts)))),
            level=cells.level[kept],
        ),
        last_day=min(material.last_day, last),
    )


def learn(material: Material, fit_day: int) -> Fit:
    """Learn from everything up to the fit date and form the residuals of all days."""
    seen, group = material.seen, material.group
    vehicles = len(group)
    taught = (seen.day <= fit_day) & material.usable
    adjusted = fit_adjustment(seen, material.cells, fit_day)
    np.subtract(seen.value, adjusted, out=adjusted)
    steps = rounding_steps(seen, taught, material.loggers, vehicles, fit_day)
    sigma, rounding, pooled = estimate_sigma(seen, adjusted, taught, group, material.groups, steps)
    common = _take_shared_off(material, adjusted, taught, pooled, material.crowd, fit_day)
    _take_shared_off(material, adjusted, taught, pooled, form_crowds(fleet_groups(material)), fit_day)
    adjusted -= own_answers(seen, adjusted, taught, sigma, group)
    levels = _own_levels(seen, adjusted, taught, vehicles)
    peers = _compare_levels(levels, group, material.groups, np.nan_to_num(pooled, nan=1.0))
    inflation, correlation = estimate_slow(
        seen, _less(seen, adjusted, levels), taught, sigma, group, material.groups
    )
    noise = Noise(sigma=sigma, rounding=rounding, pooled=pooled, inflation=inflation, correlation=correlation)
    residual = _less(seen, adjusted, peers.level[group])
    history = build_history(
        seen,
        clip_to_neighbours(seen, residual, sigma, material.stretch, material.usable),
        material.usable & ~BOUNDED[seen.series],
        vehicles=vehicles,
        days=(material.first_day, material.last_day),
    )
    return Fit(
        fit_day=fit_day,
        common=common,
        noise=noise,
        peers=peers,
        adjusted=adjusted,
        history=history,
        hidden=hidden_loads(seen, taught, vehicles, (material.first_day, material.last_day)),
    )


def fleet_groups(material: Material) -> NDArray[np.int32]:
    """Give the like vehicles of each vehicle as crowds: -1 without a sheet."""
    return np.where(material.group < material.groups - 1, material.group, -1).astype(np.int32)


def _take_shared_off(
    material: Material,
    value: NDArray[np.float64],
    taught: NDArray[np.bool_],
    pooled: NDArray[np.float64],
    crowd: NDArray[np.int32],
    fit_day: int,
) -> Common:
    """Take what a crowd does together, on top of its vehicles' own levels, off the values; give it."""
    seen = material.seen
    away = _less(seen, value, _own_levels(seen, value, taught, len(material.group)))
    away[~material.usable] = np.nan
    common = find_common(
        seen,
        away,
        np.nan_to_num(pooled, nan=1.0),
        crowd,
        days=(material.first_day, material.last_day),
        fitted_until=fit_day,
    )
    for rows in seen.blocks(len(material.group)):
        value[rows] -= common.at(seen.take(rows))
    return common


def _less(seen: Observations, value: NDArray[np.float64], level: NDArray[np.float64]) -> NDArray[np.float64]:
    """Take each vehicle's level of the series, shape (V, S), off the values."""
    away = np.empty_like(value)
    for rows in seen.blocks(len(level)):
        away[rows] = value[rows] - level[seen.vehicle[rows], seen.series[rows]]
    return away


def _own_levels(
    seen: Observations, value: NDArray[np.float64], taught: NDArray[np.bool_], vehicles: int
) -> NDArray[np.float64]:
    """Median of each vehicle's series, shape (V, S); NaN below three readings."""
    level = np.full((vehicles, len(SERIES)), np.nan)
    for rows in seen.blocks(vehicles):
        used = taught[rows]
        lowest = int(seen.vehicle[rows.start])
        cell = seen.take(rows).cell[used] - lowest * len(SERIES)
        cells, middle = medians_within(value[rows][used], cell, least=3)
        level[lowest:].reshape(-1)[cells] = middle
    return level


def _compare_levels(
    levels: NDArray[np.float64], group: NDArray[np.int32], groups: int, pooled: NDArray[np.float64]
) -> Peers:
    shape = (groups, len(SERIES))
    level, count = np.zeros(shape), np.zeros(shape, np.int64)
    low, high = np.full(shape, np.nan), np.full(shape, np.nan)
    spread = np.full(shape, np.inf)
    for place in range(groups):
        mine = levels[group == place]
        for series in range(len(SERIES)):
            known = mine[np.isfinite(mine[:, series]), series]
            count[place, series] = len(known)
            if not len(known):
                continue
            low[place, series], level[place, series], high[place, series] = np.quantile(
                known, (0.1, 0.5, 0.9)
            )
            if len(known) >= MIN_VEHICLES:
                width = MAD_CONSISTENCY * float(np.median(np.abs(known - level[place, series])))
                spread[place, series] = _SPREAD_TAIL * max(width, pooled[series] / 2)
    return Peers(level=level, low=low, high=high, spread=spread, count=count)
