"""A history as the files of the exchange contract: vehicles, spec sheets, aliases, work, snapshots.

Most loggers write NDJSON, one file a quarter. Loggers set to Fahrenheit send a unit beside each temperature,
or write one CSV file of their own. Some name parameters their own way; the alias table explains those names.
"""

import csv
import io
from datetime import UTC, datetime, timedelta
from math import isnan
from typing import Final

import numpy as np
import orjson
from numpy.typing import NDArray

from ingest.parameters import CODES, COLUMN, FUEL_SYSTEM, PARAMETERS, STATES, SWITCHES
from service.demo.dirt import ANCIENT, FUTURE, STRANGER
from service.demo.fleet import DAY_US, History
from service.demo.sheets import TYPES, sheet_entry
from service.demo.town import DEPOTS

_TEMPERATURES: Final = ("ECT", "IAT", "AAT")

_DEVICE_NAMES: Final = {
    "LONGFT1": "Trim long B1",
    "ECT": "Coolant",
    "VPWR": "Module volts",
    "CRANK_VMIN": "Crank low",
}
"""Names of loggers with their own vocabulary, explained per device."""

_FLEET_NAMES: Final = {"RPM": "Engine speed", "MAF": "Air flow"}
"""Names of the same loggers that the whole fleet shares."""

_PERSONAL: Final = {"driver": "practice driver", "latitude": 0.0, "longitude": 0.0}
"""Deliberate dirt: what a careless device sends and the door must drop. No person, no place."""

_QUARTER_DAYS: Final = 91
_FAR_US: Final = 40 * 365 * DAY_US

_WORK_COLUMNS: Final = (
    "vehicle", "done_at", "kind", "cause", "ticket", "parts_cost", "labour_hours", "notes",
)  # fmt: skip


def vehicles_csv(history: History) -> bytes:
    """Write the vehicle register."""
    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(["vehicle", "spec_sheet", "depot", "time_zone", "odometer_km"])
    for place, name in enumerate(history.roster.names):
        depot = DEPOTS[history.registered_depot(place)]
        odometer = int(history.roster.odometer_km[place])
        rows.writerow([name, TYPES[history.roster.kind[place]].sheet, depot.name, depot.time_zone, odometer])
    return out.getvalue().encode()


def specs_json(history: History) -> bytes:
    """Write the spec sheets of the types in the fleet."""
    present = sorted({int(kind) for kind in history.roster.kind})
    return orjson.dumps(
        {"spec_sheets": [sheet_entry(TYPES[kind]) for kind in present]}, option=orjson.OPT_INDENT_2
    )


def aliases_csv(history: History) -> bytes:
    """Write the alias table: names per device, and names for the whole fleet."""
    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(["scope", "scope_id", "name", "parameter", "unit"])
    rows.writerows(["fleet", "", name, code, ""] for code, name in _FLEET_NAMES.items())
    roster = history.roster
    for place in np.flatnonzero(roster.aliased):
        for device in (roster.device[place], roster.second_device[place]):
            for code, name in _DEVICE_NAMES.items():
                unit = "degF" if code in _TEMPERATURES and roster.fahrenheit[place] else PARAMETERS[code].unit
                rows.writerow(["device", device, name, code, unit])
    return out.getvalue().encode()


def work_csv(history: History) -> bytes:
    """Write the workshop's records."""
    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(_WORK_COLUMNS)
    for job in history.jobs:
        if job.day < 0:
            continue
        when = datetime.combine(history.date_of(job.day), datetime.min.time(), UTC)
        when += timedelta(minutes=round(job.hour * 60))
        offset = _offset_text(_job_offset_min(history, job.vehicle, job.day))
        rows.writerow(
            [history.roster.names[job.vehicle], when.strftime("%Y-%m-%dT%H:%M:%S") + offset, job.kind,
             job.cause, "", _blank(job.parts_cost), _blank(job.labour_hours), job.notes]
        )  # fmt: skip
    return out.getvalue().encode()


def _blank(value: float | None) -> str:
    return "" if value is None else str(value)


def _job_offset_min(history: History, vehicle: int, day: int) -> int:
    same = np.searchsorted(history.rows.vehicle, [vehicle, vehicle + 1])
    days = history.rows.day[same[0] : same[1]]
    if not len(days):
        return -360
    near = int(same[0]) + int(np.argmin(np.abs(days - day)))
    return int(history.offset_min[near])


def _offset_text(minutes: int) -> str:
    sign = "-" if minutes < 0 else "+"
    return f"{sign}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"


def _times(history: History) -> list[str]:
    shift = np.select([history.sent.flaw == FUTURE, history.sent.flaw == ANCIENT], [_FAR_US, 0], 0)
    local = history.taken_us + history.offset_min * 60_000_000 + shift
    local = np.where(history.sent.flaw == ANCIENT, history.rows.day * 1_000_000, local)
    text = np.datetime_as_string(local.astype("datetime64[us]").astype("datetime64[s]"))
    offsets = {int(minutes): _offset_text(int(minutes)) for minutes in np.unique(history.offset_min)}
    return [
        stamp + offsets[minutes]
        for stamp, minutes in zip(text.tolist(), history.offset_min.tolist(), strict=True)
    ]


def _names(history: History, vehicle: int) -> list[str]:
    """Give the names under which one vehicle's loggers send each parameter."""
    names = dict(zip(CODES, CODES, strict=True))
    if history.roster.aliased[vehicle]:
        names |= {code: name for name, code in TYPES[history.roster.kind[vehicle]].aliases.items()}
        names |= _FLEET_NAMES | _DEVICE_NAMES
    return list(names.values())


def _writes_table(history: History) -> NDArray[np.bool_]:
    """Mark vehicles whose snapshots come as CSV: every second of those set to Fahrenheit; shape (V,)."""
    roster = history.roster
    second = np.cumsum(roster.fahrenheit) % 2 == 1
    return np.asarray(roster.fahrenheit & second & ~roster.aliased)


class _Lines:
    """Turns rows of a history into NDJSON lines; what is the same for all rows is made once."""

    def __init__(self, history: History) -> None:
        self.history = history
        self.times = _times(history)
        self.values = np.round(history.sent.values, 5).tolist()
        vehicles = range(len(history.roster))
        self.names = [_names(history, vehicle) for vehicle in vehicles]
        temperatures = [COLUMN[code] for code in _TEMPERATURES]
        self.fahrenheit = [temperatures if history.roster.fahrenheit[vehicle] else [] for vehicle in vehicles]
        self.flags = [COLUMN["CAM_SYNC"], COLUMN["CRANK_SYNC"]]
        self.odometer = history.odometer_km.astype(int).tolist()
        self.state_of = [*STATES, None]

    def line(self, row: int) -> bytes:
        """Write one snapshot."""
        history, sent = self.history, self.history.sent
        vehicle = int(history.rows.vehicle[row])
        roster = history.roster
        item: dict[str, object] = {
            "vehicle": "X-9999" if sent.flaw[row] == STRANGER else roster.names[vehicle],
            "taken_at": self.times[row],
        }
        if device := _device(history, row):
            item["device"] = device
        state = self.state_of[sent.claim[row]]
        if state is not None:
            item["state"] = state
        if vehicle % 3 == 0:
            item["id"] = f"{history.seed}-{row}"
        if vehicle % 4:
            item["odometer_km"] = self.odometer[row]
        item["values"] = self._readings(row, vehicle)
        switches = sent.switches[row].tolist()
        if switches[0] >= 0:
            item["switches"] = {name: bool(on) for name, on in zip(SWITCHES, switches, strict=True)}
        if sent.personal[row]:
            item |= _PERSONAL
        return orjson.dumps(item)

    def _readings(self, row: int, vehicle: int) -> dict[str, object]:
        names = self.names[vehicle]
        readings: dict[str, object] = {
            names[place]: value for place, value in enumerate(self.values[row]) if not isnan(value)
        }
        fuel = readings.get("FUELSYS1")
        if isinstance(fuel, float):
            readings["FUELSYS1"] = FUEL_SYSTEM[int(fuel)]
        for place in self.flags:
            if names[place] in readings:
                readings[names[place]] = bool(readings[names[place]])
        for place in self.fahrenheit[vehicle]:
            value = readings.get(names[place])
            if isinstance(value, float):
                warm = round(value * 1.8 + 32, 1)
                explained = names[place] != CODES[place]
                readings[names[place]] = warm if explained else {"value": warm, "unit": "degF"}
        return readings


def snapshots_ndjson(history: History) -> dict[str, bytes]:
    """Write the JSON loggers' snapshots in the order of arrival, one file a quarter."""
    lines = _Lines(history)
    order = history.sent.order
    order = order[~_writes_table(history)[history.rows.vehicle[order]]]
    quarter = history.rows.day[order] // _QUARTER_DAYS
    # A late snapshot lands in the file of the quarter in which it arrives.
    quarter = np.maximum.accumulate(quarter)
    return {
        f"snapshots-{number + 1:02d}.ndjson": b"\n".join(
            lines.line(row) for row in order[quarter == number].tolist()
        )
        + b"\n"
        for number in np.unique(quarter).tolist()
    }


def snapshots_csv(history: History) -> bytes:
    """Write the table loggers' snapshots, temperatures in degF; only a header where nobody writes tables."""
    sent = history.sent
    order = sent.order[_writes_table(history)[history.rows.vehicle[sent.order]]]
    used = [place for place in range(len(CODES)) if not np.isnan(sent.values[order][:, place]).all()]
    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    titles = [f"{CODES[p]} [degF]" if CODES[p] in _TEMPERATURES else CODES[p] for p in used]
    rows.writerow(["vehicle", "taken_at", "state", "device", "odometer_km", *SWITCHES, *titles])
    values = np.round(sent.values, 5)
    for code in _TEMPERATURES:
        values[:, COLUMN[code]] = np.round(values[:, COLUMN[code]] * 1.8 + 32, 1)
    times, odometer = _times(history), history.odometer_km.astype(int).tolist()
    cells = values[:, used].tolist()
    fuel = used.index(COLUMN["FUELSYS1"]) if COLUMN["FUELSYS1"] in used else -1
    for row in order.tolist():
        vehicle = int(history.rows.vehicle[row])
        name = "X-9999" if sent.flaw[row] == STRANGER else history.roster.names[vehicle]
        state = STATES[sent.claim[row]] if sent.claim[row] >= 0 else ""
        switches = ["" if on < 0 else ("true" if on else "false") for on in sent.switches[row].tolist()]
        readings = ["" if isnan(value) else value for value in cells[row]]
        if fuel >= 0 and readings[fuel] != "":
            readings[fuel] = FUEL_SYSTEM[int(cells[row][fuel])]
        rows.writerow([name, times[row], state, _device(history, row), odometer[row], *switches, *readings])
    return out.getvalue().encode()


def _device(history: History, row: int) -> str:
    """Give the name of the logger that sent a snapshot; empty where it gives none."""
    roster, vehicle = history.roster, int(history.rows.vehicle[row])
    if roster.nameless[vehicle]:
        return ""
    return (roster.second_device if history.sent.second_device[row] else roster.device)[vehicle]


def fleet_files(history: History) -> dict[str, bytes]:
    """Write everything a service may see, by file name. The truth is not in it."""
    return {
        "vehicles.csv": vehicles_csv(history),
        "specs.json": specs_json(history),
        "aliases.csv": aliases_csv(history),
        "work.csv": work_csv(history),
        "snapshots-table.csv": snapshots_csv(history),
        **snapshots_ndjson(history),
    }
