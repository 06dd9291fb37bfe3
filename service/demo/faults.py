"""What goes wrong: planted faults, how they grow, and what each does physically.

A fault's severity is 0 before its onset and 1 where a driver would notice; the physical size at severity 1 is
chosen by us near the usual limits of the types. What the readings make of it is the engine's business.
"""

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import CAUSES, SWITCHES
from service.demo.roster import Roster
from service.demo.sheets import TYPES, EngineType
from service.demo.strengths import Strengths

Floats = NDArray[np.float64]

NEVER: Final = 10**6
"""Day that no history reaches."""

WORST: Final = 1.3
"""Severity at which an unrepaired fault stops growing; chosen by us."""

EARLIEST: Final = 45
"""First day on which a fault may begin: some weeks of health come first."""

HEARD: Final = 0.7
"""Share of a fault's growth that should not fall into a silent spell; chosen by us."""

_SLOW: Final = ("throttle_deposits", "battery_ageing")
"""Faults that grow over months; common practice, no source."""

_SUDDEN: Final = ("load_switch_stuck",)
"""Faults that come at once by their nature."""

_MEASURED_AIR: Final = "maf"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One planted fault. Days are days of the history and may lie beyond its end.

    Parameters
    ----------
    vehicle : int
        Place of the vehicle.
    cause : str
        Code of the exchange contract.
    onset_day, complaint_day : int
        First day with any severity; day on which the driver complains.
    end_day : int
        First day without the fault; `NEVER` where nobody repairs it.
    shape : {"ramp", "step"}
        How it comes.
    days_to_one : float
        Days from onset to severity 1.
    power : float
        Severity is ((day - onset) / days_to_one) ** power for a ramp.
    first_level : float
        Severity on the onset day of a step.
    size : float
        Factor on the physical size.
    sign : int
        -1 or 1, where the fault can go either way.
    bank : int
        0 or 1, where it sits on one bank.
    """

    vehicle: int
    cause: str
    onset_day: int
    complaint_day: int
    end_day: int
    shape: Literal["ramp", "step"]
    days_to_one: float
    power: float
    first_level: float
    size: float
    sign: int
    bank: int

    def severity(self, days: int) -> Floats:
        """Give the severity of each day; float array of shape (days,)."""
        age = (np.arange(days) - self.onset_day) / self.days_to_one
        if self.shape == "step":
            level = np.where(age >= 0, self.first_level + (1 - self.first_level) * age, 0.0)
        else:
            level = np.maximum(age, 0.0) ** self.power
        level = np.minimum(level, WORST)
        level[min(self.end_day, days) :] = 0.0
        return np.asarray(level, dtype=np.float64)


@dataclass(slots=True, kw_only=True, eq=False)
class Effects:
    """Physical deviations day by day; arrays of shape (V, days), last axes named where there are more.

    Parameters
    ----------
    leak : float array
        Unmetered air as a share of the warm idle airflow, at sea level.
    meter : float array
        Gain of the air meter.
    pressure : float array of shape (V, days, 2)
        Pressure across the injectors relative to normal, at idle and at cruise.
    lean : float array of shape (V, days, 2, 2)
        Fuel missing as the trim sees it [1]; idle and cruise, bank 1 and bank 2.
    purge : float array of shape (V, days, 2)
        Vapour fuel as a share of the fuel burnt; idle and cruise.
    deposits : float array
        Share of the idle air path that is closed by deposits.
    switch : int array
        1 + place in `parameters.SWITCHES` of a switch that reads on; 0 where none.
    running_v, rest_v, crank_v, load_v : float arrays
        Change of charging, resting and cranking voltage; loss in the supply under full load [V].
    ect_c, iat_c, map_kpa : float arrays
        Sensor deviations.
    thermostat : float array
        0 closed, 1 open as far as a driver notices.
    swing : float array of shape (V, days, 2)
        Additional swing of the short-term trim, by bank [1].
    """

    leak: Floats
    meter: Floats
    pressure: Floats
    lean: Floats
    purge: Floats
    deposits: Floats
    switch: NDArray[np.int64]
    running_v: Floats
    rest_v: Floats
    crank_v: Floats
    load_v: Floats
    ect_c: Floats
    iat_c: Floats
    map_kpa: Floats
    thermostat: Floats
    swing: Floats

    @classmethod
    def none(cls, vehicles: int, days: int) -> "Effects":
        """Give a fleet without any fault."""
        shape = (vehicles, days)
        return cls(
            leak=np.zeros(shape), meter=np.ones(shape), pressure=np.ones((*shape, 2)),
            lean=np.zeros((*shape, 2, 2)), purge=np.zeros((*shape, 2)), deposits=np.zeros(shape),
            switch=np.zeros(shape, dtype=np.int64), running_v=np.zeros(shape), rest_v=np.zeros(shape),
            crank_v=np.zeros(shape), load_v=np.zeros(shape), ect_c=np.zeros(shape), iat_c=np.zeros(shape),
            map_kpa=np.zeros(shape), thermostat=np.zeros(shape), swing=np.zeros((*shape, 2)),
        )  # fmt: skip


def possible_causes(kind: EngineType) -> tuple[str, ...]:
    """Name the causes that a type can have and its readings can show."""
    impossible = {"unknown"}
    if kind.air_metering != _MEASURED_AIR:
        impossible.add("air_meter_low")
    if not kind.reads_map:
        impossible.add("map_sensor_bias")
    return tuple(cause for cause in CAUSES if cause not in impossible)


def _grow(
    rng: np.random.Generator, cause: str, strengths: Strengths
) -> tuple[Literal["ramp", "step"], float]:
    shape: Literal["ramp", "step"] = "ramp"
    if cause in _SUDDEN or (cause not in _SLOW and rng.random() < strengths.steps):
        shape, low, high = "step", 20, 70
    elif cause in _SLOW:
        low, high = 70, 240
    else:
        low, high = (10, 30) if rng.random() < strengths.quick else (30, 200)
    return shape, strengths.pace * float(np.exp(rng.uniform(np.log(low), np.log(high))))


def _onset(rng: np.random.Generator, heard: NDArray[np.bool_], length: float) -> int:
    """Draw an onset after a healthy stretch whose ramp is mostly heard: silence is no test of a method."""
    days = len(heard)
    latest = max(EARLIEST + 1, int(days - 0.85 * length))
    best, most = EARLIEST, -1.0
    for _ in range(12):
        onset = int(rng.integers(EARLIEST, latest)) if latest > EARLIEST + 1 else days // 2
        share = float(heard[onset : onset + max(1, int(length))].mean())
        if share > HEARD:
            return onset
        if share > most:
            best, most = onset, share
    return best


def _one_fault(
    rng: np.random.Generator,
    vehicle: int,
    cause: str,
    heard: NDArray[np.bool_],
    strengths: Strengths,
    banks: int,
) -> Fault:
    shape, to_one = _grow(rng, cause, strengths)
    power = 1.0 if rng.random() < 0.6 else float(rng.uniform(0.8, 1.6))
    first_level = float(rng.uniform(0.6, 0.95)) if cause not in _SUDDEN else 1.0
    onset = _onset(rng, heard, to_one)
    noticed = float(rng.uniform(0.85, 1.1))
    wait = to_one if shape == "step" else to_one * noticed ** (1 / power)
    complaint = onset + max(1, round(wait))
    repaired = rng.random() < strengths.repaired
    return Fault(
        vehicle=vehicle,
        cause=cause,
        onset_day=onset,
        complaint_day=complaint,
        end_day=complaint + int(rng.integers(2, 21)) if repaired else NEVER,
        shape=shape,
        days_to_one=to_one,
        power=power,
        first_level=first_level,
        size=float(rng.uniform(1.0, 1.45)),
        sign=1 if rng.random() < 0.5 else -1,
        bank=int(rng.integers(0, banks)),
    )


def draw_faults(
    rng: np.random.Generator,
    roster: Roster,
    silent: NDArray[np.bool_],
    share: float,
    strengths: Strengths,
) -> tuple[Fault, ...]:
    """Plant one fault in a share of the vehicles, all causes alike often.

    Parameters
    ----------
    silent : bool array of shape (V, days)
        Days without any snapshot.
    share : float
        Share of vehicles with a fault.

    Returns
    -------
    tuple of Fault
        At most one per vehicle, sorted by vehicle. With fewer faults than causes some causes stay away.
    """
    causes = [cause for cause in CAUSES if cause != "unknown"]
    wanted = round(len(roster) * share)
    queue = [
        causes[place] for turn in range(wanted // len(causes) + 1) for place in rng.permutation(len(causes))
    ]
    queue = queue[:wanted]
    queue.sort(key=lambda cause: cause not in {"air_meter_low", "map_sensor_bias"})
    free = list(rng.permutation(len(roster)))
    faults = []
    for cause in queue:
        fitting = next((v for v in free if cause in possible_causes(TYPES[roster.kind[v]])), None)
        if fitting is None:
            continue
        free.remove(fitting)
        banks = TYPES[roster.kind[fitting]].banks
        faults.append(_one_fault(rng, int(fitting), cause, ~silent[fitting], strengths, banks))
    return tuple(sorted(faults, key=lambda fault: fault.vehicle))


def _apply(effects: Effects, fault: Fault, kind: EngineType, s: Floats) -> None:
    v, bank, sign = fault.vehicle, fault.bank, fault.sign
    match fault.cause:
        case "unmetered_air":
            # The sensed kind feels a leak only through idle control, so a larger one goes unnoticed.
            effects.leak[v] = s * (0.115 if kind.air_metering == _MEASURED_AIR else 0.24)
        case "fuel_delivery_low":
            effects.pressure[v] = 1 - s[:, None] * np.array([0.06, 0.22])
        case "air_meter_low":
            effects.meter[v] = 1 - 0.11 * s
        case "injector_restricted":
            effects.lean[v, :, :, bank] = s[:, None] * np.array([0.125, 0.105])
        case "purge_flow_stuck":
            effects.purge[v] = s[:, None] * np.array([0.115, 0.03])
        case "fuel_pressure_high":
            effects.pressure[v] = 1 + 0.27 * s[:, None]
        case "exhaust_leak_ahead_of_sensor":
            effects.lean[v, :, :, bank] = s[:, None] * np.array([0.115, 0.05])
        case "oxygen_sensor_slow":
            effects.lean[v, :, :, bank] = sign * s[:, None] * np.array([0.075, 0.095])
            effects.swing[v, :, bank] = 1.8 * s
        case _:
            _apply_elsewhere(effects, fault, s)


def _apply_elsewhere(effects: Effects, fault: Fault, s: Floats) -> None:
    v, sign = fault.vehicle, fault.sign
    match fault.cause:
        case "throttle_deposits":
            effects.deposits[v] = 0.26 * s
        case "load_switch_stuck":
            which = 0 if fault.size < 1.3 else 1  # air conditioning more often than steering
            effects.switch[v] = np.where(s > 0, 1 + which % len(SWITCHES), 0)
        case "charging_low":
            effects.running_v[v], effects.rest_v[v], effects.crank_v[v] = -1.3 * s, -0.22 * s, -0.4 * s
        case "charging_high":
            effects.running_v[v] = 1.2 * s
        case "battery_ageing":
            effects.rest_v[v], effects.crank_v[v] = -0.42 * s, -2.1 * s
        case "voltage_drop":
            effects.load_v[v], effects.crank_v[v] = 1.1 * s, -2.0 * s
        case "coolant_sensor_bias":
            effects.ect_c[v] = sign * 13 * s
        case "air_sensor_bias":
            effects.iat_c[v] = sign * 13 * s
        case "thermostat_open":
            effects.thermostat[v] = s
        case "map_sensor_bias":
            effects.map_kpa[v] = sign * 4 * s
        case _:
            raise AssertionError(f"cause {fault.cause} has no physics")


def make_effects(faults: tuple[Fault, ...], roster: Roster, days: int) -> Effects:
    """Turn planted faults into physical deviations, day by day."""
    effects = Effects.none(len(roster), days)
    for fault in faults:
        _apply(effects, fault, TYPES[roster.kind[fault.vehicle]], fault.severity(days) * fault.size)
    return effects
