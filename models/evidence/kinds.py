"""Kinds of evidence: which sound movements imitate it, and how often.

Sound vehicles wander, burn bad tanks of fuel and carry loads that nobody reports; each of these imitates
some faults and not others. Twelve nats of evidence on a charging voltage are a fault; on a learned trim one
sound vehicle in some hundred shows as much within the year. So evidence is counted by kind: how often a sound
vehicle shows as much of that kind. On that scale all kinds can be compared, and the owner's wish is parted
among them.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import log
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import CAUSES
from models.causes.table import UNKNOWN, Directions, groups
from models.evidence.scan import TEMPLATES
from models.series import BOUNDED, LEARNED, TRIMS

YOUNG_DAYS: Final = 14
"""A change of trims younger than this may be one tank of bad fuel; chosen by us."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind of evidence.

    Parameters
    ----------
    name : str
    level : float
        Evidence that sound vehicles pass once in 100 vehicle-months [nats].
    fall : float
        By how much the logarithm of that rate falls with each nat [1].
    faults : float
        How many of the table's causes are found by it, roughly [1].
    family : str
        What makes a fleet's readings imitate one kind makes them imitate all of its family: `trim`, `idle`
        or `other`; `driver` of switches, which drawn histories know nothing of.
    drawn : float
        Passages of `often` by histories drawn from tuning fleets (`models.alarm.bootstrap`) [per 100
        vehicle-months]: fewer than by whole ones, because a fit flatters the days it was made from and
        joined blocks wander less. 0 where nothing is drawn.
    beyond : float
        Mean evidence of those passages beyond `often`, times `fall` [1]; 1 of an exponential tail that falls
        as whole histories' does.
    """

    name: str
    level: float
    fall: float
    faults: float
    family: str
    drawn: float
    beyond: float

    @property
    def often(self) -> float:
        """Evidence that sound vehicles pass often enough to be counted [nats]."""
        return max(self.level - log(2.0) / self.fall, 4.0)


KINDS: Final = (
    Kind(name="fuel, young", level=4.83, fall=0.45, faults=1.5, family="trim", drawn=0.29, beyond=0.95),
    Kind(name="fuel", level=3.75, fall=0.39, faults=1.5, family="trim", drawn=0.21, beyond=0.98),
    Kind(name="trim, young", level=5.53, fall=0.47, faults=2.5, family="trim", drawn=0.45, beyond=0.77),
    Kind(name="trim", level=4.38, fall=0.43, faults=2.5, family="trim", drawn=0.33, beyond=0.63),
    Kind(name="lone trim", level=3.47, fall=0.42, faults=0.5, family="trim", drawn=0.19, beyond=0.87),
    Kind(name="idle air", level=4.00, fall=0.50, faults=1.5, family="idle", drawn=0.21, beyond=0.54),
    Kind(name="lone idle air", level=4.15, fall=0.36, faults=0.25, family="idle", drawn=0.29, beyond=0.37),
    Kind(name="charging", level=3.65, fall=1.76, faults=4.0, family="other", drawn=0.15, beyond=0.99),
    Kind(name="temperature", level=3.89, fall=1.27, faults=3.0, family="other", drawn=0.21, beyond=0.81),
    Kind(name="pressure", level=2.41, fall=0.94, faults=1.0, family="other", drawn=0.05, beyond=1.28),
    Kind(name="lone series", level=3.86, fall=1.23, faults=0.5, family="other", drawn=0.22, beyond=0.74),
    Kind(name="switch", level=4.20, fall=1.15, faults=4.0, family="driver", drawn=0.0, beyond=0.9),
)
"""First passages of sound vehicles through the whole chain, as straight lines in the logarithm of the rate,
from the fifth month on: own tuning seeds 1 to 5 and seeds 1 to 3 of either of the bench's strangers. `switch`
is the line of switches by themselves, runs of "on" among them (own seeds 1 to 4, two of them at half the
pace, and the strangers'); it is counted as four causes, because a switch that sticks says all it can within
weeks or never. Lone kinds are shifts of one series that no cause describes."""

PLACE: Final = {kind.name: place for place, kind in enumerate(KINDS)}
SWITCH: Final = PLACE["switch"]

FAMILIES: Final = tuple(
    np.array([kind.family == family for kind in KINDS]) for family in ("trim", "idle", "other")
)
"""Which kinds each family has of which histories are drawn, arrays of shape (len(KINDS),)."""

DRAWN: Final = np.array([kind.drawn for kind in KINDS])
BEYOND: Final = np.array([kind.beyond for kind in KINDS])
OFTEN: Final = np.array([kind.often for kind in KINDS])
FALL: Final = np.array([kind.fall for kind in KINDS])
_LEVEL: Final = np.array([kind.level for kind in KINDS])
_WORTH: Final = np.array([kind.faults / kind.fall for kind in KINDS])
SHARES: Final = _WORTH / _WORTH.sum()
"""Share of the owner's wish for each kind: the more faults it finds, and the more evidence one false ticket
less costs, the larger. A little less evidence then buys equally much in every kind."""

_AT_OFTEN: Final = FALL * (OFTEN - _LEVEL) + np.log(SHARES)
_AS_IN_THE_TABLE: Final = np.ones(len(KINDS))

LIKE_FUEL: Final = ("fuel_delivery_low", "fuel_pressure_high", "air_meter_low", "map_sensor_bias")
"""Causes that move both banks alike at every load, as fuel does."""

_IDLE_AIR: Final = LEARNED & ~TRIMS
_IS_YOUNG: Final = np.array([lag < YOUNG_DAYS for lag, _ in TEMPLATES])
_OF_GROUP: Final = {"idle": "idle air", "charging": "charging", "temperature": "temperature",
                    "pressure": "pressure", "mixture": "trim"}  # fmt: skip


def kinds_of(table: Directions, template: NDArray[np.int64]) -> NDArray[np.int64]:
    """Say of which kind each template and direction is, shape (n, K), places in `KINDS`."""
    old, young = _both_ages(table)
    return np.where(_IS_YOUNG[template][:, None], young[None, :], old[None, :])


@lru_cache(maxsize=64)
def _both_ages(table: Directions) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Give the kinds of a table's directions, old and young; asked for on every day of a fit."""
    old = np.array([_kind(table, row) for row in range(len(table.cause))])
    younger = {PLACE["fuel"]: PLACE["fuel, young"], PLACE["trim"]: PLACE["trim, young"]}
    return old, np.array([younger.get(kind, kind) for kind in old.tolist()])


def _kind(table: Directions, row: int) -> int:
    moved, cause = table.shift[row] != 0, int(table.cause[row])
    trims, idle = bool(moved[TRIMS].any()), bool(moved[_IDLE_AIR].any())
    if cause == UNKNOWN:
        return PLACE["lone trim" if trims else "lone idle air" if idle else "lone series"]
    if trims:
        return PLACE["fuel" if CAUSES[cause] in LIKE_FUEL else "trim"]
    if not moved[~BOUNDED].any():
        return SWITCH
    return PLACE[_OF_GROUP["idle" if idle else groups()[cause]]]


def rarity(
    nats: NDArray[np.float64], kind: NDArray[np.int64], stretch: NDArray[np.float64] = _AS_IN_THE_TABLE
) -> NDArray[np.float64]:
    """Turn evidence into how rarely a sound vehicle shows as much, one scale for all kinds.

    Parameters
    ----------
    nats : float64 array
        Log-likelihood ratios.
    kind : int64 array of the same shape
        Places in `KINDS`.
    stretch : float64 array of shape (len(KINDS),)
        How much further than the table's each kind's tail reaches beyond `Kind.often`.

    Returns
    -------
    float64 array
        Negative logarithm of passages per 100 vehicle-months over the kind's share of the wish: what is shown
        once in 100 vehicle-months by all kinds together is 0 [nats].

    Examples
    --------
    >>> float(rarity(np.array(12.0), np.array(PLACE["charging"]))) > float(
    ...     rarity(np.array(12.0), np.array(PLACE["trim"]))
    ... )
    True
    """
    found: NDArray[np.float64] = (FALL / stretch)[kind] * (nats - OFTEN[kind]) + _AT_OFTEN[kind]
    return found


def least_nats(score: NDArray[np.float64], stretch: NDArray[np.float64] = _AS_IN_THE_TABLE) -> float:
    """Give the evidence below which no kind reaches its rarity, arrays of shape (len(KINDS),) [nats]."""
    return float((OFTEN + (score - _AT_OFTEN) * stretch / FALL).min())
