"""What moves readings without any fault: fuel, bad tanks, memory resets, new batteries.

Everything here is per vehicle and day; what dirties single rows on their way is in `dirt.py`.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.demo.roster import Roster
from service.demo.sheets import TYPES
from service.demo.strengths import Strengths
from service.demo.town import DEPOTS

Floats = NDArray[np.float64]

BLEND_SHIFT_PCT: Final = {"mass": 4.26, "orifice": 3.95, "volume": 3.64}
"""Trim shift from no alcohol to ten per cent by volume, by the way fuel is metered [%].

From the blend's stoichiometric ratio 14.7 / 14.1 - 1 and the densities 745 and 789 g/l; a calculation, no
measured study was found.
"""

BLEND_ALCOHOL_PCT: Final = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Reset:
    """Adaptive memory lost on the night before `day` (day of the history)."""

    vehicle: int
    day: int
    recorded: bool
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Circumstances:
    """Healthy movements by vehicle and day; arrays of shape (V, days).

    Parameters
    ----------
    fuel_pct : float array
        Trim shift by blend, season and bad tanks together [%].
    alcohol_pct : float array
        Alcohol in the tank [% by volume].
    rest_v : float array
        Resting voltage gained by a new battery [V].
    resets : tuple of Reset
        Losses of adaptive memory.
    new_batteries : tuple of (vehicle, day)
        Batteries changed without need.
    blend_changes : tuple of (depot, day, alcohol_pct)
        Blend changes.
    bad_tanks : int
        How many.
    """

    fuel_pct: Floats
    alcohol_pct: Floats
    rest_v: Floats
    resets: tuple[Reset, ...]
    new_batteries: tuple[tuple[int, int], ...]
    blend_changes: tuple[tuple[int, int, float], ...]
    bad_tanks: int


def _blends(
    rng: np.random.Generator, roster: Roster, days: int, mean: float
) -> tuple[Floats, tuple[tuple[int, int, float], ...]]:
    delivered = np.where(rng.random(len(DEPOTS)) < 0.3, BLEND_ALCOHOL_PCT, 0.0)[:, None] * np.ones(days)
    changes = []
    for _ in range(rng.poisson(mean)):
        depot, day = int(rng.integers(len(DEPOTS))), int(rng.integers(30, max(31, days - 10)))
        after = BLEND_ALCOHOL_PCT - delivered[depot, day]
        delivered[depot, day:] = after
        changes.append((depot, day, float(after)))
    tank = np.empty((len(roster), days))
    tank[:, 0] = delivered[roster.depot[:, 0], 0]
    # A vehicle refuels every few days and mixes new fuel with the rest of the old.
    mixing = rng.uniform(0.12, 0.4, len(roster))
    for day in range(1, days):
        into = delivered[roster.depot[:, day], day]
        tank[:, day] = tank[:, day - 1] + mixing * (into - tank[:, day - 1])
    return tank, tuple(changes)


def _winter(day_of_year: NDArray[np.int64], roster: Roster, pct: float, share: Floats) -> Floats:
    # Winter fuel comes in over about two weeks in late autumn and leaves in spring.
    into = 1 / (1 + np.exp(-(((day_of_year - 305 + 183) % 365) - 183) / 4.0))
    out = 1 / (1 + np.exp(-(((day_of_year - 90 + 183) % 365) - 183) / 4.0))
    season = np.where(day_of_year > 200, into, 1 - out)
    return np.asarray(pct * share[roster.depot] * season[None, :], dtype=np.float64)


def _bad_tanks(rng: np.random.Generator, vehicles: int, days: int, per_year: float) -> tuple[Floats, int]:
    shift = np.zeros((vehicles, days))
    counts = rng.poisson(per_year * days / 365.25, vehicles)
    for vehicle in np.flatnonzero(counts):
        for _ in range(counts[vehicle]):
            first, length = int(rng.integers(0, days)), int(rng.integers(4, 13))
            stretch = shift[vehicle, first : first + length]
            stretch += rng.choice([-1.0, 1.0]) * rng.uniform(1.5, 4.5)
    return shift, int(counts.sum())


def _resets(rng: np.random.Generator, vehicles: int, days: int, strengths: Strengths) -> list[Reset]:
    found = []
    for rate, recorded in ((strengths.resets_recorded, True), (strengths.resets_unrecorded, False)):
        for vehicle, count in enumerate(rng.poisson(rate * days / 365.25, vehicles)):
            found += [
                Reset(vehicle=vehicle, day=int(day), recorded=recorded, reason="disconnect")
                for day in rng.integers(5, days, count)
            ]
    return found


def make_circumstances(
    rng: np.random.Generator, roster: Roster, day_of_year: NDArray[np.int64], strengths: Strengths
) -> Circumstances:
    """Draw a fleet's healthy movements.

    Parameters
    ----------
    day_of_year : int64 array of shape (days,)
        From 1.

    Returns
    -------
    Circumstances
        Resets by repairs are not in it; `fleet.py` adds them.
    """
    vehicles, days = len(roster), len(day_of_year)
    alcohol, changes = _blends(rng, roster, days, strengths.fuel_changes)
    shift = np.array([BLEND_SHIFT_PCT[kind.fuel_metering] for kind in TYPES])[roster.kind]
    share = rng.uniform(0.3, 1.0, len(DEPOTS))
    tanks, bad = _bad_tanks(rng, vehicles, days, strengths.bad_tanks)
    winter = _winter(day_of_year, roster, strengths.winter_fuel_pct, share)
    resets = _resets(rng, vehicles, days, strengths)
    batteries, rest = [], np.zeros((vehicles, days))
    for vehicle in np.flatnonzero(rng.random(vehicles) < strengths.batteries * days / 365.25):
        day = int(rng.integers(5, days))
        batteries.append((int(vehicle), day))
        rest[vehicle, day:] = rng.uniform(0.0, 0.1)
        resets.append(Reset(vehicle=int(vehicle), day=day, recorded=True, reason="battery"))
    return Circumstances(
        fuel_pct=shift[:, None] * alcohol / BLEND_ALCOHOL_PCT + winter + tanks,
        alcohol_pct=alcohol,
        rest_v=rest,
        resets=tuple(resets),
        new_batteries=tuple(batteries),
        blend_changes=changes,
        bad_tanks=bad,
    )
