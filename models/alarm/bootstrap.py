"""How much evidence chance alone shows in this fleet: a block bootstrap of its own sound residuals.

Blocks of consecutive weeks of one vehicle, all its series together, are drawn with replacement and laid end
to end. Within a block everything stays as it was: autocorrelation, bad tanks, gaps, the way series move
together. Across blocks a drift is torn apart, while wandering between weeks and months stays. What passes a
level in such histories passes it by chance.

References
----------
Kuensch, H. R. (1989). The jackknife and the bootstrap for general stationary observations. Ann. Statist. 17,
1217-1241. From memory.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.evidence.history import History, build_history
from models.evidence.kinds import FALL, KINDS, OFTEN
from models.evidence.scan import Evidence, weigh
from models.learning.fit import Fit, Material
from models.series import SERIES, Observations
from models.statistics.runlength import DAYS_PER_MONTH

BLOCK_DAYS: Final = 56
"""Length of a block; chosen by us: wandering of learned trim and seasons of habit last weeks."""

BLOCKS: Final = 4
"""Blocks laid end to end."""

HISTORIES: Final = 300
"""Histories drawn; more of them repeat the same weeks."""

SETTLED_DAYS: Final = 56
"""Days of a drawn history after which it is watched: before, too little is there to change from."""

STEP_DAYS: Final = 14
"""Days between two looks at a drawn history."""

FRESH_DAYS: Final = 42
"""Newest days that are not drawn from: a fault that nobody has seen yet would be among them."""

LEAST_HISTORY_DAYS: Final = 2 * BLOCK_DAYS + FRESH_DAYS
"""History without which nothing is drawn: two blocks that need not overlap, older than `FRESH_DAYS`."""

FURTHEST: Final = 3.0
"""What one history counts beyond `Kind.often`, times `Kind.fall`, at most; chosen by us: of an exponential
tail one in twenty lies further. A vehicle whose fault nobody has seen is drawn from, too, and must not deafen
its fleet."""

MIN_SOURCES: Final = 8
"""Fewer sound vehicles than this say nothing about chance; as the least crowd."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chance:
    """What drawn histories reached while they were watched.

    Parameters
    ----------
    passed : float64 array of shape (len(KINDS),)
        Histories that passed, in each kind, the evidence of `Kind.often`.
    beyond : float64 array of shape (len(KINDS),)
        Their evidence beyond it, times `Kind.fall`, at most `FURTHEST` of each, added up [1].
    months : float
        Vehicle-months watched; 0 where the fleet's history is too short or small.
    """

    passed: NDArray[np.float64]
    beyond: NDArray[np.float64]
    months: float


NOTHING: Final = Chance(passed=np.zeros(len(KINDS)), beyond=np.zeros(len(KINDS)), months=0.0)
"""What a fleet says before it has a history to draw from."""


def draw_chance(
    material: Material,
    fit: Fit,
    *,
    sound: NDArray[np.bool_],
    start: NDArray[np.int32],
    most: Callable[[Evidence, NDArray[np.int32]], NDArray[np.float64]],
    rng: np.random.Generator,
) -> Chance:
    """Draw histories and watch them.

    Parameters
    ----------
    material : Material
    fit : Fit
        Only days up to `fit.fit_day` less `FRESH_DAYS` are drawn from.
    sound : bool array of shape (V,)
        Vehicles to draw from: those that show no fault.
    start : int32 array of shape (V, S)
        First day of each running segment; blocks begin no earlier than the vehicle's latest.
    most : callable
        Evidence of n histories and their like vehicles, shape (n,), in; best log-likelihood ratio of each
        kind [nats] out, shape (n, len(KINDS)).
    rng : Generator

    Returns
    -------
    Chance
    """
    span = BLOCK_DAYS * BLOCKS
    newest = fit.fit_day - FRESH_DAYS
    earliest = np.maximum(start.max(axis=1), material.first_day)
    source = np.flatnonzero(sound & (newest - earliest >= 2 * BLOCK_DAYS))
    if len(source) < MIN_SOURCES:
        return NOTHING
    chosen = rng.permutation(np.resize(rng.permutation(source), HISTORIES))
    room = newest - BLOCK_DAYS + 1 - earliest[chosen]
    begins = earliest[chosen][:, None] + (rng.random((HISTORIES, BLOCKS)) * room[:, None]).astype(np.int64)
    history = lay_out(material, fit, chosen, begins)
    group = material.group[chosen]
    noise = replace(fit.noise, sigma=fit.noise.sigma[chosen])
    reached = np.full((HISTORIES, len(KINDS)), -np.inf)
    for day in range(SETTLED_DAYS, span, STEP_DAYS):
        evidence = weigh(
            history,
            day=day,
            start=np.zeros((HISTORIES, len(SERIES)), np.int32),
            noise=noise,
            group=group,
            spread=fit.peers.spread[group],
            rows=np.arange(HISTORIES),
        )
        reached = np.maximum(reached, most(evidence, group))
    beyond = FALL * (reached - OFTEN)
    return Chance(
        passed=(beyond >= 0).sum(axis=0).astype(np.float64),
        beyond=np.clip(beyond, 0.0, FURTHEST).sum(axis=0),
        months=HISTORIES * (span - SETTLED_DAYS) / DAYS_PER_MONTH,
    )


def lay_out(material: Material, fit: Fit, chosen: NDArray[np.int64], begins: NDArray[np.int64]) -> History:
    """Lay the blocks of each drawn history end to end, from day 0 on."""
    seen, known = material.seen, fit.history
    low = np.stack([known.before(begins[:, [place]], chosen) for place in range(BLOCKS)], axis=2)
    ends = begins + BLOCK_DAYS
    high = np.stack([known.before(ends[:, [place]], chosen) for place in range(BLOCKS)], axis=2)
    count = (high - low).ravel()
    place = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    row = np.repeat(low.ravel(), count) + place
    drawn, series, block = (np.repeat(axis.ravel(), count) for axis in np.indices(low.shape))
    day = seen.day[row] - begins[drawn, block] + block * BLOCK_DAYS
    observed = Observations(
        vehicle=drawn.astype(np.int32),
        series=series.astype(np.int8),
        day=day.astype(np.int32),
        value=seen.value[row],
        source=seen.source[row],
        covariates=seen.covariates,
    )
    return build_history(
        observed,
        known.values(row),
        known.running[row + 1, 0] > known.running[row, 0],
        vehicles=len(chosen),
        days=(0, BLOCK_DAYS * BLOCKS - 1),
    )
