"""When each snapshot is taken: days in use, states met on them, hour, time since start and switches."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import STATES
from service.demo.roster import Roster
from service.demo.sheets import TYPES
from service.demo.town import Climate, air_temperature

_SLOTS: Final = (
    # state, weight, earliest and latest hour after the day's first start
    ("koeo_soak", 0.42, 0.0, 0.0),
    ("crank", 0.27, 0.008, 0.012),
    ("cold_idle", 0.17, 0.02, 0.05),
    ("warm_idle", 0.42, 0.4, 3.8),
    ("cruise", 0.28, 0.35, 3.9),
    ("koeo", 0.05, 4.0, 4.6),
    ("warm_idle", 0.40, 4.7, 9.2),
    ("cruise", 0.27, 4.7, 9.2),
)
"""Moments of a day at which a logger may report; weights chosen by us, scaled to the wanted rate."""

_WEEKDAY_USE: Final = (0.93, 0.93, 0.93, 0.93, 0.92, 0.4, 0.2)
"""Share of Mondays to Sundays with work; chosen by us."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rows:
    """Snapshots sorted by vehicle, day and hour; columns of shape (n,).

    Parameters
    ----------
    vehicle, day, state : int arrays
        Place of the vehicle, day of the history, place in `parameters.STATES`.
    hour : float array
        Local hour of the day [h].
    run_s : float array
        Time since engine start [s]; 0 with the engine off.
    air_c : float array
        Outside air [degC].
    ac, steering, gear : bool arrays
        Idle-load switches as they truly are.
    depot : int array
        Depot on that day.
    """

    vehicle: NDArray[np.int64]
    day: NDArray[np.int64]
    state: NDArray[np.int64]
    hour: NDArray[np.float64]
    run_s: NDArray[np.float64]
    air_c: NDArray[np.float64]
    ac: NDArray[np.bool_]
    steering: NDArray[np.bool_]
    gear: NDArray[np.bool_]
    depot: NDArray[np.int64]

    def __len__(self) -> int:
        """Count snapshots."""
        return len(self.vehicle)

    def among(self, *states: str) -> NDArray[np.bool_]:
        """Mark the rows whose state is one of those named; bool array of shape (n,)."""
        return np.isin(self.state, [STATES.index(state) for state in states])


def silent_spells(
    rng: np.random.Generator, vehicles: int, days: int, per_year: float
) -> tuple[NDArray[np.bool_], int]:
    """Draw spells of one to five weeks without any snapshot.

    Returns
    -------
    silent : bool array of shape (vehicles, days)
    spells : int
        How many were drawn.
    """
    silent = np.zeros((vehicles, days), dtype=bool)
    counts = rng.poisson(per_year * days / 365.25, vehicles)
    for vehicle in np.flatnonzero(counts):
        for _ in range(counts[vehicle]):
            first = int(rng.integers(0, days))
            silent[vehicle, first : first + int(rng.integers(7, 36))] = True
    return silent, int(counts.sum())


def make_rows(
    rng: np.random.Generator,
    roster: Roster,
    climate: Climate,
    silent: NDArray[np.bool_],
    weekday: NDArray[np.int64],
    per_day: float,
) -> Rows:
    """Draw the timetable of a fleet.

    Parameters
    ----------
    rng, roster, climate
        Source of chance, vehicles and weather.
    silent : bool array of shape (V, days)
        Days on which the logger says nothing.
    weekday : int array of shape (days,)
        0 for Monday.
    per_day : float
        Mean snapshots per vehicle and calendar day, silent spells apart.

    Returns
    -------
    Rows
        Sorted by vehicle, day and hour.
    """
    vehicles, days = silent.shape
    use = np.array(_WEEKDAY_USE)
    weights = np.array([slot[1] for slot in _SLOTS])
    chance = np.minimum(0.97, weights * per_day / (weights.sum() * use.mean()))
    used = rng.random((vehicles, days)) < use[weekday][None, :] * roster.usage[:, None]
    taken = (rng.random((vehicles, days, len(_SLOTS))) < chance) & (used & ~silent)[:, :, None]
    vehicle, day, slot = np.nonzero(taken)
    n = len(vehicle)
    first = roster.start_hour[:, None] + rng.uniform(-0.3, 0.3, (vehicles, days))
    low, high = (np.array([item[place] for item in _SLOTS]) for place in (2, 3))
    after = low[slot] + rng.random(n) * (high - low)[slot]
    hour = first[vehicle, day] + after
    state = np.array([STATES.index(item[0]) for item in _SLOTS])[slot]
    order = np.lexsort((hour, day, vehicle))
    vehicle, day, state = vehicle[order], day[order], state[order]
    hour, after = hour[order], after[order]
    return _fill_in(rng, roster, climate, places=(vehicle, day, state), hour=hour, after=after)


def _fill_in(
    rng: np.random.Generator,
    roster: Roster,
    climate: Climate,
    *,
    places: tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]],
    hour: NDArray[np.float64],
    after: NDArray[np.float64],
) -> Rows:
    """Add weather, time since start and switches; `after` is the time since the day's first start [h]."""
    vehicle, day, state = places
    n = len(vehicle)
    depot = roster.depot[vehicle, day]
    air = air_temperature(climate, depot, day, hour) + rng.normal(0, 0.7, n)
    running = np.isin(state, [STATES.index("warm_idle"), STATES.index("cruise")])
    trip = np.minimum(np.exp(rng.uniform(np.log(700), np.log(6000), n)), after * 3600 * 0.97)
    cold = state == STATES.index("cold_idle")
    run = np.where(running, trip, np.where(cold, after * 3600, 0.0)).round()
    idling = np.isin(state, [STATES.index("warm_idle"), STATES.index("cold_idle")])
    cooling = 1 / (1 + np.exp(-(air - 20.5) / 2.5))
    wish = roster.uses_ac[vehicle] * np.maximum(cooling, 0.12 * (air < 4))
    automatic = np.array([kind.idle_control == "electronic_throttle" for kind in TYPES])[roster.kind]
    return Rows(
        vehicle=vehicle,
        day=day,
        state=state,
        hour=hour,
        run_s=run,
        air_c=air,
        ac=(running | cold) & (rng.random(n) < wish),
        steering=idling & (rng.random(n) < 0.05),
        gear=(state == STATES.index("cruise")) | (idling & automatic[vehicle] & (rng.random(n) < 0.25)),
        depot=depot,
    )
