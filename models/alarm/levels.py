"""How much evidence a ticket needs: the fleet's one number turned into levels.

Evidence is counted as rarity: how often a sound vehicle shows as much (`models.evidence.kinds`), as the
fleet's own sound history has it (`models.alarm.bootstrap`). On that scale a level follows from the wish at
once, and read the other way round it is a mean run length: at a wish of 0.1 false tickets per 100
vehicle-months a vehicle sees one in 1,000 months.
"""

from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.alarm.bootstrap import NOTHING, Chance
from models.evidence.kinds import BEYOND, DRAWN, FAMILIES, KINDS, least_nats, rarity
from models.learning.fit import EARLY_DAYS
from models.panel import Wish
from models.statistics.runlength import DAYS_PER_MONTH, wanted_run_length

PRIOR_PASSAGES: Final = 4.0
"""Passages that the table's word is worth beside the fleet's own; chosen by us."""

LEAST_STRETCH: Final = 0.6
"""A tail shorter than this is luck of the draw; chosen by us."""

YOUNG_FLEET: Final = ((EARLY_DAYS, 4.0), (120, 2.0))
"""How much more often sound vehicles show evidence of any kind while a fleet's history is shorter than so
many days: its noise and its weather are hardly known yet; from tuning fleets, rounded."""


def _as_in_the_table() -> NDArray[np.float64]:
    return np.ones(len(KINDS))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Levels:
    """Rarity needed for each tier.

    Parameters
    ----------
    ticket, watch : float
        Negative logarithm of false tickets per 100 vehicle-months [nats].
    ratio : float64 array of shape (len(KINDS),)
        How often sound vehicles of this fleet show evidence of each kind, over what the table says; 1 where
        the fleet's history says nothing yet.
    stretch : float64 array of shape (len(KINDS),)
        How much further than the table's the tail of each kind reaches in this fleet.
    months : float
        Vehicle-months of drawn histories behind the ratios; 0 where they are the table's alone.
    """

    ticket: float
    watch: float
    ratio: NDArray[np.float64] = field(default_factory=_as_in_the_table)
    stretch: NDArray[np.float64] = field(default_factory=_as_in_the_table)
    months: float = 0.0

    def rarity(self, nats: NDArray[np.float64], kind: NDArray[np.int64]) -> NDArray[np.float64]:
        """Turn evidence of some kinds into its rarity in this fleet; arrays of one shape."""
        found: NDArray[np.float64] = rarity(nats, kind, self.stretch) - np.log(self.ratio)[kind]
        return found

    @property
    def least_nats(self) -> float:
        """Evidence below which nothing reaches the watch level [nats]."""
        return least_nats(self.watch + np.log(self.ratio), self.stretch)


def set_levels(wish: Wish, chance: Chance = NOTHING, *, days: int | None = None) -> Levels:
    """Turn the owner's wish into levels for this fleet.

    The fleet's own drawn histories say how often evidence passes `Kind.often` and how far beyond it reaches,
    over what those of the table's fleets show, both shrunk towards 1 by `PRIOR_PASSAGES`. Passages are few,
    so the kinds of a family share both.

    Parameters
    ----------
    wish : Wish
    chance : Chance
        What sound residuals of this fleet show by chance; nothing by default.
    days : int, optional
        Length of the fleet's history; long by default.

    Returns
    -------
    Levels

    Examples
    --------
    >>> round(set_levels(Wish(false_tickets=0.1)).ticket, 4)
    2.3026
    """
    expected = DRAWN * chance.months / 100.0
    ratio, stretch = np.ones(len(KINDS)), np.ones(len(KINDS))
    for family in FAMILIES:
        passed, usual = chance.passed[family].sum(), np.average(BEYOND[family], weights=DRAWN[family])
        ratio[family] = (passed + PRIOR_PASSAGES) / (expected[family].sum() + PRIOR_PASSAGES)
        beyond = (chance.beyond[family].sum() + PRIOR_PASSAGES * usual) / (passed + PRIOR_PASSAGES)
        stretch[family] = np.maximum(beyond / usual, LEAST_STRETCH)
    ratio *= next((more for until, more in YOUNG_FLEET if days is not None and days < until), 1.0)
    return Levels(
        ticket=level_for(wish.false_tickets),
        watch=level_for(wish.false_tickets * wish.watch_factor),
        ratio=ratio,
        stretch=stretch,
        months=chance.months,
    )


def level_for(rate: float) -> float:
    """Give the rarity that a sound vehicle passes so often.

    Parameters
    ----------
    rate : float
        [per 100 vehicle-months], above 0.

    Returns
    -------
    float
        [nats]
    """
    return float(-np.log(rate))


def rate_at(score: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give how often a sound vehicle passes each rarity [per 100 vehicle-months]; inverts `level_for`."""
    rate: NDArray[np.float64] = np.exp(-score)
    return rate


def run_length_of(level: float) -> float:
    """Give the mean time between false tickets of one vehicle at a level.

    Parameters
    ----------
    level : float
        Rarity needed [nats].

    Returns
    -------
    float
        [vehicle-months]; for all series of a vehicle together.

    Examples
    --------
    >>> round(run_length_of(set_levels(Wish(false_tickets=0.1)).ticket))
    1000
    """
    return wanted_run_length(float(rate_at(np.array(level))), series=1) / DAYS_PER_MONTH
