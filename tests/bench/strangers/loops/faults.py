"""Faults: which vehicle gets which, when it begins, how it grows, when the driver complains."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from tests.bench.strangers.loops.builds import Build
from tests.bench.strangers.loops.fleet import Vehicle
from tests.bench.strangers.loops.places import Floats

CAUSES: Final = (
    "unmetered_air",
    "fuel_delivery_low",
    "air_meter_low",
    "injector_restricted",
    "purge_flow_stuck",
    "fuel_pressure_high",
    "exhaust_leak_ahead_of_sensor",
    "throttle_deposits",
    "load_switch_stuck",
    "charging_low",
    "charging_high",
    "battery_ageing",
    "voltage_drop",
    "coolant_sensor_bias",
    "air_sensor_bias",
    "thermostat_open",
    "map_sensor_bias",
    "oxygen_sensor_slow",
)

STEPS: Final[dict[str, float]] = {
    "purge_flow_stuck": 0.35,
    "injector_restricted": 0.25,
    "load_switch_stuck": 0.4,
    "charging_high": 0.3,
    "charging_low": 0.15,
    "thermostat_open": 0.3,
    "coolant_sensor_bias": 0.2,
    "map_sensor_bias": 0.2,
    "unmetered_air": 0.2,
}
"""Share of a cause's faults that come at once; of causes not named, none do."""

EARLIEST_DAY: Final = 75
LAST_WEEK: Final = 7
SHORTEST_DAYS, LONGEST_DAYS = 16, 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One planted fault; days of the history.

    Parameters
    ----------
    size : float
        Strength on the day of the complaint, over the cause's usual one [1].
    bend : float
        Power of time with which a ramp grows: above 1 it speeds up.
    first_part : float
        Strength on the first day over that at the complaint, of a step [1].
    sign, bank : int
        Direction, where the cause has two, and the bank concerned.
    repaired : int or None
        Day of the repair; None where nobody repairs.
    """

    vehicle: int
    cause: str
    shape: Literal["ramp", "step"]
    onset: int
    complaint: int
    repaired: int | None
    size: float
    bend: float
    first_part: float
    sign: int
    bank: int

    def strength(self, days: int) -> Floats:
        """Give the fault's strength at noon of each day; 1 is usual at the complaint."""
        day = np.arange(days, dtype=np.float64)
        age = np.clip((day - self.onset + 0.5) / (self.complaint - self.onset + 0.5), 0.0, 1.35)
        if self.shape == "ramp":
            grown = age**self.bend
        else:
            grown = np.where(age > 0.0, self.first_part + (1.0 - self.first_part) * age, 0.0)
        if self.repaired is not None:
            grown = np.where(day > self.repaired, 0.0, grown)
        return np.asarray(self.size * np.minimum(grown, 1.25), dtype=np.float64)


def is_possible(cause: str, build: Build) -> bool:
    """Tell whether a kind of vehicle can have a cause."""
    if cause == "air_meter_low":
        return build.has_meter
    if cause == "map_sensor_bias":
        return not build.has_meter
    return True


def _draw_fault(rng: np.random.Generator, vehicle: Vehicle, cause: str, days: int) -> Fault:
    shape: Literal["ramp", "step"] = "step" if rng.random() < STEPS.get(cause, 0.0) else "ramp"
    latest = days - 1 - LAST_WEEK
    room = latest - EARLIEST_DAY
    usual = rng.lognormal(np.log(125.0), 0.5) if shape == "ramp" else rng.uniform(12.0, 55.0)
    length = int(np.clip(usual, SHORTEST_DAYS, min(LONGEST_DAYS, room)))
    onset = EARLIEST_DAY + int(rng.integers(0, room - length + 1))
    complaint = onset + length
    repaired = complaint + int(rng.integers(1, 22)) if rng.random() < 0.86 else None
    return Fault(
        vehicle=vehicle.index,
        cause=cause,
        shape=shape,
        onset=onset,
        complaint=complaint,
        repaired=repaired if repaired is None or repaired < days else None,
        size=float(rng.uniform(1.05, 1.3)),
        bend=float(rng.uniform(1.1, 1.9)),
        first_part=float(rng.uniform(0.65, 0.95)),
        sign=1 if rng.random() < 0.5 else -1,
        bank=int(rng.integers(0, vehicle.build.banks)),
    )


def plan_faults(rng: np.random.Generator, fleet: Sequence[Vehicle], days: int) -> dict[int, Fault]:
    """Give a third of the vehicles a fault each, causes in turn; by the vehicle's index."""
    wanted: list[str] = []
    while len(wanted) < len(fleet) // 3:
        wanted += [str(cause) for cause in rng.permutation(CAUSES)]
    free = [int(index) for index in rng.permutation(len(fleet))]
    found: dict[int, Fault] = {}
    for cause in wanted:
        able = [index for index in free if is_possible(cause, fleet[index].build)]
        if not able or len(found) == len(fleet) // 3:
            continue
        free.remove(able[0])
        found[able[0]] = _draw_fault(rng, fleet[able[0]], cause, days)
    return found
