"""What the loops' state looks like at each moment, before a logger has rounded it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.bench.strangers.loops.charge import MODES_P, MODES_V, Charge, cranking_v, regulated_v, resting_v
from tests.bench.strangers.loops.condition import Condition
from tests.bench.strangers.loops.drives import Drives
from tests.bench.strangers.loops.fleet import Vehicle
from tests.bench.strangers.loops.fuel import CRUISE, IDLE, Mixture
from tests.bench.strangers.loops.heat import Heat
from tests.bench.strangers.loops.idle import SWITCH_AIR, Idle, place
from tests.bench.strangers.loops.life import Life, since
from tests.bench.strangers.loops.moments import COLD, CRANK, ROAD, WARM, Moments
from tests.bench.strangers.loops.places import Floats

CLOSED_LOOP_C = 42.0
"""Coolant at which trim begins to move [degC]; measured on one car."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Loops:
    """A vehicle with all its loops run through all its drives."""

    vehicle: Vehicle
    life: Life
    parts: Condition
    drives: Drives
    heat: Heat
    mixture: Mixture
    idle: Idle
    charge: Charge

    def day(self, moments: Moments) -> NDArray[np.int64]:
        """Give the day of each moment."""
        return self.drives.day[moments.drive]


def _only(wanted: NDArray[np.bool_], values: Floats | float) -> Floats:
    return np.where(wanted, values, np.nan)


def read_warmth(rng: np.random.Generator, loops: Loops, moments: Moments) -> tuple[dict[str, Floats], Floats]:
    """Give the temperatures and pressures with the engine's part in them, and the true coolant [degC]."""
    drives, day, count = loops.drives, loops.day(moments), len(moments.drive)
    air = drives.air_c[moments.drive]
    coolant = loops.heat.coolant_c(
        moments.drive, np.maximum(moments.minute, 0.0), cruising=moments.state == ROAD
    ) + rng.normal(0.0, 1.2, count)
    soaked = np.select(
        [moments.state == WARM, moments.state == ROAD],
        [rng.uniform(8.0, 19.0, count), rng.uniform(3.0, 7.0, count)],
        0.1 * np.maximum(coolant - air, 0.0),
    )
    found = {
        "ECT": coolant + loops.parts.coolant_c[day],
        "IAT": air + soaked + loops.parts.intake_c[day] + rng.normal(0.0, 0.7, count),
        "AAT": air + rng.uniform(0.0, 2.0, count),
        "BARO": drives.baro_kpa[moments.drive],
        "FLI": 100.0 * drives.level[moments.drive] + rng.normal(0.0, 2.0, count),
        "ALCH_PCT": 100.0 * drives.alcohol[moments.drive],
    }
    return found, coolant


def read_fuel(
    rng: np.random.Generator, loops: Loops, moments: Moments, coolant_c: Floats
) -> dict[str, Floats]:
    """Give trims and oxygen sensors; short trim carries what is not yet learned, and a swing."""
    day, count, parts = loops.day(moments), len(moments.drive), loops.parts
    cell = np.where(moments.state == ROAD, CRUISE, IDLE)
    running = moments.state >= COLD
    closed = running & ((moments.state != COLD) | (coolant_c > CLOSED_LOOP_C))
    lag = parts.sensor_lag[day]
    found: dict[str, Floats] = {}
    for bank in range(loops.vehicle.build.banks):
        slow = lag if bank == parts.banked else np.zeros(count)
        learned = loops.mixture.learned[moments.drive, cell, bank]
        wanted = loops.mixture.wanted[moments.drive, cell, bank] + rng.normal(0.0, 1.3, count)
        swing = (2.1 + 4.0 * slow) * rng.uniform(-1.0, 1.0, count) + rng.normal(0.0, 0.8, count)
        shown = np.where(closed, learned, 0.0 if loops.vehicle.build.has_meter else learned)
        found[f"LONGFT{bank + 1}"] = _only(running, shown)
        found[f"SHRTFT{bank + 1}"] = _only(running, np.where(closed, wanted - learned + swing, 0.0))
        phase = np.tanh(2.5 * np.sin(rng.uniform(0.0, 2.0 * np.pi, count)))
        switching = 0.45 + 0.37 / (1.0 + 0.9 * slow) * phase + rng.normal(0.0, 0.02, count)
        cold = 0.45 + rng.normal(0.0, 0.01, count)
        found[f"O2S{bank + 1}1"] = np.where(closed, switching, cold).clip(0.0, 1.27)
        found[f"O2S{bank + 1}2"] = np.where(closed, rng.normal(0.67, 0.06, count), cold).clip(0.0, 1.27)
    found["closed"] = np.where(running, closed, np.nan)
    return found


def _idle_need(rng: np.random.Generator, loops: Loops, moments: Moments, coolant_c: Floats) -> Floats:
    build, traits, count = loops.vehicle.build, loops.vehicle.traits, len(moments.drive)
    # The controller goes by its coolant reading, so an erring sensor moves the fast idle.
    believed = coolant_c + loops.parts.coolant_c[loops.day(moments)]
    cold = 0.0055 * np.maximum(78.0 - believed, 0.0) + 0.0015 * np.maximum(78.0 - coolant_c, 0.0)
    loads = 0.14 * moments.aircon + 0.07 * moments.steering + 0.05 * (moments.gear & (moments.state == WARM))
    electric = 0.02 * loops.drives.lights[moments.drive] + 0.02 * loops.drives.fan[moments.drive]
    added = traits.load_gain * (loads + electric) + SWITCH_AIR * moments.stuck
    rest = rng.normal(0.0, 0.017, count)
    need: Floats = loops.idle.air_gs[moments.drive] * (1.0 + cold + rest) + build.idle_gs * added
    return need


def read_air(
    rng: np.random.Generator, loops: Loops, moments: Moments, coolant_c: Floats
) -> dict[str, Floats]:
    """Give air flow, pressure, load, speed, and the idle loop's position."""
    build, parts, drives, day = loops.vehicle.build, loops.parts, loops.drives, loops.day(moments)
    count, road = len(moments.drive), moments.state == ROAD
    idling, running = (moments.state == COLD) | (moments.state == WARM), moments.state >= COLD
    need = _idle_need(rng, loops, moments, coolant_c)
    pull = rng.uniform(0.65, 1.5, count)
    flow = np.where(road, build.cruise_gs * pull, need)
    weather = (drives.baro_kpa[moments.drive], drives.air_c[moments.drive])
    position = place(build, need, parts, weather, day.astype(np.float64))
    unsettled = loops.idle.astray[moments.drive] * np.exp(-moments.idling_s / 30.0)
    position = position + unsettled + rng.normal(0.0, 1.5 if build.has_valve else 0.2, count)
    fast = 3.2 * np.maximum(75.0 - coolant_c, 0.0) + 45.0 * (moments.aircon | moments.stuck)
    speed = np.where(road, rng.uniform(1500.0, 2500.0, count), build.idle_rpm + fast + 6.0 * unsettled)
    speed = np.where(moments.state == CRANK, rng.uniform(170.0, 260.0, count), speed * running)
    speed = speed + rng.normal(0.0, 7.0, count) * running
    leak = parts.leak_gs[day] * weather[0] / 101.3
    metered = parts.meter[day] * (flow - leak) * (1.0 + rng.normal(0.0, 0.02, count))
    turning = np.maximum(speed, 300.0)
    filling = np.where(road, 0.76, 0.6) * build.displacement_l * turning / 120.0
    pressure = np.minimum(flow / filling * 0.28705 * (weather[1] + 285.0), 0.97 * weather[0])
    pressure = np.where(running, pressure, weather[0]) + parts.manifold_kpa[day] + rng.normal(0.0, 0.8, count)
    reckoned = (
        metered if build.has_meter else flow * (1.0 + parts.manifold_kpa[day] / np.maximum(pressure, 15.0))
    )
    absolute = 100.0 * reckoned * 120.0 / (turning * 1.184 * build.displacement_l)
    found = {
        "RPM": np.maximum(speed, 0.0),
        "VSS": np.where(road, 20.0 + 42.0 * pull, 0.0),
        "MAP": np.maximum(pressure, 10.0),
        "LOAD_ABS": np.where(running, absolute, 0.0),
        "LOAD_PCT": np.where(running, absolute * 1.25 * 101.3 / weather[0], 0.0).clip(0.0, 100.0),
        "SPARKADV": np.select(
            [road, idling], [rng.normal(29.0, 3.5, count), rng.normal(11.0, 1.6, count)], 8.0
        ),
    }
    if build.has_meter:
        found["MAF"] = np.where(running, np.maximum(metered, 0.0), 0.0)
    wide = 9.0 + 11.0 * pull + rng.normal(0.0, 1.0, count)
    if build.has_valve:
        found["IAC"] = _only(idling, np.clip(position, 0.0, 100.0))
        found["TP"] = np.where(road, wide, 12.2) + rng.normal(0.0, 0.2, count)
    else:
        found["TAC_PCT"] = np.where(road, wide, np.where(idling, position, 7.0)).clip(0.0, 100.0)
        found["TP"] = found["TAC_PCT"] + 4.0 + rng.normal(0.0, 0.25, count)
    return found


def read_volts(
    rng: np.random.Generator, loops: Loops, moments: Moments, coolant_c: Floats
) -> dict[str, Floats]:
    """Give the supply voltage in every state, and its lowest while cranking."""
    vehicle, parts, drives, day = loops.vehicle, loops.parts, loops.drives, loops.day(moments)
    count, here = len(moments.drive), moments.drive
    warmth = drives.air_c[here] + 8.0 + 24.0 * (1.0 - np.exp(-np.maximum(moments.minute, 0.0) / 11.0))
    lit = rng.random(count) < drives.lights[here]
    amperes = 18.0 + 11.0 * lit + 9.0 * drives.fan[here] + 6.0 * moments.aircon + rng.exponential(3.0, count)
    goal = loops.charge.set_v[here]
    if vehicle.build.charging == "commanded":
        other = vehicle.build.set_point_v + vehicle.traits.regulator_v + rng.choice(MODES_V, count, p=MODES_P)
        goal = np.where(rng.random(count) < 0.35, other, goal)
    idle_sag = np.where(moments.state == ROAD, 0.72, 1.0)
    running = regulated_v(vehicle, parts, day, goal, (warmth, amperes * idle_sag))
    running = running + rng.normal(0.0, vehicle.traits.volts_noise_v, count)
    rest = resting_v(loops.charge.before[here], drives.soak_h[here])
    drawn = rng.uniform(5.0, 12.0, count)
    ohm = vehicle.build.battery_mohm * parts.battery[day] + 4.0 + parts.wire_mohm[day]
    key_on = rest - drawn * ohm / 1000.0 + rng.normal(0.0, 0.04, count)
    lowest = cranking_v(vehicle, parts, day, rest, coolant_c) + rng.normal(0.0, 0.25, count)
    cranking = moments.state == CRANK
    off = moments.state < CRANK
    return {
        "VPWR": np.select([off, cranking], [key_on, lowest + rng.uniform(0.2, 1.6, count)], running),
        "CRANK_VMIN": _only(cranking, np.maximum(lowest, 4.0)),
    }


def read_counters(loops: Loops, moments: Moments) -> dict[str, Floats]:
    """Give run time, and the distance since the memory was last cleared."""
    days = len(loops.life.used)
    cleared_on = loops.day(moments) - since(days, loops.life.cleared)[loops.day(moments)]
    first = np.minimum(np.searchsorted(loops.drives.day, cleared_on), len(loops.drives.day) - 1)
    driven = loops.drives.odometer_km[moments.drive] - loops.drives.odometer_km[first]
    known = cleared_on > 0
    ran = np.asarray(np.round(np.maximum(moments.minute, 0.0) * 60.0), dtype=np.float64)
    distance = np.minimum(driven + np.where(known, 0.0, 9000.0), 65535.0)
    since_cleared = np.asarray(np.round(distance), dtype=np.float64)
    return {"RUNTM": ran, "CLR_DIST": since_cleared}
