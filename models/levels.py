"""How much evidence a ticket needs: the fleet's one number turned into nats.

The chance that a sound vehicle's best log-likelihood ratio passes h within a month falls like exp(-h). One
constant, measured on sound fleets through the whole chain (adjustment, common mode, clipping, many onsets and
directions), anchors it; the owner's number of false tickets moves the level along the exponential. Read the
other way round, a level is a mean run length: at a wish of 0.1 false tickets per 100 vehicle-months a vehicle
sees one in 1,000 months.
"""

from dataclasses import dataclass
from math import exp, log
from typing import Final

from models.panel import Wish
from models.runlength import DAYS_PER_MONTH, wanted_run_length

ANCHOR_NATS: Final = 10.0
"""Level at which sound fleets give `ANCHOR_RATE`; measured, see the mathematics in DEVELOPERS.md."""

ANCHOR_RATE: Final = 0.15
"""False tickets per 100 vehicle-months at the anchor."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Levels:
    """Evidence needed for each tier [nats]."""

    ticket: float
    watch: float


def set_levels(wish: Wish) -> Levels:
    """Turn the owner's wish into levels.

    Examples
    --------
    >>> round(set_levels(Wish(false_tickets=0.1)).ticket, 4)
    10.4055
    """
    ticket = ANCHOR_NATS + log(ANCHOR_RATE / wish.false_tickets)
    return Levels(ticket=ticket, watch=ticket - log(wish.watch_factor))


def run_length_of(level: float) -> float:
    """Give the mean time between false tickets of one vehicle at a level.

    Parameters
    ----------
    level : float
        Evidence needed [nats].

    Returns
    -------
    float
        [vehicle-months]; by the anchor's exponential, for all series of a vehicle together.

    Examples
    --------
    >>> round(run_length_of(set_levels(Wish(false_tickets=0.1)).ticket))
    1000
    """
    rate = ANCHOR_RATE * exp(ANCHOR_NATS - level)
    return wanted_run_length(rate, series=1) / DAYS_PER_MONTH
