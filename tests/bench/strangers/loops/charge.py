"""Charging and the battery: a regulator with its set point, a charge that fills and drains, a starter."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from tests.bench.strangers.loops.condition import Condition
from tests.bench.strangers.loops.drives import Drives
from tests.bench.strangers.loops.fleet import Vehicle
from tests.bench.strangers.loops.places import Floats

SLOPE_V: Final = -0.0104
"""Regulated voltage for each degree under the bonnet [V/degC]; fitted to a published specification."""

EMPTY_V, FULL_V = 11.89, 12.65
"""Rested battery, empty and full [V]; Battery Council International's table."""

STANDING_PER_H: Final = 0.055
"""Charge a standing vehicle loses [% of capacity an hour]."""

MODES_V: Final = np.array([-1.15, -0.45, 0.0, 0.35])
MODES_P: Final = np.array([0.1, 0.32, 0.44, 0.14])
"""Set points of commanded charging less the usual one [V], and how often each is in force."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Charge:
    """Charging in each drive; arrays of shape (drives,).

    Parameters
    ----------
    before, after : array
        Charge when the engine is started, and stopped [%].
    set_v : array
        What the controller commands, at 25 degC [V].
    """

    before: Floats
    after: Floats
    set_v: Floats


def regulated_v(
    vehicle: Vehicle, parts: Condition, day: NDArray[np.int64], set_v: Floats, under: tuple[Floats, Floats]
) -> Floats:
    """Give the voltage at the module, engine running [V].

    Parameters
    ----------
    set_v : array of shape (n,)
        Set point at 25 degC [V].
    under : tuple of arrays of shape (n,)
        Temperature at the regulator [degC] and current drawn [A].
    """
    warmth, amperes = under
    goal = set_v + vehicle.traits.cold_gain * SLOPE_V * (warmth - 25.0) + parts.regulator_v[day]
    able = vehicle.build.alternator_a * (1.0 - parts.brushes[day])
    short = np.maximum(amperes - able, 0.0)
    lead = (2.5 + parts.wire_mohm[day]) / 1000.0
    return np.maximum(goal - 0.035 * short, 11.8) - lead * amperes


def settle_charge(volts: Floats | float) -> Floats:
    """Give the charge at which a battery ends up at a charging voltage [%]."""
    return np.clip(100.0 - 26.0 * np.maximum(13.75 - np.asarray(volts, dtype=np.float64), 0.0), 25.0, 99.0)


def charge(rng: np.random.Generator, vehicle: Vehicle, drives: Drives, parts: Condition) -> Charge:
    """Follow the battery's charge through all drives and rests."""
    steps, build = len(drives.day), vehicle.build
    commanded = build.charging == "commanded"
    modes = rng.choice(MODES_V, steps, p=MODES_P) if commanded else np.zeros(steps)
    base = build.set_point_v + vehicle.traits.regulator_v
    amperes = 19.0 + 11.0 * drives.lights + 9.0 * drives.fan + 6.0 * drives.aircon
    usual = regulated_v(vehicle, parts, drives.day, np.full(steps, base), (drives.air_c + 22.0, amperes))
    goal = settle_charge(usual) * (1.0 - 0.5 * parts.plates[drives.day])
    lost = STANDING_PER_H * drives.soak_h * (1.0 + parts.plates[drives.day] * 2.0) + 0.7
    filled = 1.0 - np.exp(-drives.minutes / 75.0)
    before, after, set_v = np.empty(steps), np.empty(steps), np.empty(steps)
    here = 88.0
    for index in range(steps):
        here = max(here - float(lost[index]), 8.0)
        before[index] = here
        # A commanded regulator gives up its thrift when the battery is low.
        set_v[index] = base + (float(modes[index]) if here > 72.0 else max(float(modes[index]), 0.2))
        here += float(filled[index]) * (float(goal[index]) - here)
        after[index] = here
    return Charge(before=before, after=after, set_v=set_v if commanded else np.full(steps, base))


def resting_v(charge_pct: Floats, soak_h: Floats) -> Floats:
    """Give the voltage without load [V]; what the last drive left on the plates fades within hours."""
    return EMPTY_V + (FULL_V - EMPTY_V) / 100.0 * charge_pct + 0.3 * np.exp(-soak_h / 2.5)


def cranking_v(
    vehicle: Vehicle, parts: Condition, day: NDArray[np.int64], rest_v: Floats, engine_c: Floats
) -> Floats:
    """Give the lowest voltage while cranking [V]; cold makes engines stiff and batteries weak."""
    amperes = vehicle.build.crank_a * (1.0 + 0.007 * np.clip(60.0 - engine_c, 0.0, 90.0))
    ohm = (
        vehicle.build.battery_mohm
        / 1000.0
        * parts.battery[day]
        * (1.0 + 0.009 * (25.0 - engine_c).clip(-20.0, 60.0))
    )
    # The starter's own path is short of the module's wiring; part of a bad path is in both.
    return rest_v - amperes * (ohm + 0.2 * parts.wire_mohm[day] / 1000.0)
