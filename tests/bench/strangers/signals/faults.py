"""Signed sensitivities of the 18 causes, worked out from trade knowledge, and how a fault grows.

A row of the table gives, for one quantity, the effect per unit of the fault's size in the six states: soak,
koeo, crank, cold idle, warm idle, cruise. Quantities are

- ``trim``: total correction [points of %]; ``stft``: growth of the short trim's spread, not times the size
- ``maf``: error of the meter's reading [%]
- ``mapT``: true manifold pressure; ``map``: error of its sensor [kPa]
- ``air``: idle air [points of a bypass valve]; an electronic throttle moves `AIR_OF_THROTTLE` as far
- ``rpm`` [1/min]; ``volt`` and ``crankv``: VPWR and CRANK_VMIN [V]; ``o2`` [V]
- ``ect``, ``iat``: error of a sensor; ``ectT``: true coolant [degC]
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from tests.bench.strangers.signals.world import Floats, Sheet

Row = tuple[float, float, float, float, float, float]
Rows = Mapping[str, Row]

STATES: Final = ("koeo_soak", "koeo", "crank", "cold_idle", "warm_idle", "cruise")
SOAK, KOEO, CRANK, COLD, WARM, CRUISE = range(6)

AIR_OF_THROTTLE: Final = 0.55


def _run(cold: float, warm: float, cruise: float) -> Row:
    """Give the row of what shows only with the engine running."""
    return (0, 0, 0, cold, warm, cruise)


_ALL: Final = (1, 1, 1, 1, 1, 1)

_TABLE: Final[Mapping[str, Mapping[str, tuple[tuple[float, float], Rows]]]] = {
    # Leak behind the meter: the idle's small flow feels it most; it passes neither meter nor valve.
    "unmetered_air": {
        "maf": (
            (10, 14),
            {"trim": _run(0.65, 1, 0.26), "maf": _run(-0.55, -0.88, -0.25), "air": _run(-0.25, -0.33, 0)},
        ),
        # The pressure sensor sees the leak: trim hardly moves, the valve closes, pressure and speed creep up.
        "speed_density": (
            (9, 12),
            {
                "air": _run(-0.7, -1, 0), "mapT": _run(0.25, 0.35, 0.02), "trim": _run(0.1, 0.22, 0.05),
                "rpm": _run(3, 5, 0),
            },
        ),
    },
    # Weak pump or filter: worst at flow, nothing in the air readings.
    "fuel_delivery_low": {"any": ((10, 14), {"trim": _run(0.55, 0.62, 1)})},
    # Dirty meter: the same percentage nearly everywhere, and the meter reads low by as much.
    "air_meter_low": {"maf": ((10, 14), {"trim": _run(0.8, 0.9, 1), "maf": _run(-0.8, -0.82, -0.9)})},
    # One injector: its bank only, the same percentage at every flow; the idle roughens.
    "injector_restricted": {
        "any": (
            (10, 14),
            {"trim": _run(0.8, 1, 0.85), "air": _run(0.05, 0.08, 0), "rpm": _run(0, -0.8, 0)},
        ),
    },
    # Vapour and air at idle: rich, and some of the idle's air comes by the purge pipe.
    "purge_flow_stuck": {
        "maf": (
            (10, 14),
            {"trim": _run(-0.5, -1, -0.22), "maf": _run(-0.15, -0.28, -0.05), "air": _run(-0.1, -0.18, 0)},
        ),
        "speed_density": (
            (10, 14),
            {"trim": _run(-0.5, -1, -0.22), "air": _run(-0.12, -0.22, 0), "mapT": _run(0.04, 0.06, 0)},
        ),
    },
    "fuel_pressure_high": {"any": ((10, 14), {"trim": _run(-0.85, -1, -0.8)})},
    # False air at the sensor: pulsation at idle draws it in, flow at cruise pushes it out.
    "exhaust_leak_ahead_of_sensor": {
        "any": ((10, 14), {"trim": _run(1.0, 1, 0.3), "o2": _run(-0.008, -0.011, -0.003)}),
    },
    "throttle_deposits": {
        "any": (
            (9, 12),
            {"air": _run(0.85, 1, 0), "rpm": _run(-0.5, -1.2, 0), "trim": _run(0, -0.06, 0)},
        ),
    },
    # The engine's computer adds air for a load that is not there.
    "load_switch_stuck": {
        "any": ((8.5, 11.5), {"air": _run(0.9, 1, 0), "mapT": _run(0.2, 0.25, 0), "rpm": _run(4, 5, 0)}),
    },
    "charging_low": {
        "any": (
            (0.75, 1.3),
            {"volt": (-0.30, -0.28, -0.5, -0.95, -1, -0.8), "crankv": (0, 0, -0.5, 0, 0, 0)},
        ),
    },
    "charging_high": {"any": ((0.75, 1.25), {"volt": (0.07, 0.12, 0.05, 1, 0.92, 1.08)})},
    "battery_ageing": {
        "any": (
            (1.4, 2.3),
            {"crankv": (0, 0, -1, 0, 0, 0), "volt": (-0.25, -0.2, -0.85, -0.05, -0.03, -0.01)},
        ),
    },
    # Resistance in feed or ground: the drop goes with the current, so little at rest.
    "voltage_drop": {
        "any": (
            (0.75, 1.25),
            {"volt": (-0.12, -0.25, -0.6, -1.05, -1, -0.95), "crankv": (0, 0, -0.7, 0, 0, 0)},
        ),
    },
    # Sign drawn; reads high: computed air too small, so trim up by a three-hundredth of the error.
    "air_sensor_bias": {
        "maf": ((11, 17), {"iat": _ALL, "trim": _run(0.02, 0.03, 0.03)}),
        "speed_density": ((11, 17), {"iat": _ALL, "trim": _run(0.3, 0.32, 0.33)}),
    },
    # True coolant too cold: most under ram air at cruise; richer and more idle air, as if never warm.
    "thermostat_open": {
        "any": (
            (11, 17),
            {
                "ectT": (0, -0.6, 0, -0.1, -0.75, -1.0), "air": _run(0, 0.18, 0), "rpm": _run(0, 1, 0),
                "trim": _run(0, -0.08, -0.1),
            },
        ),
    },
    # Sign drawn; reads high: too much fuel, so trim down by the error's share of the pressure.
    "map_sensor_bias": {
        "maf": ((5, 8), {"map": _ALL}),
        "speed_density": ((3.6, 5.0), {"map": _ALL, "trim": _run(-2.5, -2.8, -1.75)}),
    },
    "oxygen_sensor_slow": {
        "any": (
            (8, 11.5),
            {
                "trim": _run(0.4, 0.85, 1), "o2": _run(-0.01, -0.015, -0.015),
                "stft": _run(0.4, 1.2, 1.4),
            },
        ),
    },
}  # fmt: skip
"""By cause and metering of air: least and greatest size, and rows by quantity."""

_COOLANT_SIZE: Final = (11.0, 17.0)

_COOLANT: Final[Mapping[int, Rows]] = {
    -1: {
        "ect": (0.7, 0.95, 0.75, 0.8, 1, 1), "trim": _run(0.25, 0.1, 0.08), "air": _run(-0.2, -0.2, 0),
        "rpm": _run(-5, -2.5, 0),
    },
    1: {
        "ect": (1, 0.75, 1, 0.95, 0.7, 0.7), "trim": _run(0.25, 0.08, 0.05), "air": _run(-0.2, -0.06, 0),
        "rpm": _run(-5, -1, 0),
    },
}  # fmt: skip
"""A resistance in series reads cold, worst when hot; a shunt reads hot, worst when cold."""

CAUSES: Final = (*_TABLE, "coolant_sensor_bias")
_EITHER_SIGN: Final = ("air_sensor_bias", "map_sensor_bias", "oxygen_sensor_slow")
_ONE_BANK: Final = frozenset({"injector_restricted", "exhaust_leak_ahead_of_sensor", "oxygen_sensor_slow"})

NEEDS: Final[Mapping[str, frozenset[str]]] = {
    "air_meter_low": frozenset({"MAF"}),
    "map_sensor_bias": frozenset({"MAP"}),
    "air_sensor_bias": frozenset({"IAT"}),
}
"""What a vehicle must report to be able to show a cause."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fault:
    """One planted fault; days of the history, which may lie beyond its end.

    Parameters
    ----------
    cause, shape : str
        Cause code; `ramp` or `step`.
    rows : mapping of str to float array of shape (states,)
        Effects at severity 1, by quantity.
    share : float array of shape (2,)
        How much of the trim each bank shows.
    onset, days, complaint : int
        First day, days to the complaint, day of the complaint.
    repaired : int or None
        Day of the repair; None where nobody repairs it within the history.
    start, power : float
        Severity with which it begins, and the power of its growth.
    """

    cause: str
    shape: str
    rows: Mapping[str, Floats]
    share: Floats
    onset: int
    days: int
    complaint: int
    repaired: int | None
    start: float
    power: float

    def severity(self, t: Any) -> Any:
        """Give 0 before the onset, 1 at the complaint, then slower up to 1.3; 0 once repaired."""
        x = (t - self.onset) / self.days
        grown = np.clip(x, 0, 1) ** self.power
        size = self.start + (1 - self.start) * grown + np.clip(0.4 * (x - 1), 0, 0.3)
        size = np.where(x < 0, 0, size)
        return size if self.repaired is None else np.where(t >= self.repaired + 0.4, 0, size)

    def circumstance(self, air: Floats, load: Floats) -> Any:
        """Give how the moment's weather [degC] and electrical load scale the effect; near 1 on average."""
        match self.cause:
            case "purge_flow_stuck":
                return np.clip(1 + 0.015 * (air - 15), 0.6, 1.4)
            case "thermostat_open":
                return np.clip(1 + 0.018 * (12 - air), 0.6, 1.5)
            case "battery_ageing":
                return np.clip(1 + 0.012 * (12 - air), 0.7, 1.4)
            case "charging_low":
                return 0.92 + 0.2 * load
            case "voltage_drop":
                return 0.85 + 0.4 * load
            case _:
                return np.ones_like(air)


def _effects(rng: np.random.Generator, cause: str, sheet: Sheet) -> dict[str, Floats]:
    """Draw the size and the sign of a fault; give its rows."""
    if cause == "coolant_sensor_bias":
        sign = -1 if rng.random() < 0.6 else 1
        bounds, rows = _COOLANT_SIZE, _COOLANT[sign]
    else:
        bounds, rows = _TABLE[cause].get(sheet.metering) or _TABLE[cause]["any"]
        sign = rng.choice([-1, 1]) if cause in _EITHER_SIGN else 1
    size = sign * rng.uniform(*bounds)
    return {
        quantity: np.array(row, float) * (1 if quantity == "stft" else size) * rng.uniform(0.85, 1.15)
        for quantity, row in rows.items()
    }


def _shares(rng: np.random.Generator, cause: str, banks: int) -> NDArray[np.float64]:
    """Draw which bank shows the fault."""
    one_bank = cause in _ONE_BANK
    if banks == 2 and (one_bank or (cause == "unmetered_air" and rng.random() < 0.4)):
        other = 0.05 if one_bank else 0.45
        return np.array([1, other]) if rng.random() < 0.5 else np.array([other, 1])
    return np.ones(2)


def draw_fault(rng: np.random.Generator, cause: str, sheet: Sheet, days: int) -> Fault:
    """Draw one fault: size, sign, banks, shape and timing."""
    rows, share = _effects(rng, cause, sheet), _shares(rng, cause, sheet.banks)
    step = rng.random() < (0.6 if cause == "load_switch_stuck" else 0.2)
    onset = int(rng.integers(75, days - 15))
    length = int(rng.integers(20, 91) if step else 15 + 136 * rng.beta(1.5, 1.3))
    complaint = onset + length
    repaired = complaint + int(rng.integers(2, 22)) if rng.random() < 0.67 else None
    if repaired is not None and repaired >= days - 1:
        repaired = None
    return Fault(
        cause=cause,
        shape="step" if step else "ramp",
        rows=rows,
        share=share,
        onset=onset,
        days=length,
        complaint=complaint,
        repaired=repaired,
        start=rng.uniform(0.35, 0.6) if step else 0.0,
        power=1.0 if rng.random() < 0.6 else rng.uniform(1.1, 1.7),
    )
