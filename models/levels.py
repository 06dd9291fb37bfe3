"""How much evidence a ticket needs: the fleet's one number turned into nats.

A table measured on simulated sound fleets, through the whole chain (adjustment, common mode, clipping, many
onsets and directions), says how often a sound vehicle's evidence passes each level. Between its rows the
logarithm of the rate is taken as straight. Read the other way round, a level is a mean run length: at a wish
of 0.1 false tickets per 100 vehicle-months a vehicle sees one in 1,000 months.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.panel import Wish
from models.statistics.runlength import DAYS_PER_MONTH, wanted_run_length

MEASURED: Final = (
    (4.0, 5.41), (5.0, 1.86), (6.0, 0.794), (7.0, 0.318), (8.0, 0.184), (9.0, 0.142), (10.0, 0.092),
    (12.0, 0.059), (14.0, 0.033), (16.0, 0.025),
)  # fmt: skip
"""Level [nats] and first passages per 100 vehicle-months: tuning seeds 1 to 4 of the sound fleet of 500
vehicles over 26 weeks, 11,958 vehicle-months; crossings of a sheet's limits come on top."""

_LEVELS: Final = np.array([level for level, _ in MEASURED])
_LOG_RATES: Final = np.log([rate for _, rate in MEASURED])


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """Evidence needed for each tier [nats]."""

    ticket: float
    watch: float


def set_levels(wish: Wish) -> Levels:
    """Turn the owner's wish into levels.

    Examples
    --------
    >>> set_levels(Wish(false_tickets=0.092)).ticket
    10.0
    """
    return Levels(
        ticket=level_for(wish.false_tickets), watch=level_for(wish.false_tickets * wish.watch_factor)
    )


def level_for(rate: float) -> float:
    """Give the level that a sound vehicle passes so often.

    Parameters
    ----------
    rate : float
        [per 100 vehicle-months], above 0; beyond the table its last slope goes on.

    Returns
    -------
    float
        [nats]
    """
    wanted = float(np.log(rate))
    falling = -_LOG_RATES
    place = int(np.clip(np.searchsorted(falling, -wanted), 1, len(_LEVELS) - 1))
    share = (-wanted - falling[place - 1]) / (falling[place] - falling[place - 1])
    return float(_LEVELS[place - 1] + share * (_LEVELS[place] - _LEVELS[place - 1]))


def rate_at(level: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give how often a sound vehicle passes each level [per 100 vehicle-months]; inverts `level_for`."""
    place = np.clip(np.searchsorted(_LEVELS, level), 1, len(_LEVELS) - 1)
    share = (level - _LEVELS[place - 1]) / (_LEVELS[place] - _LEVELS[place - 1])
    rate: NDArray[np.float64] = np.exp(
        _LOG_RATES[place - 1] + share * (_LOG_RATES[place] - _LOG_RATES[place - 1])
    )
    return rate


def run_length_of(level: float) -> float:
    """Give the mean time between false tickets of one vehicle at a level.

    Parameters
    ----------
    level : float
        Evidence needed [nats].

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
