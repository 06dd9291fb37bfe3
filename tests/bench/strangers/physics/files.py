"""The files of a fleet: registers and snapshots in the order of their arrival, in three formats."""

import csv
import gzip
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any, Final
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from tests.bench.strangers.physics.engine import Floats
from tests.bench.strangers.physics.loggers import spoil
from tests.bench.strangers.physics.moments import STATES, Integers
from tests.bench.strangers.physics.sheets import SHEETS, limits
from tests.bench.strangers.physics.vehicles import Columns
from tests.bench.strangers.physics.weather import DEPOTS

DAY_S: Final = 86400
_CHUNKS: Final = 10
_TABLES, _FAHRENHEIT_TABLE = (4, 7), 7
_PACKED: Final = (2, 8)

_DEVICE_NAMES: Final = {
    "ECT": ("Coolant", "degF"),
    "IAT": ("Intake Air", "degF"),
    "VPWR": ("Batt V", "V"),
    "LONGFT1": ("LTFT B1", "%"),
}
"""Names and units of loggers with their own vocabulary."""

_SHEET_NAME: Final = "BATTERY VOLTS"
"""The name that every sheet gives VPWR."""

_KINDS: Final = ("plain", "fahrenheit", "alias", "coarse", "sheetname")
_KIND_SHARES: Final = (0.58, 0.14, 0.09, 0.09, 0.10)
_SWITCHES: Final = ("ac", "power_steering", "in_gear")


def name_of(vehicle: int) -> str:
    """Give a vehicle's number."""
    return f"F-{vehicle + 1:04d}"


def write_table(path: Path, head: str, rows: Iterable[Sequence[Any]]) -> None:
    """Write a CSV file; the head names its columns, apart by spaces."""
    with path.open("w", newline="", encoding="utf-8") as file:
        table = csv.writer(file)
        table.writerow(head.split())
        table.writerows(rows)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Taken:
    """Snapshots sorted by vehicle and time; arrays of shape (n,) by name."""

    vehicle: Integers
    day: Integers
    state: Integers
    hour: Floats
    odometer_km: Floats
    values: Columns
    switches: Columns


def _draw_devices(rng: np.random.Generator, count: int) -> tuple[NDArray[np.str_], dict[str, str]]:
    """Give each vehicle a logger, which some share, and each logger a kind."""
    devices = [f"L-{100 + place}" for place in range(max(int(count * 0.8), 4))]
    drawn = rng.choice(len(_KINDS), len(devices), p=_KIND_SHARES)
    kinds = {device: _KINDS[place] for device, place in zip(devices, drawn, strict=True)}
    return np.array(devices)[rng.integers(0, len(devices), count)], kinds


def _stamp(day: str, second: int, offset: int) -> str:
    sign = "-" if offset < 0 else "+"
    zone = f"{sign}{abs(offset) // 3600:02d}:{abs(offset) % 3600 // 60:02d}"
    return f"{day}T{second // 3600:02d}:{second % 3600 // 60:02d}:{second % 60:02d}{zone}"


def _in_fahrenheit(value: float) -> float:
    return value * 1.8 + 32


class _Sender:
    """Turns rows into what their loggers send."""

    def __init__(
        self,
        rng: np.random.Generator,
        taken: Taken,
        place: tuple[date, Integers, NDArray[np.int64]],
        loggers: tuple[NDArray[np.str_], NDArray[np.str_]],
    ) -> None:
        start, depot, sheet_of = place
        device, kind = loggers
        count, days = len(taken.vehicle), depot.shape[1]
        zones = [ZoneInfo(one.zone) for one in DEPOTS]
        noons = [datetime.combine(start + timedelta(days=day), time(12)) for day in range(days)]
        offsets = np.array(
            [[_seconds(noon.replace(tzinfo=zone).utcoffset()) for noon in noons] for zone in zones]
        )
        second = (taken.hour * 3600).astype(int) + rng.integers(0, 40, count)
        offset = offsets[depot[taken.vehicle, taken.day], taken.day]
        self.utc = taken.day * DAY_S + second - offset
        self.order = self._draw_order(rng, self.utc)
        self.identified = rng.random(count) < 0.6
        self.told = rng.random(count) > 0.08
        self.short = rng.random(count) < 0.05  # a reading left out
        dates = [noon.date().isoformat() for noon in noons]
        self.stamp = [
            _stamp(dates[day], at, off)
            for day, at, off in zip(taken.day.tolist(), second.tolist(), offset.tolist(), strict=True)
        ]
        self.number = np.argsort(np.argsort(self.utc, kind="stable")).tolist()
        self.values = {name: column.tolist() for name, column in taken.values.items()}
        self.switches = {name: column.tolist() for name, column in taken.switches.items()}
        self.vehicle, self.state = taken.vehicle.tolist(), taken.state.tolist()
        self.odometer_km = taken.odometer_km.astype(int).tolist()
        self.sheet = sheet_of[taken.vehicle].tolist()
        self.device, self.kind = device[taken.vehicle].tolist(), kind[taken.vehicle].tolist()
        self.reported = [[name for name in one["params"] if name in taken.values] for one in SHEETS]

    @staticmethod
    def _draw_order(rng: np.random.Generator, utc: Integers) -> Integers:
        """Draw the order of arrival: some come days late, some twice."""
        count = len(utc)
        is_late = rng.random(count) < 0.05
        arrival = utc + np.where(
            is_late, rng.exponential(6 * DAY_S, count), rng.uniform(600, 9 * 3600, count)
        )
        again = np.flatnonzero(rng.random(count) < 0.015)
        place = np.concatenate([np.arange(count), again])
        when = np.concatenate([arrival, arrival[again] + rng.exponential(DAY_S, len(again))])
        return place[np.argsort(when, kind="stable")]

    def values_of(self, place: int, *, plain: bool) -> Columns:
        """Give the values of a row in its logger's names and units, or in plain ones."""
        reported = self.reported[self.sheet[place]]
        found: Columns = {}
        for name in reported:
            value = self.values[name][place]
            if value != value:  # noqa: PLR0124 - NaN
                continue
            if name == "FUELSYS1":
                value = "CL" if value else "OL"
            elif value == int(value):
                value = int(value)
            found[name] = value
        if self.short[place]:
            found.pop(reported[place % len(reported)], None)
        return found if plain else self._in_own_words(found, self.kind[place])

    @staticmethod
    def _in_own_words(found: Columns, kind: str) -> Columns:
        if kind == "fahrenheit":
            for name in ("ECT", "IAT", "AAT"):
                if name in found:
                    found[name] = {"value": round(_in_fahrenheit(found[name])), "unit": "degF"}
            if "VSS" in found:
                found["VSS"] = {"value": round(found["VSS"] / 1.609344, 1), "unit": "mph"}
        elif kind == "alias":
            for name, (other, unit) in _DEVICE_NAMES.items():
                if name in found:
                    value = found.pop(name)
                    found[other] = round(_in_fahrenheit(value)) if unit == "degF" else value
        elif kind == "sheetname" and "VPWR" in found:
            found[_SHEET_NAME] = found.pop("VPWR")
        return found

    def snapshot(self, place: int) -> Columns:
        """Give a row as a snapshot of the contract."""
        found: Columns = {"vehicle": name_of(self.vehicle[place]), "taken_at": self.stamp[place]}
        if self.told[place]:
            found["state"] = STATES[self.state[place]]
        found["device"] = self.device[place]
        if self.identified[place]:
            found["id"] = f"s{self.number[place]:06d}"
        found["odometer_km"] = self.odometer_km[place]
        found["values"] = self.values_of(place, plain=False)
        has = SHEETS[self.sheet[place]]["switches"]
        if has:
            found["switches"] = {name: self.switches[name][place] for name in has}
        return found

    def table_row(self, place: int, names: Sequence[str], *, fahrenheit: bool) -> list[Any]:
        """Give a row as a row of a table in plain names."""
        values = self.values_of(place, plain=True)
        if fahrenheit:
            values |= {
                name: round(_in_fahrenheit(values[name]), 1) for name in ("ECT", "IAT") if name in values
            }
        has = SHEETS[self.sheet[place]]["switches"]
        head = [
            name_of(self.vehicle[place]),
            self.stamp[place],
            STATES[self.state[place]] if self.told[place] else "",
            self.device[place],
            f"s{self.number[place]:06d}" if self.identified[place] else "",
            self.odometer_km[place],
        ]
        switches = [
            ("true" if column[place] else "false") if name in has else ""
            for name, column in self.switches.items()
        ]
        return head + switches + [values.get(name, "") for name in names]


def _seconds(offset: timedelta | None) -> int:
    return 0 if offset is None else int(offset.total_seconds())


def _write_snapshots(folder: Path, sender: _Sender) -> None:
    names = sorted({name for reported in sender.reported for name in reported})
    for number, chunk in enumerate(np.array_split(sender.order, _CHUNKS)):
        path = folder / f"snapshots-{number:03d}.ndjson"
        if number in _TABLES:
            fahrenheit = number == _FAHRENHEIT_TABLE
            units = [name + (" [degF]" if name in ("ECT", "IAT") and fahrenheit else "") for name in names]
            with path.with_suffix(".csv").open("w", newline="", encoding="utf-8") as file:
                table = csv.writer(file)
                table.writerow(
                    ["vehicle", "taken_at", "state", "device", "id", "odometer_km", *_SWITCHES, *units]
                )
                table.writerows(
                    sender.table_row(place, names, fahrenheit=fahrenheit) for place in chunk.tolist()
                )
            continue
        body = "".join(json.dumps(sender.snapshot(place)) + "\n" for place in chunk.tolist()).encode()
        if number in _PACKED:
            packed = path.with_name(f"{path.name}.gz")
            packed.write_bytes(gzip.compress(body, compresslevel=4, mtime=0))
        else:
            path.write_bytes(body)


def _write_registers(
    rng: np.random.Generator, folder: Path, own: Columns, home: tuple[date, Integers], kinds: dict[str, str]
) -> None:
    start, depot = home
    rows = []
    for vehicle, last in enumerate(depot[:, -1]):
        place, since = DEPOTS[last], start - timedelta(days=int(rng.integers(100, 2500)))
        sheet, odometer_km = SHEETS[own["sheet"][vehicle]]["sheet"], int(own["odo"][vehicle])
        rows.append([name_of(vehicle), "", sheet, place.name, place.zone, since.isoformat(), odometer_km, ""])
    head = "vehicle vin spec_sheet depot time_zone in_service_on odometer_km notes"
    write_table(folder / "vehicles.csv", head, rows)
    sheets = [
        {
            "sheet": one["sheet"],
            "revision": 1,
            "source": f"fictional workshop book, section {place + 3}",
            "fuel": "gasoline",
            "displacement_l": one["disp"],
            "cylinders": one["cyl"],
            "banks": one["banks"],
            "air_metering": "maf" if one["maf"] else "speed_density",
            "idle_control": "bypass_valve" if one["bypass"] else "electronic_throttle",
            "charging": "commanded" if one["commanded"] else "fixed",
            "limits": limits(one),
            "aliases": {_SHEET_NAME: "VPWR"},
            "soak_hours": 5,
            "soak_gap_degC": 6,
        }
        for place, one in enumerate(SHEETS)
    ]
    depots = [{"depot": one.name, "time_zone": one.zone, "altitude_m": one.altitude_m} for one in DEPOTS]
    body = json.dumps({"spec_sheets": sheets, "depots": depots}, indent=1)
    (folder / "specs.json").write_text(body, encoding="utf-8")
    aliases = [
        ["device", device, other, name, unit]
        for device in sorted(kinds)
        if kinds[device] == "alias"
        for name, (other, unit) in _DEVICE_NAMES.items()
    ]
    aliases += [["sheet", one["sheet"], _SHEET_NAME, "VPWR", "V"] for one in SHEETS]
    write_table(folder / "aliases.csv", "scope scope_id name parameter unit", aliases)


def write_files(
    rng: np.random.Generator, folder: Path, own: Columns, home: tuple[date, Integers], taken: Taken
) -> None:
    """Write the register, sheets, aliases and snapshots of a fleet.

    Parameters
    ----------
    folder : Path
        Where the files go.
    own : dict of str to array
        Constants of vehicles.
    home : (date, int array of shape (V, days))
        First day of the history; depot of each vehicle by day.
    taken : Taken
        Snapshots; their values are spoilt in place.
    """
    start, depot = home
    device, kinds = _draw_devices(rng, len(depot))
    kind = np.array([kinds[one] for one in device])
    spoil(rng, taken.values, taken.state, kind[taken.vehicle] == "coarse")
    sender = _Sender(rng, taken, (start, depot, own["sheet"]), (device, kind))
    _write_snapshots(folder, sender)
    _write_registers(rng, folder, own, home, kinds)
