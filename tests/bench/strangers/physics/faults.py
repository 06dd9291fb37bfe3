"""Faults as changed physical quantities, and how they grow."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from tests.bench.strangers.physics.engine import Floats, element
from tests.bench.strangers.physics.sheets import SHEETS, Sheet

Parts = dict[str, float]
Generator = np.random.Generator

CAUSES: Final = (
    "unmetered_air", "fuel_delivery_low", "air_meter_low", "injector_restricted", "purge_flow_stuck",
    "fuel_pressure_high", "exhaust_leak_ahead_of_sensor", "throttle_deposits", "load_switch_stuck",
    "charging_low", "charging_high", "battery_ageing", "voltage_drop", "coolant_sensor_bias",
    "air_sensor_bias", "thermostat_open", "map_sensor_bias", "oxygen_sensor_slow",
)  # fmt: skip

PARTS: Final = (
    "leak", "leak_side", "dp_low", "dp_w", "maf_loss", "maf_exp", "inj_loss1", "inj_loss2", "purge",
    "dp_high", "dp_vac", "exh1", "exh2", "deposit", "load_amount", "load_duty", "load_which", "reg_shift",
    "charge_r", "alt_cap", "batt_r_up", "ocv_down", "leak_amps", "feed_r", "ect_ratio", "ect_series",
    "ect_leak", "iat_ratio", "iat_series", "iat_leak", "tleak", "map_off", "o2_1", "o2_2", "o2_lag1",
    "o2_lag2",
)  # fmt: skip
"""Physical quantities that faults change: leaks, pressures, resistances, flows, sensors."""

FIXED: Final = frozenset({"leak_side", "dp_w", "maf_exp", "dp_vac", "load_which", "load_duty"})
"""Those that say how a fault is, and do not grow with it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One planted fault; days of the history, which may lie beyond its end.

    Parameters
    ----------
    vehicle : int
        Place of the vehicle.
    cause, shape : str
        Cause code; `ramp` or `step`.
    onset, days, complaint : int
        First day, days to the complaint, day of the complaint.
    repaired : int or None
        First sound day; None where nobody repairs it within the history.
    parts : dict of str to float
        Changed quantities at the size at which a driver complains.
    """

    vehicle: int
    cause: str
    shape: str
    onset: int
    days: int
    complaint: int
    repaired: int | None
    parts: Parts


@dataclass(frozen=True, slots=True, kw_only=True)
class _Draw:
    """What every fault draws, whether its cause needs it or not, so that draws stay in step."""

    rng: Generator
    sheet: Sheet
    trim: float
    volts: float
    temperature: float
    points: float
    bank: int
    sign: int

    @property
    def two_banks(self) -> bool:
        return bool(self.sheet["banks"] == 2)


def _unmetered_air(d: _Draw) -> Parts:
    idle = d.sheet["m_idle"]
    leak = idle * d.trim / (1 + d.trim) if d.sheet["maf"] else d.sheet["k_th"] * d.points
    if not d.two_banks:
        return {"leak": leak}
    uneven = d.sign * d.rng.choice([0, d.rng.uniform(0.2, 0.5)]) * (1 if d.sheet["maf"] else 0.5)
    return {"leak": leak, "leak_side": uneven}


def _fuel_delivery_low(d: _Draw) -> Parts:
    return {"dp_low": 1 - (1 + d.trim) ** -2, "dp_w": d.rng.uniform(0.35, 0.85)}


def _air_meter_low(d: _Draw) -> Parts:
    return {"maf_loss": d.trim / (1 + d.trim), "maf_exp": d.rng.uniform(-0.06, 0.12)}


def _injector_restricted(d: _Draw) -> Parts:
    parts = {f"inj_loss{d.bank}": d.trim / (1 + d.trim)}
    if d.two_banks and d.rng.random() < 0.35:
        parts[f"inj_loss{3 - d.bank}"] = d.rng.uniform(0.5, 0.9) * d.trim / (1 + d.trim)
    return parts


def _purge_flow_stuck(d: _Draw) -> Parts:
    return {"purge": d.trim * d.sheet["m_idle"] / 14.1}


def _fuel_pressure_high(d: _Draw) -> Parts:
    return {"dp_high": (1 - d.trim) ** -2 - 1, "dp_vac": float(d.rng.random() < 0.4)}


def _exhaust_leak(d: _Draw) -> Parts:
    return {f"exh{d.bank}": d.trim}


def _throttle_deposits(d: _Draw) -> Parts:
    return {"deposit": d.points / (d.sheet["u0"] + 8 + d.points)}


def _load_switch_stuck(d: _Draw) -> Parts:
    return {
        "load_amount": d.points / (d.sheet["u0"] + 8),
        "load_duty": float(d.rng.random() < 0.5),  # 1: on now and then, ever more often
        "load_which": float(d.rng.integers(0, 2)),
    }


def _charging_low(d: _Draw) -> Parts:
    kind = d.rng.random()
    if kind < 0.6:
        return {"reg_shift": -d.volts}
    return {"charge_r": d.volts / 42} if kind < 0.85 else {"alt_cap": d.rng.uniform(0.5, 0.68)}


def _charging_high(d: _Draw) -> Parts:
    return {"reg_shift": d.volts}


def _battery_ageing(d: _Draw) -> Parts:
    u = d.rng.uniform
    return {"batt_r_up": u(0.9, 1.5), "ocv_down": u(0.3, 0.5), "leak_amps": u(0.06, 0.15)}


def _voltage_drop(d: _Draw) -> Parts:
    return {"feed_r": d.volts / 14}


def _sensor_bias(d: _Draw, name: str, at: float, most_series: float) -> Parts:
    """Give a thermistor that is off, has a resistance in series, or leaks to ground."""
    kind = d.rng.random()
    if kind < 0.6:
        return {f"{name}_ratio": element(at - d.sign * d.temperature) / element(at) - 1}
    if kind < most_series:
        return {f"{name}_series": element(at - d.temperature) - element(at)}
    return {f"{name}_leak": 1 / element(20 + d.temperature) - 1 / element(20)}


def _coolant_sensor_bias(d: _Draw) -> Parts:
    return _sensor_bias(d, "ect", 88, 0.9)


def _air_sensor_bias(d: _Draw) -> Parts:
    return _sensor_bias(d, "iat", 25, 0.8)


def _thermostat_open(d: _Draw) -> Parts:
    return {"tleak": d.temperature * 1.1}


def _map_sensor_bias(d: _Draw) -> Parts:
    return {"map_off": d.sign * (35 * d.trim if not d.sheet["maf"] else d.rng.uniform(6, 9))}


def _oxygen_sensor_slow(d: _Draw) -> Parts:
    shift = d.sign * d.rng.uniform(0.08, 0.12)
    return {f"o2_{d.bank}": shift, f"o2_lag{d.bank}": d.rng.uniform(1.2, 2.5)}


_AT_COMPLAINT: Final[tuple[Callable[[_Draw], Parts], ...]] = (
    _unmetered_air, _fuel_delivery_low, _air_meter_low, _injector_restricted, _purge_flow_stuck,
    _fuel_pressure_high, _exhaust_leak, _throttle_deposits, _load_switch_stuck, _charging_low, _charging_high,
    _battery_ageing, _voltage_drop, _coolant_sensor_bias, _air_sensor_bias, _thermostat_open,
    _map_sensor_bias, _oxygen_sensor_slow,
)  # fmt: skip
"""In the order of `CAUSES`."""


def draw_parts(rng: Generator, cause: str, sheet: Sheet) -> Parts:
    """Draw the changed quantities at the size at which a driver complains, for a vehicle of a sheet."""
    drawn = _Draw(
        rng=rng,
        sheet=sheet,
        trim=rng.uniform(0.105, 0.145),
        volts=rng.uniform(0.8, 1.35),
        temperature=rng.uniform(12, 17),
        points=rng.uniform(9.5, 12.5),
        bank=int(rng.integers(1, 3)) if sheet["banks"] == 2 else 1,
        sign=rng.choice([-1, 1]),
    )
    return _AT_COMPLAINT[CAUSES.index(cause)](drawn)


def _applies(cause: str, sheet: Sheet) -> bool:
    if cause == "air_meter_low":
        return bool(sheet["maf"])
    return cause != "map_sensor_bias" or "MAP" in sheet["params"]


def plant(rng: Generator, sheet_of: NDArray[np.int64], days: int) -> tuple[list[Fault], Floats]:
    """Plant one fault in a third of the vehicles, causes evenly.

    Returns
    -------
    list of Fault, float array of shape (V, days)
        The faults, and the severity: 1 where a driver complains.
    """
    count = len(sheet_of)
    first = rng.permutation(len(CAUSES))  # which causes get one more
    free = list(rng.permutation(count))
    severity = np.zeros((count, days))
    faults = []
    for place in range(count // 3):
        cause = CAUSES[first[place % len(CAUSES)]]
        vehicle = next(v for v in free if _applies(cause, SHEETS[sheet_of[v]]))
        free.remove(vehicle)
        step = rng.random() < (0.5 if cause == "load_switch_stuck" else 0.2)
        onset = int(rng.integers(75, max(days - 20, 76)))
        if step:
            length = int(np.exp(rng.uniform(np.log(15), np.log(90))))
        else:
            length = int(15 + 135 * rng.beta(1.5, 1.3))
        bend = 1.0 if rng.random() < 0.5 else rng.uniform(1.15, 1.8)
        least = rng.uniform(0.4, 0.7) if step else 0
        age = np.arange(days) - onset
        grown = np.clip(age / length, 0, None)
        grown = np.where(grown < 1, grown**bend, 1 + (grown - 1) * 0.5)
        size = np.where(age >= 0, least + (1 - least) * grown, 0)
        severity[vehicle] = np.minimum(size, rng.uniform(1.1, 1.45))
        repaired = onset + length + int(rng.integers(2, 16)) if rng.random() < 2 / 3 else None
        if repaired is not None and repaired < days:
            severity[vehicle, repaired:] = 0
        else:
            repaired = None
        faults.append(
            Fault(
                vehicle=int(vehicle),
                cause=cause,
                shape="step" if step else "ramp",
                onset=onset,
                days=length,
                complaint=onset + length,
                repaired=repaired,
                parts=draw_parts(rng, cause, SHEETS[sheet_of[vehicle]]),
            )
        )
    return faults, severity
