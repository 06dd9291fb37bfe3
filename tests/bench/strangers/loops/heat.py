"""The coolant: warmed by each drive, held by the thermostat, cooled by each rest."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from tests.bench.strangers.loops.condition import Condition
from tests.bench.strangers.loops.drives import Drives
from tests.bench.strangers.loops.fleet import Vehicle
from tests.bench.strangers.loops.places import Floats

COOLING_H: Final = 2.9
"""Hours in which a stopped engine loses 63 % of its warmth; chosen by us, about 75 % in four hours."""

IDLE_PULL, CRUISE_PULL = 0.17, 0.34
"""Warmth a wholly open thermostat carries off over what it carries off when shut, by state; chosen by us so
that a warm engine at 10 degC falls from 90 to about 78 and 70 degC."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Heat:
    """Coolant of each drive; arrays of shape (drives,).

    Parameters
    ----------
    start_c, idle_c, cruise_c : array
        At the start, and where it settles when idling and cruising [degC].
    warming_min : array
        Minutes in which 63 % of the way is made [min].
    """

    start_c: Floats
    idle_c: Floats
    cruise_c: Floats
    warming_min: Floats

    def coolant_c(self, drive: NDArray[np.int64], minute: Floats, *, cruising: NDArray[np.bool_]) -> Floats:
        """Give the true coolant temperature so many minutes after the start."""
        settled = np.where(cruising, self.cruise_c[drive], self.idle_c[drive])
        left = np.exp(-minute / self.warming_min[drive])
        return np.asarray(settled - (settled - self.start_c[drive]) * left, dtype=np.float64)


def warm(rng: np.random.Generator, vehicle: Vehicle, drives: Drives, parts: Condition) -> Heat:
    """Follow the coolant through all drives and rests."""
    held = vehicle.build.thermostat_c + vehicle.traits.thermostat_c + rng.normal(0.0, 0.9, len(drives.day))
    held += 0.035 * vehicle.traits.heat_gain * (drives.air_c - 15.0)
    share = parts.open_share[drives.day]
    idle = drives.air_c + (held - drives.air_c) / (1.0 + IDLE_PULL * share)
    cruise = drives.air_c + (held - 1.5 - drives.air_c) / (1.0 + CRUISE_PULL * share)
    warming = 3.6 * (1.0 + 0.012 * (20.0 - drives.air_c)).clip(0.7, 1.6) * (1.0 + 0.7 * share)
    settled, kept = 0.5 * (idle + cruise), np.exp(-drives.minutes / warming)
    cooled = np.exp(-drives.soak_h / COOLING_H)
    start = np.empty(len(drives.day))
    end = float(drives.air_c[0])
    for index, (air, rest, goal, left) in enumerate(
        zip(drives.air_c.tolist(), cooled.tolist(), settled.tolist(), kept.tolist(), strict=True)
    ):
        here = air + (end - air) * rest
        start[index] = here
        end = goal - (goal - here) * left
    return Heat(start_c=start, idle_c=idle, cruise_c=cruise, warming_min=warming)
