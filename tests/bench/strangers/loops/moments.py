"""Moments at which snapshots are taken: which drive, how far into it, in which state, with what on."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from tests.bench.strangers.loops.condition import Condition
from tests.bench.strangers.loops.drives import Drives
from tests.bench.strangers.loops.fleet import Vehicle
from tests.bench.strangers.loops.places import Floats

STATES: Final = ("koeo_soak", "koeo", "crank", "cold_idle", "warm_idle", "cruise")
SOAK, KEY_ON, CRANK, COLD, WARM, ROAD = range(len(STATES))

CHANCES: Final = (0.3, 0.025, 0.2, 0.2, 0.29, 0.2)
"""Chance of a snapshot in each state of a drive in which it can be had; those of rested starts count only
there. Chosen by us for about 1.6 snapshots a vehicle and day."""

RESTED_H: Final = 7.0
WARM_MIN: Final = 11.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Moments:
    """Moments of one vehicle in order of time; arrays of shape (moments,).

    Parameters
    ----------
    drive, state : array of int
        Index of the drive and into `STATES`.
    minute : array
        Since the engine was started [min]; not above 0 before.
    idling_s : array
        Since the vehicle stood still [s].
    aircon, steering, gear, stuck : array of bool
        Loads that are on, and whether the faulty input reads on by itself.
    """

    drive: NDArray[np.int64]
    state: NDArray[np.int64]
    minute: Floats
    idling_s: Floats
    aircon: NDArray[np.bool_]
    steering: NDArray[np.bool_]
    gear: NDArray[np.bool_]
    stuck: NDArray[np.bool_]


def pick(rng: np.random.Generator, vehicle: Vehicle, drives: Drives, parts: Condition) -> Moments:
    """Draw the moments of all snapshots of a vehicle."""
    rested, long = drives.soak_h > RESTED_H, drives.minutes > WARM_MIN + 3.0
    able = np.column_stack([rested, np.ones_like(rested), rested | (drives.hour > 16.0), rested, long, long])
    drive, state = np.nonzero((rng.random(able.shape) < np.array(CHANCES) * vehicle.eagerness) & able)
    count = len(drive)
    free = np.maximum(drives.minutes[drive] - WARM_MIN, 0.5)
    minute = np.select(
        [state <= KEY_ON, state == CRANK, state == COLD],
        [np.full(count, -0.3), np.zeros(count), rng.uniform(0.25, 1.3, count)],
        WARM_MIN + rng.random(count) * free,
    )
    order = np.lexsort((minute, drive))
    drive, state, minute = drive[order], state[order], minute[order]
    idle = (state == COLD) | (state == WARM)
    return Moments(
        drive=drive.astype(np.int64),
        state=state.astype(np.int64),
        minute=minute,
        idling_s=rng.uniform(8.0, 120.0, count),
        aircon=(rng.random(count) < drives.aircon[drive]) & (state >= COLD),
        steering=idle & (rng.random(count) < 0.06),
        gear=(state == ROAD) | ((state == WARM) & (rng.random(count) < 0.12)),
        stuck=(rng.random(count) < parts.switch[drives.day[drive]]) & (state >= COLD),
    )
