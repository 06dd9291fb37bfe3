"""Upload files: each depot sends what its loggers held once a week, some of it late, some of it twice."""

import csv
import gzip
import io
import json
from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from typing import Final

from tests.bench.strangers.loops.builds import SHEET_ALIASES
from tests.bench.strangers.loops.loggers import Dialect

WEEK: Final = 7

NAMES: Final[dict[str, tuple[str, str]]] = {
    "LONGFT1": ("Learned trim 1", "%"),
    "LONGFT2": ("Learned trim 2", "%"),
    "SHRTFT1": ("Quick trim 1", "%"),
    "SHRTFT2": ("Quick trim 2", "%"),
    "ECT": ("Water temp", "degF"),
    "IAT": ("Intake temp", "degF"),
    "RPM": ("Engine speed", "1/min"),
    "VPWR": ("Board volts", "V"),
    "IAC": ("Idle valve", "%"),
}
"""Names by which loggers of one dialect call parameters, and their units."""

BY_SHEET: Final = {parameter: name for name, parameter in SHEET_ALIASES.items()}
"""Names which a sheet explains, by parameter; used by line loggers on vehicles of that sheet."""

FLEET_NAME: Final = ("Outside air", "AAT", "degC")
"""A name explained for the whole fleet, used in tables."""

HEAD: Final = (
    "vehicle",
    "taken_at",
    "state",
    "device",
    "id",
    "odometer_km",
    "ac",
    "power_steering",
    "in_gear",
)

TABLE_COLUMNS: Final = (
    *(
        "LONGFT1",
        "SHRTFT1",
        "LONGFT2",
        "SHRTFT2",
        "RPM",
        "VSS",
        "ECT",
        "IAT",
        "AAT",
        "MAP",
        "BARO",
        "MAF",
        "TP",
    ),
    *("TAC_PCT", "IAC", "LOAD_PCT", "LOAD_ABS", "SPARKADV", "VPWR", "CRANK_VMIN", "O2S11", "O2S12", "O2S21"),
    *("O2S22", "FUELSYS1", "RUNTM", "CLR_DIST", "FLI", "ALCH_PCT"),
)

Value = float | str


@dataclass(frozen=True, slots=True, kw_only=True)
class Snapshot:
    """One snapshot as a logger holds it; `switches` is None where there are none, `odometer_km` too."""

    vehicle: str
    taken_at: str
    state: str
    device: str
    number: str
    odometer_km: int | None
    values: dict[str, Value]
    switches: dict[str, bool] | None


def _to_fahrenheit(celsius: float) -> float:
    return round(celsius * 1.8 + 32.0, 1)


def as_line(snapshot: Snapshot, dialect: Dialect, *, by_sheet: bool) -> str:
    """Write a snapshot as a JSON line."""
    values: dict[str, Value | dict[str, Value]] = {}
    for name, value in snapshot.values.items():
        shown = BY_SHEET.get(name, name) if by_sheet else name
        if dialect == "fahrenheit" and name in {"ECT", "IAT", "AAT"} and isinstance(value, float):
            values[shown] = {"value": _to_fahrenheit(value), "unit": "degF"}
        else:
            values[shown] = value
    line: dict[str, object] = {
        "vehicle": snapshot.vehicle,
        "taken_at": snapshot.taken_at,
        "device": snapshot.device,
    }
    if snapshot.state:
        line["state"] = snapshot.state
    if snapshot.number:
        line["id"] = snapshot.number
    if snapshot.odometer_km is not None:
        line["odometer_km"] = snapshot.odometer_km
    line["values"] = values
    if snapshot.switches is not None:
        line["switches"] = snapshot.switches
    return json.dumps(line, separators=(",", ":"))


def _heading(dialect: Dialect) -> list[str]:
    if dialect == "named":
        return [*HEAD, *(NAMES.get(name, (name, ""))[0] for name in TABLE_COLUMNS)]
    renamed = {"AAT": FLEET_NAME[0], "ECT": "ECT [degF]"}
    return [*HEAD, *(renamed.get(name, name) for name in TABLE_COLUMNS)]


def as_row(snapshot: Snapshot, dialect: Dialect) -> list[str]:
    """Write a snapshot as the cells of a table's row."""
    in_fahrenheit = {"ECT", "IAT"} if dialect == "named" else {"ECT"}
    cells = []
    for name in TABLE_COLUMNS:
        value = snapshot.values.get(name)
        if isinstance(value, float) and name in in_fahrenheit:
            value = _to_fahrenheit(value)
        cells.append("" if value is None else str(value))
    switches = snapshot.switches or {}
    flags = [
        str(switches[name]).lower() if name in switches else ""
        for name in ("ac", "power_steering", "in_gear")
    ]
    km = "" if snapshot.odometer_km is None else str(snapshot.odometer_km)
    head = [snapshot.vehicle, snapshot.taken_at, snapshot.state, snapshot.device, snapshot.number, km]
    return [*head, *flags, *cells]


@dataclass(slots=True, eq=False)
class Post:
    """Collects snapshots by the week of upload; keys are (week, depot, dialect)."""

    lines: dict[tuple[int, str, Dialect], list[tuple[str, str | list[str]]]] = field(
        default_factory=lambda: defaultdict(list)
    )

    def add(self, week: int, depot: str, dialect: Dialect, snapshot: Snapshot, *, by_sheet: bool) -> None:
        """Put a snapshot into a week's upload."""
        table = dialect in {"table", "named"}
        content = as_row(snapshot, dialect) if table else as_line(snapshot, dialect, by_sheet=by_sheet)
        kind: Dialect = dialect if table else "lines"
        self.lines[week, depot, kind].append((snapshot.taken_at, content))

    def write(self, folder: Path, first: date) -> None:
        """Write all files; their names sort in the order of upload."""
        for (week, depot, kind), held in sorted(self.lines.items()):
            sent = first + timedelta(days=WEEK * (week + 1))
            place = depot.lower().replace(" ", "-")
            held.sort(key=lambda item: item[0])
            text = io.StringIO(newline="")
            if kind == "lines":
                text.writelines(f"{content}\n" for _, content in held)
                ending = "ndjson"
            else:
                rows = csv.writer(text)
                rows.writerow(_heading(kind))
                rows.writerows(content for _, content in held)
                ending = "csv"
            name = f"snapshots-{sent.isoformat()}-{place}-{kind}.{ending}.gz"
            # Without a time stamp and at a low level: the same files again, and quickly.
            (folder / name).write_bytes(gzip.compress(text.getvalue().encode(), 3, mtime=0))
