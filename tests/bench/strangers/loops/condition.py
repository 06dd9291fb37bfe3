"""The true state of a vehicle's parts, day by day: age, upkeep and the planted fault."""

from dataclasses import dataclass

import numpy as np

from tests.bench.strangers.loops.faults import Fault
from tests.bench.strangers.loops.fleet import Vehicle
from tests.bench.strangers.loops.life import Life, since
from tests.bench.strangers.loops.places import Floats


@dataclass(slots=True, kw_only=True, eq=False)
class Condition:
    """States of the parts; arrays of shape (days,), injectors (2, days).

    Parameters
    ----------
    leak_gs : array
        Air that enters behind the meter while the manifold's pressure is low [g/s].
    pump : array
        Share of the fuel flow missing at a cruise [1]; a third of it is missing at idle.
    meter : array
        What the air meter reads over what flows [1].
    injector : array
        What the injectors of each bank give over what they should [1].
    pressure : array
        Fuel pressure over the regulated one [1].
    purge : array
        Vapour fuel at idle over all fuel there [1], beside what is commanded.
    false_air : array
        Air the sensor sees at idle that never burnt, over the exhaust's [1].
    blocked : array
        Share of the closed throttle's passage lost to deposits [1].
    switch : array
        Share of the time in which an idle-load input reads on by itself [1].
    regulator_v, brushes : array
        Shift of the regulator [V]; share of the alternator's capacity lost [1].
    battery, plates : array
        Inner resistance over a fresh battery's [1]; share of the capacity lost [1].
    wire_mohm : array
        Resistance in the supply and earth path beyond a sound one's [mOhm].
    coolant_c, intake_c, manifold_kpa : array
        Errors of sensors [degC, degC, kPa].
    open_share : array
        How far the thermostat stands open when it should be shut [1].
    sensor_lag : array
        Delay of the oxygen sensor beyond a sound one's [s].
    """

    leak_gs: Floats
    pump: Floats
    meter: Floats
    injector: Floats
    pressure: Floats
    purge: Floats
    false_air: Floats
    blocked: Floats
    switch: Floats
    regulator_v: Floats
    brushes: Floats
    battery: Floats
    plates: Floats
    wire_mohm: Floats
    coolant_c: Floats
    intake_c: Floats
    manifold_kpa: Floats
    open_share: Floats
    sensor_lag: Floats
    banked: int


def _sound(vehicle: Vehicle, life: Life, days: int) -> Condition:
    nothing = np.zeros(days)
    ageing = vehicle.traits.ageing / 365.0
    day = np.arange(days, dtype=np.float64)
    soiled = since(days, life.cleaned)
    first_battery = min(life.batteries, default=days)
    fresh = np.where(day < first_battery, vehicle.traits.battery_age, 1.0)
    return Condition(
        leak_gs=0.002 * vehicle.build.idle_gs * ageing * day,
        pump=0.002 * ageing * day,
        meter=1.0 - 0.0015 * ageing * day,
        injector=np.ones((2, days)),
        pressure=np.ones(days),
        purge=nothing.copy(),
        false_air=nothing.copy(),
        blocked=0.04 + 0.009 * ageing * soiled,
        switch=nothing.copy(),
        regulator_v=-0.006 * ageing * day,
        brushes=0.025 * ageing * day,
        battery=fresh * (1.0 + 0.05 * ageing * since(days, life.batteries)),
        plates=np.where(day < first_battery, 0.03, 0.0),
        wire_mohm=nothing.copy(),
        coolant_c=nothing.copy(),
        intake_c=nothing.copy(),
        manifold_kpa=nothing.copy(),
        open_share=nothing.copy(),
        sensor_lag=nothing.copy(),
        banked=0,
    )


def _break_fuelling(parts: Condition, vehicle: Vehicle, fault: Fault, s: Floats) -> None:
    build = vehicle.build
    banks = [fault.bank] if build.banks == 2 and fault.sign > 0 else [0, 1]
    match fault.cause:
        case "unmetered_air":
            parts.leak_gs += (0.175 if build.has_meter else 0.4) * build.idle_gs * s
        case "fuel_delivery_low":
            parts.pump += 0.18 * s
        case "air_meter_low":
            parts.meter -= 0.155 * s
        case "injector_restricted":
            parts.injector[banks] -= 0.165 * s
        case "purge_flow_stuck":
            parts.purge += 0.2 * s
        case "fuel_pressure_high":
            parts.pressure += 0.42 * s
        case "exhaust_leak_ahead_of_sensor":
            parts.false_air += 0.2 * s
            parts.banked = fault.bank
        case "oxygen_sensor_slow":
            parts.sensor_lag += 0.95 * s
            parts.banked = fault.bank


def _break_the_rest(parts: Condition, fault: Fault, s: Floats) -> None:
    match fault.cause:
        case "throttle_deposits":
            parts.blocked += 0.46 * s
        case "load_switch_stuck":
            parts.switch += np.clip(s, 0.0, 1.0) if fault.shape == "step" else np.clip(1.1 * s, 0.0, 1.0)
        case "charging_low":
            parts.regulator_v -= 1.0 * s
            parts.brushes += 0.3 * s
        case "charging_high":
            parts.regulator_v += 1.45 * s
        case "battery_ageing":
            parts.battery += 0.95 * s
            parts.plates += 0.42 * s
        case "voltage_drop":
            parts.wire_mohm += 24.0 * s
        case "coolant_sensor_bias":
            parts.coolant_c += fault.sign * 12.0 * s
        case "air_sensor_bias":
            parts.intake_c += fault.sign * 16.0 * s
        case "thermostat_open":
            parts.open_share += 1.15 * s
        case "map_sensor_bias":
            parts.manifold_kpa += fault.sign * 0.17 * 33.0 * s


def find_condition(vehicle: Vehicle, life: Life, fault: Fault | None, days: int) -> Condition:
    """Give the state of all parts of a vehicle, day by day."""
    parts = _sound(vehicle, life, days)
    if fault is not None:
        _break_fuelling(parts, vehicle, fault, fault.strength(days))
        _break_the_rest(parts, fault, fault.strength(days))
        parts.meter = np.clip(parts.meter, 0.7, 1.2)
        parts.blocked = np.clip(parts.blocked, 0.0, 0.75)
        parts.open_share = np.clip(parts.open_share, 0.0, 1.6)
    return parts
