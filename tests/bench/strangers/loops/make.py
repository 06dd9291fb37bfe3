"""Makes a fleet by running its control loops, and writes it as the contract's files."""

import csv
from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import Final

import numpy as np

from tests.bench.strangers.loops.builds import sheets_text
from tests.bench.strangers.loops.calendar import Calendar
from tests.bench.strangers.loops.charge import charge
from tests.bench.strangers.loops.condition import find_condition
from tests.bench.strangers.loops.drives import drive
from tests.bench.strangers.loops.faults import Fault, plan_faults
from tests.bench.strangers.loops.fleet import Vehicle, make_fleet
from tests.bench.strangers.loops.fuel import trim
from tests.bench.strangers.loops.heat import warm
from tests.bench.strangers.loops.idle import breathe
from tests.bench.strangers.loops.life import Life, live
from tests.bench.strangers.loops.places import DEPOTS, Climate, make_climate
from tests.bench.strangers.loops.readings import Loops
from tests.bench.strangers.loops.sending import Sender
from tests.bench.strangers.loops.uploads import FLEET_NAME, NAMES, Post

EARLIEST: Final = date(2023, 1, 2)
"""Monday on or after which histories begin; the seed picks the week, so that seasons differ."""

VEHICLE_HEAD: Final = ("vehicle", "spec_sheet", "depot", "time_zone", "in_service_on", "odometer_km", "notes")
WORK_HEAD: Final = ("vehicle", "done_at", "kind", "cause", "ticket", "parts_cost", "labour_hours", "notes")
TRUTH_HEAD: Final = ("vehicle", "cause", "shape", "onset", "complaint", "repaired", "days")
ALIAS_HEAD: Final = ("scope", "scope_id", "name", "parameter", "unit")


def _write_table(path: Path, head: Sequence[str], rows: Iterable[Sequence[object]]) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        table = csv.writer(file)
        table.writerow(head)
        table.writerows(rows)


def run_loops(seed: int, vehicle: Vehicle, fault: Fault | None, climates: Sequence[Climate]) -> Loops:
    """Run all loops of one vehicle through its history."""
    rng = np.random.default_rng([seed, 2, vehicle.index])
    days = len(climates[0].mean_c)
    life = live(rng, vehicle, fault, days)
    parts = find_condition(vehicle, life, fault, days)
    drives = drive(rng, vehicle, life, climates)
    return Loops(
        vehicle=vehicle,
        life=life,
        parts=parts,
        drives=drives,
        heat=warm(rng, vehicle, drives, parts),
        mixture=trim(rng, vehicle, drives, parts, life),
        idle=breathe(rng, vehicle, drives, parts, life),
        charge=charge(rng, vehicle, drives, parts),
    )


def _work_rows(vehicle: Vehicle, life: Life, calendar: Calendar) -> Iterable[tuple[int, list[object]]]:
    for work in life.book:
        done = calendar.moment(DEPOTS[vehicle.depot_on(work.day)].zone, work.day, 16.5)
        parts = "" if work.parts is None else work.parts
        hours = "" if work.hours is None else work.hours
        yield work.day, [vehicle.number, done, work.kind, work.cause, "", parts, hours, work.notes]


def _write_register(folder: Path, fleet: Sequence[Vehicle]) -> None:
    _write_table(
        folder / "vehicles.csv",
        VEHICLE_HEAD,
        (
            [
                vehicle.number,
                vehicle.build.sheet,
                DEPOTS[vehicle.depot].name,
                DEPOTS[vehicle.depot].zone,
                vehicle.in_service.isoformat(),
                round(vehicle.odometer_km),
                "",
            ]
            for vehicle in fleet
        ),
    )
    (folder / "specs.json").write_text(sheets_text(), encoding="utf-8")


def _write_truth(
    folder: Path, fleet: Sequence[Vehicle], faults: dict[int, Fault], calendar: Calendar
) -> None:
    _write_table(
        folder / "truth.csv",
        TRUTH_HEAD,
        (
            [
                fleet[index].number,
                fault.cause,
                fault.shape,
                calendar.date(fault.onset).isoformat(),
                calendar.date(fault.complaint).isoformat(),
                "" if fault.repaired is None else calendar.date(fault.repaired).isoformat(),
                fault.complaint - fault.onset,
            ]
            for index, fault in sorted(faults.items())
        ),
    )


def write(folder: Path, seed: int, *, vehicles: int, days: int, healthy: bool) -> date:
    """Write a fleet's files and its `truth.csv`; give the first day of its history.

    Parameters
    ----------
    folder : Path
        Where the files go; it is there and empty.
    seed : int
        The same seed gives the same files.
    vehicles, days : int
        Size of the fleet and length of its history; at least 12 and 120.
    healthy : bool
        Leaves the faults out.
    """
    rng = np.random.default_rng([seed, 1])
    first = EARLIEST + timedelta(weeks=int(rng.integers(0, 60)))
    calendar = Calendar(first)
    climates = [make_climate(rng, depot, first, days) for depot in DEPOTS]
    fleet = make_fleet(rng, first, vehicles, days)
    faults = {} if healthy else plan_faults(rng, fleet, days)
    post, work = Post(), list[tuple[int, list[object]]]()
    named: list[str] = []
    for vehicle in fleet:
        loops = run_loops(seed, vehicle, faults.get(vehicle.index), climates)
        sender = Sender(np.random.default_rng([seed, 3, vehicle.index]), loops, calendar, days)
        named += sender.send(post)
        work += _work_rows(vehicle, loops.life, calendar)
    post.write(folder, first)
    _write_register(folder, fleet)
    _write_table(folder / "work.csv", WORK_HEAD, (row for _, row in sorted(work, key=lambda item: item[0])))
    _write_truth(folder, fleet, faults, calendar)
    aliases = [["fleet", "", *FLEET_NAME]]
    aliases += [
        ["device", device, name, parameter, unit]
        for device in named
        for parameter, (name, unit) in NAMES.items()
    ]
    _write_table(folder / "aliases.csv", ALIAS_HEAD, aliases)
    return first
