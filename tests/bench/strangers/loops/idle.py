"""The idle-air loop: an integrator that holds the idle speed by a bypass valve or by the throttle."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from tests.bench.strangers.loops.builds import Build
from tests.bench.strangers.loops.condition import Condition
from tests.bench.strangers.loops.drives import Drives
from tests.bench.strangers.loops.fleet import Vehicle
from tests.bench.strangers.loops.fuel import wander
from tests.bench.strangers.loops.life import Life
from tests.bench.strangers.loops.places import Floats

RELEARN_MIN: Final = 60.0
"""Engine minutes in which learned idle air makes up 63 % of its error."""

SWITCH_AIR: Final = 0.31
"""Air which a load input adds before the load comes, over the engine's own [1]."""

THROTTLE_REST, THROTTLE_SPAN = 2.6, 4.3
"""Throttle at no idle air, and more of it at the engine's own idle air, of a clean bore [%]."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Idle:
    """Idle air of each drive; arrays of shape (drives,).

    Parameters
    ----------
    air_gs : array
        What the engine wants, warm and without load [g/s].
    astray : array
        Learned position less the right one [%].
    """

    air_gs: Floats
    astray: Floats


def place(
    build: Build, wanted_gs: Floats, parts: Condition, weather: tuple[Floats, Floats], day: Floats
) -> Floats:
    """Give the position at which so much air enters [%].

    Parameters
    ----------
    wanted_gs : array of shape (n,)
        Air the cylinders want [g/s].
    weather : tuple of arrays of shape (n,)
        Air pressure [kPa] and temperature [degC].
    day : array of int, shape (n,)
        Days of the history, for the parts' state.
    """
    dense = weather[0] / 101.3 * np.sqrt(293.0 / (weather[1] + 273.0))
    today = day.astype(np.int64)
    blocked = parts.blocked[today]
    entering = (
        wanted_gs - (parts.leak_gs[today] + 0.25 * parts.purge[today] * build.idle_gs) * weather[0] / 101.3
    )
    if build.has_valve:
        past_plate = build.plate_gs * (1.0 - 1.1 * blocked) * dense
        return np.clip(
            100.0 * (entering - past_plate) / (build.valve_gs * (1.0 - 0.3 * blocked) * dense), 0.0, 100.0
        )
    span = THROTTLE_SPAN / (1.0 - 1.05 * blocked)
    return np.clip(THROTTLE_REST + span * entering / (build.idle_gs * dense), 1.0, 60.0)


def breathe(rng: np.random.Generator, vehicle: Vehicle, drives: Drives, parts: Condition, life: Life) -> Idle:
    """Run the idle loop's learning through all drives."""
    build, steps = vehicle.build, len(drives.day)
    drag = wander(rng, steps, 0.009, 8.0) + rng.normal(0.0, 0.014, steps)
    air = build.idle_gs * vehicle.traits.idle_gain * (1.0 + vehicle.traits.load_gain * drag)
    right = place(build, air, parts, (drives.baro_kpa, drives.air_c), drives.day.astype(np.float64))
    rates = 1.0 - np.exp(-drives.minutes / RELEARN_MIN)
    astray = np.empty(steps)
    cleared = set(life.cleared)
    fresh = 0.8 * float(np.median(right))
    held, last = float(right[0]), -1
    for index, (day, goal, rate) in enumerate(
        zip(drives.day.tolist(), right.tolist(), rates.tolist(), strict=True)
    ):
        if any(mark in cleared for mark in range(last + 1, day + 1)):
            held = fresh
        last = day
        astray[index] = held - goal
        held += rate * (goal - held)
    return Idle(air_gs=air, astray=astray)
