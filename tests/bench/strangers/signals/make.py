"""A fleet from a seed: levels, responses, memory and noise; faults by a table of sensitivities."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any, Final
from zoneinfo import ZoneInfo

import numpy as np

from tests.bench.strangers.signals.faults import COLD, CRUISE, KOEO, SOAK, STATES, WARM, Fault
from tests.bench.strangers.signals.files import (
    Arrival,
    values_of,
    write_registers,
    write_snapshots,
    write_table,
)
from tests.bench.strangers.signals.readings import Taken, take_readings
from tests.bench.strangers.signals.vehicles import Vehicle, draw_vehicle, plan_faults, write_work
from tests.bench.strangers.signals.world import Depot, Floats, make_depots

Generator = np.random.Generator

_START: Final = date(2024, 1, 15)
_EVERY: Final = {"nightly": 1, "weekly": 7, "monthly": 30}
"""Days between uploads, by habit."""


def _clear_with_repair(rng: Generator, vehicle: Vehicle, fault: Fault | None) -> None:
    """Clear the memory with most repairs, half of them written down."""
    if fault is None or fault.repaired is None:
        return
    if rng.random() < 0.6 or fault.cause == "battery_ageing":
        (vehicle.recorded if rng.random() < 0.5 else vehicle.silent).append(fault.repaired)


def _columns(vehicle: Vehicle, taken: Taken) -> dict[str, list[Any]]:
    """Give what was read as lists, with the fuel system's state told from what was read."""
    columns = {name: column.tolist() for name, column in taken.columns.items()}
    if "FUELSYS1" in vehicle.reports:
        coolant = taken.columns.get("ECT", np.zeros(len(taken.t)))
        closed = (taken.state == WARM) | (taken.state == CRUISE) | ((taken.state == COLD) & (coolant > 38))
        columns["FUELSYS1"] = ["CL" if one else "OL" for one in closed.tolist()]
    return columns


def _told_state(state: int, luck: float) -> str | None:
    """Give the state that a logger tells: mostly none or the true one, seldom a wrong one."""
    if luck <= 0.1:
        return None
    wrong = KOEO if state == SOAK else WARM
    return STATES[state if luck > 0.105 else wrong]


def _uploads(rng: Generator, vehicle: Vehicle, t: Floats, fate: Floats) -> Floats:
    """Give when each snapshot is uploaded [days]; some are late."""
    every = _EVERY[vehicle.habit]
    due = np.floor(t) + every - (np.floor(t) % every)
    late = rng.uniform(0, 0.2, len(t)), rng.uniform(1, 15, len(t))
    return np.asarray(due + late[0] + np.where(fate < 0.04, late[1], 0))


def _arrivals(
    rng: Generator,
    vehicle: Vehicle,
    place: int,
    taken: Taken,
    zones: list[ZoneInfo],
    start: date,
    *,
    sheet_names: bool,
) -> Iterator[Arrival]:
    """Give the snapshots of one vehicle as they are uploaded, some of them twice."""
    columns = _columns(vehicle, taken)
    switches = {name: column.tolist() for name, column in taken.switches.items()}
    count = len(taken.t)
    fate, luck, identified = rng.random(count), rng.random(count), rng.random() < 0.5
    upload = _uploads(rng, vehicle, taken.t, fate)
    for row in range(count):
        midnight = datetime(start.year, start.month, start.day, tzinfo=zones[taken.depot[row]])
        at = midnight + timedelta(seconds=int(taken.t[row] * 86400))
        body: dict[str, Any] = {"vehicle": vehicle.name, "taken_at": at.isoformat()}
        state = _told_state(int(taken.state[row]), luck[row])
        if state is not None:
            body["state"] = state
        body["device"] = vehicle.device
        if identified:
            body["id"] = f"{vehicle.name}-{row:05d}"
        body["odometer_km"] = int(taken.odometer_km[row])
        body["values"] = values_of(vehicle, columns, row, sheet_names=sheet_names)
        if switches and luck[row] < 0.97:
            body["switches"] = {name: column[row] for name, column in switches.items()}
        arrival = Arrival(
            upload=upload[row],
            vehicle=place,
            number=row,
            sheet=vehicle.place,
            tabular=vehicle.kind != "named" and not sheet_names,
            body=body,
        )
        yield arrival
        if fate[row] > 0.985:  # sent once more
            yield Arrival(
                upload=upload[row] + fate[row] * 3 - 2.8,
                vehicle=place,
                number=row,
                sheet=arrival.sheet,
                tabular=arrival.tabular,
                body=body,
            )


def _truth(fleet: list[Vehicle], faults: dict[int, Fault], start: date) -> list[list[Any]]:
    def on(day: int | None) -> str:
        return "" if day is None else (start + timedelta(days=day)).isoformat()

    return [
        [
            fleet[place].name,
            one.cause,
            one.shape,
            on(one.onset),
            on(one.complaint),
            on(one.repaired),
            one.days,
        ]
        for place, one in sorted(faults.items())
    ]


def _register_row(vehicle: Vehicle, depots: list[Depot], since: date) -> list[Any]:
    home = depots[vehicle.depot].place
    return [
        vehicle.name, vehicle.sheet.name, home.name, home.zone, since.isoformat(), vehicle.own["odo0"], "",
    ]  # fmt: skip


def write(folder: Path, seed: int, *, vehicles: int, days: int, healthy: bool) -> date:
    """Write the files of a fleet; give the first day of its history.

    Parameters
    ----------
    folder : Path
        Where the files go; it is there and empty.
    seed : int
        The same seed gives the same files.
    vehicles, days : int
        Size of the fleet and length of its history, at least 120 days.
    healthy : bool
        Leaves the faults out; everything else stays.
    """
    start = _START + timedelta(days=seed * 53 % 365)

    def on(day: int) -> str:
        return (start + timedelta(days=int(day))).isoformat()

    rng = np.random.default_rng([seed, 7])
    depots = make_depots(rng, start, days)
    fleet = [draw_vehicle(rng, number + 1, days) for number in range(vehicles)]
    faults = {} if healthy else plan_faults(rng, fleet, days)
    zones = [ZoneInfo(depot.place.zone) for depot in depots]
    arrivals: list[Arrival] = []
    register, work = [], []
    for place, vehicle in enumerate(fleet):
        fault = faults.get(place)
        own = np.random.default_rng([seed, 11, place])
        sheet_names = vehicle.kind != "named" and own.random() < 0.3
        _clear_with_repair(own, vehicle, fault)
        taken = take_readings(own, vehicle, fault, depots, (days, start.weekday()))
        work += write_work(own, vehicle, fault, days, on)
        since = start - timedelta(days=int(own.integers(90, 3000)))
        register.append(_register_row(vehicle, depots, since))
        arrivals += _arrivals(own, vehicle, place, taken, zones, start, sheet_names=sheet_names)
    write_snapshots(folder, arrivals)
    write_registers(folder, fleet, register)
    head = "vehicle done_at kind cause ticket parts_cost labour_hours notes"
    write_table(folder / "work.csv", head, sorted(work, key=lambda row: str(row[1])))
    head = "vehicle cause shape onset complaint repaired days"
    write_table(folder / "truth.csv", head, _truth(fleet, faults, start))
    return start
