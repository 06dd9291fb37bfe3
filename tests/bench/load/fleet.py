"""Years of a large fleet, simulated block by block and loaded through the front door for files."""

import io
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Final

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from ingest.aliases import AliasTable
from ingest.formats import iter_snapshots
from ingest.parameters import CODES, COLUMN, FUEL_SYSTEM, PARAMETERS, STATES, SWITCHES
from ingest.sheets import read_sheets
from ingest.vehicles import read_vehicles
from ingest.work import read_work
from service.clock import Clock
from service.demo.dirt import PLAIN
from service.demo.fleet import History, make_fleet
from service.demo.write import specs_json, vehicles_csv, work_csv
from service.store import Store
from service.store.columns import to_us

BLOCK: Final = 250
"""Vehicles simulated at once; chosen by us: three years of them fit into some two gigabytes."""

_GROUP: Final = 20_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Filled:
    """What was loaded, and how long each step took [s]."""

    vehicles: tuple[str, ...]
    snapshots: int
    simulate_s: float
    load_s: float


def fill(
    store: Store, *, vehicles: int, days: int, per_day: float, last: date, say: Callable[[str], None]
) -> Filled:
    """Register the fleet and load its history as Parquet files, a file for each block."""
    names: list[str] = []
    snapshots, simulate_s, load_s = 0, 0.0, 0.0
    for block, start in enumerate(range(0, vehicles, BLOCK)):
        begun = time.perf_counter()
        size = min(BLOCK, vehicles - start)
        history = make_fleet(100 + block, vehicles=size, days=days, per_day=per_day, last_day=last)
        body = write_parquet(history, f"{block:02d}-")
        simulated = time.perf_counter()
        names += _register(store, history, f"{block:02d}-")
        snapshots += _load(store, body)
        load_s += time.perf_counter() - simulated
        simulate_s += simulated - begun
        say(f"{len(names):,} vehicles, {snapshots:,} snapshots; loading {snapshots / load_s:,.0f} a second")
    return Filled(vehicles=tuple(names), snapshots=snapshots, simulate_s=simulate_s, load_s=load_s)


def _register(store: Store, history: History, prefix: str) -> Sequence[str]:
    now = Clock().now()
    sheets = read_sheets(specs_json(history), "json").rows
    vehicles = [
        replace(one, vehicle=prefix + one.vehicle) for one in read_vehicles(vehicles_csv(history), "csv").rows
    ]
    records = [replace(one, vehicle=prefix + one.vehicle) for one in read_work(work_csv(history), "csv").rows]
    with store.begin() as work:
        work.put_sheets(sheets, now)
        work.put_vehicles(vehicles, now)
        work.put_work(records, now)
        work.commit()
    return [one.vehicle for one in vehicles]


def _load(store: Store, body: bytes) -> int:
    with store.begin(readonly=True) as work:
        aliases, sheet_of = AliasTable.from_rows(work.aliases(), work.sheets()), work.sheet_of()
    now, kept = Clock().now(), 0
    for arrival in iter_snapshots(
        [body], kind="parquet", now_us=to_us(now), aliases=aliases, sheet_of=sheet_of
    ):
        with store.begin() as work:
            kept += work.add_arrival(arrival, received_at=now, source="history").accepted
            work.commit()
    return kept


def write_parquet(history: History, prefix: str) -> bytes:
    """Write what believable loggers sent, in order of arrival, from columns to columns."""
    sent = history.sent
    rows = np.array(list(_firsts(sent.order[sent.flaw[sent.order] == PLAIN])), dtype=np.int64)
    vehicle = history.rows.vehicle[rows]
    names = pa.array([prefix + name for name in history.roster.names])
    devices = [prefix + name for name in (*history.roster.device, *history.roster.second_device)]
    device = vehicle + np.where(sent.second_device[rows], len(history.roster), 0)
    columns: dict[str, pa.Array] = {
        "vehicle": names.take(pa.array(vehicle)),
        "taken_at": pa.array(history.taken_us[rows], pa.timestamp("us", "UTC")),
        "device": pa.array(devices).take(pa.array(device)),
        "state": pa.array(STATES).take(pa.array(sent.claim[rows], mask=sent.claim[rows] < 0)),
        "odometer_km": pa.array(history.odometer_km[rows]),
    }
    for place, name in enumerate(SWITCHES):
        given = sent.switches[rows, place]
        columns[name] = pa.array(given == 1, mask=given < 0)
    for code in CODES:
        values = np.round(sent.values[rows, COLUMN[code]], 5)
        missing = np.isnan(values)
        if not missing.all():
            columns[code] = _written(code, values, missing)
    out = io.BytesIO()
    pq.write_table(pa.table(columns), out, row_group_size=_GROUP)
    return out.getvalue()


def _written(
    code: str,
    values: "np.ndarray[tuple[int], np.dtype[np.float64]]",
    missing: "np.ndarray[tuple[int], np.dtype[np.bool_]]",
) -> pa.Array:
    if PARAMETERS[code].kind == "flag":
        return pa.array(values == 1, mask=missing)
    if PARAMETERS[code].kind == "code":
        return pa.array(FUEL_SYSTEM).take(pa.array(np.nan_to_num(values).astype(np.int64), mask=missing))
    return pa.array(values, mask=missing)


def _firsts(order: "np.ndarray[tuple[int], np.dtype[np.int64]]") -> Iterator[int]:
    """Give each row once, where it came first."""
    seen: set[int] = set()
    for row in order.tolist():
        if row not in seen:
            seen.add(row)
            yield row
