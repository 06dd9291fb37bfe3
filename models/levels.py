"""How much evidence a ticket needs: the fleet's one number turned into nats.

The chance that a sound vehicle's best log-likelihood ratio passes h within a month falls like exp(-h). One
constant, measured on sound fleets through the whole chain (adjustment, common mode, clipping, many onsets and
directions), anchors it; the owner's number of false tickets moves the level along the exponential.
"""

from dataclasses import dataclass
from math import log
from typing import Final

from models.panel import Wish

ANCHOR_NATS: Final = 9.0
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
    9.4055
    """
    ticket = ANCHOR_NATS + log(ANCHOR_RATE / wish.false_tickets)
    return Levels(ticket=ticket, watch=ticket - log(wish.watch_factor))
