"""The fuel loop: what trim the parts call for, and what the long-term integrators have learned of it.

The short-term loop makes up whatever the learned trim leaves, so their sum follows the parts at once; the
learned trim of each load cell follows over some drives, and is empty after a reset.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np

from tests.bench.strangers.loops.condition import Condition
from tests.bench.strangers.loops.drives import Drives
from tests.bench.strangers.loops.fleet import Vehicle
from tests.bench.strangers.loops.life import Life
from tests.bench.strangers.loops.places import Floats

IDLE, CRUISE = 0, 1
"""Load cells of the learned trim."""

BLEND_PULL: Final = 0.42
"""More fuel wanted for each share of alcohol [1]; E0 to E10 +4.2 %, from the blend's stoichiometric ratio."""

MANIFOLD_KPA: Final = (34.0, 58.0)
"""Usual manifold pressure by cell [kPa]."""

PUMP_SHARE: Final = (0.34, 1.0)
"""Part of the pump's shortfall that is felt, by cell: it shows where flow is high."""

VAPOUR_PULL: Final = (1.2, 0.8)
FALSE_AIR_SHARE: Final = (1.0, 0.3)
TRIM_LIMIT: Final = 35.0
DEADBAND: Final = 0.8
"""Short-term trim below which nothing is learned [%]: one count."""

HOLD_MIN: Final = 15.0
"""Engine minutes after a reset in which learned trim stays at nought; measured on one car."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mixture:
    """Trims of each drive; arrays of shape (drives, 2 cells, 2 banks) [%].

    Parameters
    ----------
    wanted : array
        What the parts call for.
    learned : array
        What the integrators hold when the drive begins.
    """

    wanted: Floats
    learned: Floats


def _follow_vapour(drives: Drives) -> Floats:
    """Give the canister's load [1]: rests fill it, more so when warm, and drives empty it."""
    filling = 0.04 * np.minimum(drives.soak_h, 60.0) * np.exp((drives.air_c - 18.0) / 32.0)
    filling *= 1.0 + 0.35 * drives.winter
    left = np.exp(-drives.minutes / 38.0)
    found = np.empty(len(drives.day))
    load = 0.5
    for index, (more, kept) in enumerate(zip(filling.tolist(), left.tolist(), strict=True)):
        load = min(load + more, 2.5)
        found[index] = load * 0.5 * (1.0 + kept)
        load *= kept
    return found


def wander(rng: np.random.Generator, steps: int, spread: float, memory_steps: float) -> Floats:
    """Give a level that wanders and comes back; shape (steps,), standard deviation `spread`."""
    kept = float(np.exp(-1.0 / memory_steps))
    found = np.empty(steps)
    here = float(rng.normal(0.0, spread))
    for index, push in enumerate(rng.normal(0.0, spread * np.sqrt(1.0 - kept**2), steps).tolist()):
        here = kept * here + push
        found[index] = here
    return found


def _air_ratio(vehicle: Vehicle, drives: Drives, parts: Condition, cell: int) -> Floats:
    """Give air that flows over air that the controller reckons with [1]."""
    day = drives.day
    flow = (vehicle.build.idle_gs * vehicle.traits.idle_gain, vehicle.build.cruise_gs)[cell]
    leak = parts.leak_gs[day] * drives.baro_kpa / 101.3 * (1.0, 0.94)[cell]
    if vehicle.build.has_meter:
        return np.asarray(flow / (parts.meter[day] * np.maximum(flow - leak, 0.2 * flow)), dtype=np.float64)
    kelvin = drives.air_c + 285.0
    warmth = ((kelvin + parts.intake_c[day]) / kelvin) ** 0.7
    pressure = MANIFOLD_KPA[cell] / (MANIFOLD_KPA[cell] + parts.manifold_kpa[day])
    return np.asarray(warmth * pressure * (1.0 + 0.1 * leak / flow), dtype=np.float64)


def _want(rng: np.random.Generator, vehicle: Vehicle, drives: Drives, parts: Condition) -> Floats:
    day, traits = drives.day, vehicle.traits
    steps = len(day)
    vapour = _follow_vapour(drives)
    activity = 0.55 + 0.3 * np.minimum(vapour, 2.0) + 0.006 * drives.air_c
    shared = drives.quality + 0.4 * drives.winter + wander(rng, steps, 0.55 * traits.wobble, 8.0)
    shared += rng.normal(0.0, 0.7 * traits.wobble, steps) + 0.12 * np.minimum(parts.coolant_c[day] + 6.0, 0.0)
    found = np.empty((steps, 2, 2))
    for cell in (IDLE, CRUISE):
        own = rng.normal(0.0, 0.8 * traits.wobble, steps)
        air = _air_ratio(vehicle, drives, parts, cell) * (1.0 + BLEND_PULL * drives.alcohol)
        purged = parts.purge[day] * activity * (1.0, 0.3)[cell]
        for bank in (0, 1):
            given = parts.injector[bank, day] * np.sqrt(parts.pressure[day])
            given *= 1.0 - PUMP_SHARE[cell] * parts.pump[day]
            trim = 100.0 * ((air - purged) / given - 1.0) + traits.base_trim[2 * cell + bank] + shared + own
            if bank == parts.banked or vehicle.build.banks == 1:
                trim += 100.0 * FALSE_AIR_SHARE[cell] * parts.false_air[day] + 8.5 * parts.sensor_lag[day]
            found[:, cell, bank] = trim - VAPOUR_PULL[cell] * traits.vapour_gain * vapour
    return np.clip(found, -TRIM_LIMIT, TRIM_LIMIT)


def _learn(wanted: Floats, drives: Drives, rates: Floats, cleared: set[int]) -> Floats:
    """Run the integrators; `rates` is the share of an error made up in each drive, shape (drives, 2)."""
    learned = np.empty_like(wanted)
    held = wanted[0].copy()
    waiting, last = 0.0, -1
    for index, (day, minutes) in enumerate(zip(drives.day.tolist(), drives.minutes.tolist(), strict=True)):
        if any(mark in cleared for mark in range(last + 1, day + 1)):
            held = np.zeros((2, 2))
            waiting = HOLD_MIN
        last = day
        learned[index] = held
        if waiting > 0.0:
            waiting -= minutes
        elif minutes > 5.0:
            error = wanted[index] - held
            held = held + rates[index][:, None] * np.where(np.abs(error) > DEADBAND, error, 0.0)
    return learned


def trim(rng: np.random.Generator, vehicle: Vehicle, drives: Drives, parts: Condition, life: Life) -> Mixture:
    """Run the fuel loop through all drives."""
    wanted = _want(rng, vehicle, drives, parts)
    share = rng.uniform(0.15, 0.45, len(drives.day))
    warm_min = np.maximum(drives.minutes - 5.0, 0.0)
    rates = 1.0 - np.exp(
        -np.column_stack(
            [
                warm_min * share / vehicle.traits.learn_min[0],
                warm_min * (1.0 - share) / vehicle.traits.learn_min[1],
            ]
        )
        * 2.0
    )
    return Mixture(wanted=wanted, learned=_learn(wanted, drives, rates, set(life.cleared)))
