"""What is drawn for each vehicle, who gets which fault, and what the workshop wrote down."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from tests.bench.strangers.signals.faults import (
    CAUSES,
    COLD,
    CRANK,
    CRUISE,
    KOEO,
    NEEDS,
    SOAK,
    Fault,
    draw_fault,
)
from tests.bench.strangers.signals.world import OPTIONAL, RARELY, SHEETS, Floats, Sheet

Generator = np.random.Generator

_SHEET_SHARES: Final = (0.22, 0.2, 0.22, 0.2, 0.16)
_SILENT_IN: Final = ((SOAK, 0.09), (KOEO, 0.15), (CRANK, 0.12), (COLD, 0.05), (CRUISE, 0.06))
"""Shares of vehicles that send nothing in a state."""

_KINDS: Final = ("plain", "degF", "coarse", "named")
_HABITS: Final = ("nightly", "weekly", "monthly")


@dataclass(slots=True, kw_only=True, eq=False)
class Vehicle:
    """One vehicle; days are days of the history.

    Parameters
    ----------
    name, device : str
    sheet : Sheet
    place : int
        Of the sheet.
    depot, first_depot : int
        Where it stands, and where it stood before it moved.
    moved : int or None
        Day of the move.
    reports : tuple of str
        Parameters it sends.
    gives : float array of shape (states,)
        1 where it sends anything in a state.
    use : float
        How much it drives.
    gaps : list of (first, last)
        Days without anything.
    recorded, silent : list of int
        Days on which the memory was cleared, written down or not.
    new_battery : list of (day, volts)
    bad_tanks : list of (first, last, percent)
    own : dict of str to float
        Offsets and constants of its signals.
    trim_off : list of float array of shape (cells,)
        Own trim by bank.
    stuck_input : str
        Switch that would stick.
    kind, habit : str
        What its logger writes, and how often it uploads.
    """

    name: str
    device: str
    sheet: Sheet
    place: int
    depot: int
    first_depot: int
    moved: int | None
    reports: tuple[str, ...]
    gives: Floats
    use: float
    gaps: list[tuple[Any, Any]]
    recorded: list[int]
    silent: list[int]
    new_battery: list[tuple[int, float]]
    bad_tanks: list[tuple[int, int, float]]
    own: dict[str, Any]
    trim_off: list[Floats]
    stuck_input: str
    kind: str
    habit: str

    @property
    def resets(self) -> list[int]:
        """Days on which the memory was cleared."""
        return self.recorded + self.silent


def _draw_own(rng: Generator, *, throttle: bool) -> dict[str, Any]:
    """Draw the offsets of a vehicle's signals."""
    return {
        "automatic": int(rng.random() < 0.5),
        "ect_off": rng.normal(0, 1.3),
        "iat_off": rng.normal(0, 2),
        "rpm_off": rng.normal(0, 12),
        "map_off": rng.normal(0, 1.3),
        "ve_off": rng.normal(0, 0.02),
        "maf_off": rng.normal(0, 0.02),
        "trim_slope": rng.normal(-0.015, 0.02),
        "phi": rng.uniform(0.2, 0.5),
        "ar_sd": rng.uniform(0.8, 1.2),
        "stft_sd": rng.uniform(0.9, 1.6),
        "learn_days": rng.uniform(1, 4),
        "tank_days": rng.uniform(3, 9),
        "fuel_gain": rng.normal(1, 0.1),
        "ol_keeps": bool(rng.random() < 0.6),
        "air_level": (14.5 if throttle else 32.5) + rng.normal(0, 1.0 if throttle else 2.0),
        "air_wear": rng.uniform(0, 1.5),
        "tp_off": rng.normal(0, 1.5),
        "volt_off": rng.normal(0, 0.09),
        "rest": rng.normal(12.58, 0.05),
        "crank_v": rng.normal(10.5, 0.3),
        "km_day": rng.uniform(35, 140),
        "clr0": int(rng.integers(50, 9000)),
        "odo0": int(rng.integers(4000, 190000)),
        "wild": rng.uniform(0.008, 0.03),
    }


def draw_vehicle(rng: Generator, number: int, days: int) -> Vehicle:
    """Draw one vehicle."""

    def events(per_year: float) -> list[int]:
        drawn: list[int] = rng.integers(3, days, rng.poisson(per_year * days / 365)).tolist()
        return drawn

    place = int(rng.choice(len(SHEETS), p=_SHEET_SHARES))
    sheet = SHEETS[place]
    depot = int(rng.integers(4))
    idle_off = rng.normal(-0.3, 1.3)
    trim_off = []
    for bank in range(sheet.banks):
        mine = idle_off + (rng.normal(0, 0.9) if bank else 0)
        trim_off.append(np.array([mine + rng.normal(0.8, 0.7), mine, 0.75 * mine + rng.normal(0.3, 0.8)]))
    reports = tuple(
        name
        for name in sheet.reports
        if not (name in OPTIONAL and rng.random() < 0.12) and not (name in RARELY and rng.random() < 0.03)
    )
    gives = np.ones(6)
    for state, share in _SILENT_IN:
        gives[state] = rng.random() >= share
    moved = int(rng.integers(60, days - 40)) if rng.random() < 0.06 else None
    recorded, silent = events(0.22), events(0.3)
    gaps = [
        (first, first + int(rng.integers(12, 50)))
        for first in rng.integers(10, days - 20, rng.choice(3, p=[0.82, 0.14, 0.04]))
    ]
    kind = str(rng.choice(_KINDS, p=[0.68, 0.12, 0.1, 0.1]))
    first_depot, use = (depot + int(rng.integers(1, 4))) % 4, rng.uniform(0.8, 1.2)
    own = _draw_own(rng, throttle=sheet.idle == "electronic_throttle")
    new_battery = [(day, rng.uniform(0.03, 0.12)) for day in events(0.05)]
    stuck_input = str(rng.choice([name for name in sheet.switches if name != "in_gear"] or ["none"]))
    bad_tanks = [
        (day, day + int(rng.integers(4, 10)), rng.choice([-1, 1]) * rng.uniform(3, 6)) for day in events(0.35)
    ]
    return Vehicle(
        name=f"V-{number:04d}",
        device=f"L-{200 + number}",
        sheet=sheet,
        place=place,
        depot=depot,
        first_depot=first_depot,
        moved=moved,
        reports=reports,
        gives=gives,
        use=use,
        gaps=gaps,
        recorded=recorded,
        silent=silent,
        new_battery=new_battery,
        bad_tanks=bad_tanks,
        own=own,
        trim_off=trim_off,
        stuck_input=stuck_input,
        kind=kind,
        habit=str(rng.choice(_HABITS, p=[0.88, 0.09, 0.03])),
    )


def _can_show(vehicle: Vehicle, cause: str) -> bool:
    if not NEEDS.get(cause, frozenset()) <= set(vehicle.reports):
        return False
    return cause != "air_meter_low" or vehicle.sheet.metering == "maf"


def plan_faults(rng: Generator, fleet: Sequence[Vehicle], days: int) -> dict[int, Fault]:
    """Plant a fault in a third of the vehicles, causes evenly, each where it can show; by place."""
    rounds = len(fleet) // 3 // len(CAUSES) + 1
    todo = [str(cause) for _ in range(rounds) for cause in rng.permutation(CAUSES)]
    free = list(rng.permutation(len(fleet)))
    plans = {}
    for cause in sorted(todo[: round(len(fleet) / 3)], key=lambda cause: cause not in NEEDS):
        for place in free:
            if _can_show(fleet[place], cause):
                free.remove(place)
                plans[int(place)] = draw_fault(rng, cause, fleet[place].sheet, days)
                break
    return plans


def write_work(
    rng: Generator, vehicle: Vehicle, fault: Fault | None, days: int, on: Callable[[int], str]
) -> list[list[Any]]:
    """Write the work records of one vehicle, as rows of the contract's file; `on` gives the date of a day."""
    jobs = [(day, "memory_cleared", "", "battery disconnected") for day in vehicle.recorded]
    jobs += [(day, "battery_replaced", "", "") for day, _ in vehicle.new_battery]
    if rng.random() < 0.04:
        day = int(rng.integers(20, days - 10))
        jobs.append((day, "complaint", "", "driver: runs unevenly now and then"))
        jobs.append((day + 4, "no_fault_found", "", ""))
    if rng.random() < 0.1:
        jobs.append((int(rng.integers(5, days)), "note", "", "tyres and wipers"))
    if fault is not None and fault.complaint < days:
        jobs.append((fault.complaint, "complaint", "", "driver's report"))
        if fault.repaired is not None:
            told = fault.cause if rng.random() < 0.8 else ""
            jobs.append((fault.repaired, "repair", told, "" if rng.random() < 0.5 else "workshop order"))
            if fault.cause == "battery_ageing":
                jobs.append((fault.repaired, "battery_replaced", "", ""))
    rows = []
    for day, kind, cause, notes in jobs:
        costs = kind in ("repair", "battery_replaced")
        parts = round(float(rng.gamma(2, 70)), 2) if costs else ""
        hours = round(float(rng.uniform(0.4, 3.5)), 1) if costs else ""
        rows.append([vehicle.name, on(day), kind, cause, "", parts, hours, notes])
    return rows
