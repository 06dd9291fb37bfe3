"""The files of a fleet: registers, and snapshots in the order of their arrival, a file a month and format."""

import csv
import gzip
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from tests.bench.strangers.signals.vehicles import Vehicle
from tests.bench.strangers.signals.world import LOGGER_NAMES, SHEETS

Snapshot = dict[str, Any]

_HEAD: Final = ("vehicle", "taken_at", "state", "device", "id", "odometer_km")
_SWITCHES: Final = ("ac", "power_steering", "in_gear")
_TRIMS: Final = ("LONGFT1", "LONGFT2", "SHRTFT1", "SHRTFT2")
_MONTH_DAYS: Final = 30
FLEET_NAME: Final = "Engine Speed"
"""The one name, for RPM, that the whole fleet shares."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Arrival:
    """A snapshot on its way: upload time in days, place of its vehicle, its own number, logger's kind.

    `tabular` tells whether its logger's export may be a table of its sheet.
    """

    upload: float
    vehicle: int
    number: int
    sheet: int
    tabular: bool
    body: Snapshot


def write_table(path: Path, head: str, rows: Iterable[Sequence[Any]]) -> None:
    """Write a CSV file; the head names its columns, apart by spaces."""
    with path.open("w", newline="", encoding="utf-8") as file:
        table = csv.writer(file)
        table.writerow(head.split())
        table.writerows(rows)


def _as_named(value: float, unit: str | None) -> float:
    """Give a value in the unit of a logger with its own vocabulary."""
    match unit:
        case "degF":
            return round(value * 1.8 + 32)
        case "mV":
            return round(value * 1000)
        case "lb/min":
            return round(value / 7.559873, 4)
        case "mph":
            return round(value / 1.609344, 1)
        case _:
            return value


def values_of(vehicle: Vehicle, columns: dict[str, list[Any]], row: int, *, sheet_names: bool) -> Snapshot:
    """Give the values of one snapshot as its logger writes them."""
    sheet_name = {name: alias for alias, name in vehicle.sheet.aliases.items()} if sheet_names else {}
    found: Snapshot = {}
    for name, column in columns.items():
        value = column[row]
        if value != value:  # noqa: PLR0124 - NaN
            continue
        if name == "FUELSYS1":
            found[name] = value
        elif vehicle.kind == "degF" and name in ("ECT", "IAT", "AAT"):
            found[name] = {"value": round(value * 1.8 + 32), "unit": "degF"}
        elif vehicle.kind == "named" and name == "RPM":
            found[FLEET_NAME] = value
        elif vehicle.kind == "named" and name in LOGGER_NAMES:
            other, unit = LOGGER_NAMES[name]
            found[other] = _as_named(value, unit)
        else:
            found[sheet_name.get(name, name)] = value if name in _TRIMS else round(value, 3)
    return found


def _write_snapshots_table(path: Path, snapshots: Iterable[Snapshot]) -> None:
    """Write snapshots as one table, with a column for each name and unit."""
    rows, names = [], {}
    for one in snapshots:
        row = {key: one.get(key, "") for key in _HEAD}
        row |= {key: str(on).lower() for key, on in one.get("switches", {}).items()}
        for name, value in one["values"].items():
            column, number = name, value
            if isinstance(value, dict):
                column, number = f"{name} [{value['unit']}]", value["value"]
            names[column] = True
            row[column] = number
        rows.append(row)
    with path.open("w", newline="", encoding="utf-8") as file:
        table = csv.DictWriter(file, [*_HEAD, *_SWITCHES, *names], restval="")
        table.writeheader()
        table.writerows(rows)


def write_snapshots(folder: Path, arrivals: Iterable[Arrival]) -> None:
    """Write snapshots in the order of their arrival: NDJSON, packed every third month; sometimes a table."""
    months: dict[int, list[Arrival]] = {}
    for one in sorted(arrivals, key=lambda one: (one.upload, one.vehicle, one.number)):
        months.setdefault(int(one.upload // _MONTH_DAYS), []).append(one)
    number = 0
    for month in sorted(months):
        rest = months[month]
        if month % 5 == 2:  # a month in which one sheet's plain loggers came as a table
            sheet = (month // 5) % 5
            tabled = [one.body for one in rest if one.tabular and one.sheet == sheet]
            _write_snapshots_table(folder / f"snapshots-{number:03d}.csv", tabled)
            rest = [one for one in rest if not (one.tabular and one.sheet == sheet)]
            number += 1
        text = "".join(json.dumps(one.body, separators=(",", ":")) + "\n" for one in rest).encode()
        path = folder / f"snapshots-{number:03d}.ndjson"
        if month % 3 == 1:
            path.with_name(f"{path.name}.gz").write_bytes(gzip.compress(text, mtime=0))
        else:
            path.write_bytes(text)
        number += 1


def write_registers(folder: Path, fleet: Sequence[Vehicle], rows: Sequence[Sequence[Any]]) -> None:
    """Write the register, whose rows are given, the aliases and the sheets."""
    head = "vehicle spec_sheet depot time_zone in_service_on odometer_km notes"
    write_table(folder / "vehicles.csv", head, rows)
    aliases = [["fleet", "", FLEET_NAME, "RPM", ""]]
    for sheet in SHEETS:
        aliases += [["sheet", sheet.name, alias, name, ""] for alias, name in sheet.aliases.items()]
    for vehicle in fleet:
        if vehicle.kind == "named":
            aliases += [
                ["device", vehicle.device, other, name, unit or ""]
                for name, (other, unit) in LOGGER_NAMES.items()
                if name in vehicle.reports
            ]
    write_table(folder / "aliases.csv", "scope scope_id name parameter unit", aliases)
    body = json.dumps({"spec_sheets": [sheet.entry() for sheet in SHEETS]}, indent=1)
    (folder / "specs.json").write_text(body, encoding="utf-8")
