"""The same snapshots in any order, cut in any way and sent any number of times give the same tickets.

Two ways run by default, on SQLite. Repeat with all, on both databases, and with other fleets:

    FORELAMP_TEST_SEED=8 python -m pytest -m '' -s tests/faults/test_order.py
"""

import os
import random
from collections.abc import Callable, Iterator, Sequence
from datetime import date, timedelta
from io import BytesIO
from pathlib import Path
from typing import Any, Final

import orjson
import pytest
from sqlalchemy import NullPool, create_engine, select

from ingest.aliases import read_aliases
from ingest.sheets import read_sheets
from ingest.vehicles import read_vehicles
from ingest.work import read_work
from models.summarise import summarise
from service.demo.fleet import History, make_fleet
from service.demo.write import fleet_files
from service.schedule.engine import Terms, models_engine
from service.schedule.replay import Span, replay
from service.store import Store
from service.store.engine import read_url
from service.store.tables import DAILY, VEHICLE
from service.web.exports import Wanted, export
from tests.faults.conftest import Copied
from tests.service.web.conftest import Service, open_service
from tests.service.web.fleet import NOW

_SEED: Final = int(os.environ.get("FORELAMP_TEST_SEED", "3"))  # noqa: TID251 (tests have no settings)
_LAST: Final = NOW.date() - timedelta(days=1)
_DAYS: Final = 200
_LINES: Final = "application/x-ndjson"

Send = Callable[[Sequence[bytes]], None]
"""Sends one body of these lines through the front door, and looks that it was taken."""

Way = Callable[[list[bytes], random.Random, Send, "Fleet"], None]


class Fleet:
    """A small fleet in a store of its own, and what evaluations make of it."""

    def __init__(self, url: str, folder: Path, history: History, files: dict[str, bytes]) -> None:
        self.service: Service = open_service(url, folder, sends_per_minute=0)
        self.url, self.history = url, history
        self._token = self.service.token("send")
        with self.service.store.begin() as work:
            work.put_sheets(read_sheets(files["specs.json"], "json").rows, NOW)
            work.put_vehicles(read_vehicles(files["vehicles.csv"], "csv").rows, NOW)
            work.put_aliases(read_aliases(files["aliases.csv"], "csv").rows, NOW)
            work.put_work(read_work(files["work.csv"], "csv").rows, NOW)
            work.commit()

    @property
    def store(self) -> Store:
        """Its store."""
        return self.service.store

    def send(self, lines: Sequence[bytes]) -> None:
        """Send one body; every line of it is taken, was there, or is refused for what it says."""
        answer = self.service.send(b"\n".join(lines), self._token, _LINES)
        told = answer.json()
        assert answer.status_code == 200, told
        refused = len(told["quarantined"]) + len(told["rejected"])
        assert told["accepted"] + told["duplicates"] + refused == len(lines)

    def replay(self, last: date = _LAST, *, restart: bool = False) -> None:
        """Evaluate every fourth day of the last ten weeks, as `forelamp replay` does."""
        replay(
            self.store,
            Span(first=_LAST - timedelta(days=70), last=last, every=4),
            now=NOW,
            terms=Terms(),
            engine=models_engine(),
            restart=restart,
        )

    def results(self) -> tuple[bytes, bytes, list[Any]]:
        """Give the export of tickets and of trends, byte for byte, and every daily summary."""
        files = []
        with self.store.begin(readonly=True) as work:
            for dataset in ("tickets", "trends"):
                sink = BytesIO()
                export(work, Wanted(dataset=dataset), "csv", sink, fleet_zone="UTC")
                files.append(sink.getvalue())
        columns = [column for column in DAILY.c if column.name != "vehicle_no"]
        query = select(VEHICLE.c.vehicle, *columns).join(VEHICLE, VEHICLE.c.vehicle_no == DAILY.c.vehicle_no)
        with create_engine(read_url(self.url), poolclass=NullPool).connect() as connection:
            daily = sorted(tuple(row) for row in connection.execute(query))
        self.store.close()
        return files[0], files[1], daily


def _cut(lines: Sequence[bytes], chance: random.Random, most: int) -> Iterator[Sequence[bytes]]:
    start = 0
    while start < len(lines):
        end = start + chance.randint(1, most)
        yield lines[start:end]
        start = end


def _in_order(lines: list[bytes], chance: random.Random, send: Send, _fleet: Fleet) -> None:
    """Send one after the other, as they were taken."""
    for some in _cut(lines, chance, 200):
        send(some)


def _retried(lines: list[bytes], chance: random.Random, send: Send, _fleet: Fleet) -> None:
    """Send each body up to three times, as where answers get lost."""
    for some in _cut(lines, chance, 200):
        for _ in range(chance.randint(1, 3)):
            send(some)


def _within_days(lines: list[bytes], chance: random.Random, send: Send, fleet: Fleet) -> None:
    """Send each day's in any order."""
    days: dict[bytes, list[bytes]] = {}
    for line in lines:
        days.setdefault(_taken(line)[:10].encode(), []).append(line)
    for day in days.values():
        chance.shuffle(day)
    _in_order([line for day in days.values() for line in day], chance, send, fleet)


def _across_days(lines: list[bytes], chance: random.Random, send: Send, fleet: Fleet) -> None:
    """Send in any order at all, a third of them twice."""
    mixed = lines + chance.sample(lines, len(lines) // 3)
    chance.shuffle(mixed)
    _in_order(mixed, chance, send, fleet)


def _backlog(lines: list[bytes], chance: random.Random, send: Send, fleet: Fleet) -> None:
    """Send the last month at once, in one body, newest first."""
    month = (_LAST - timedelta(days=30)).isoformat()
    _in_order([line for line in lines if _taken(line) < month], chance, send, fleet)
    send([line for line in reversed(lines) if _taken(line) >= month])


def _late(lines: list[bytes], chance: random.Random, send: Send, fleet: Fleet) -> None:
    """Send a third of the vehicles weeks late, after nights that knew nothing of them."""
    late = {f'"{name}"'.encode() for name in fleet.history.roster.names[::3]}
    three_weeks = (_LAST - timedelta(days=21)).isoformat()
    held = [line for line in lines if _taken(line) >= three_weeks and any(name in line for name in late)]
    here = set(held)
    _in_order([line for line in lines if line not in here], chance, send, fleet)
    fleet.store.fold_all(summarise)
    fleet.replay()
    _across_days(held, chance, send, fleet)
    fleet.replay(restart=True)


_WAYS: Final[dict[str, Way]] = {
    "retried": _retried,
    "within days": _within_days,
    "across days": _across_days,
    "backlog": _backlog,
    "late": _late,
}
_QUICK: Final = {("sqlite", "across days"), ("sqlite", "late")}


def _taken(line: bytes) -> str:
    return str(orjson.loads(line)["taken_at"])


def _lines_of(files: dict[str, bytes]) -> list[bytes]:
    found = [line for name, body in files.items() if name.endswith(".ndjson") for line in body.splitlines()]
    return sorted(set(found), key=_taken)


@pytest.fixture(scope="session")
def fleet_of_order() -> tuple[History, dict[str, bytes], list[bytes]]:
    """Give a fleet with faults, its files, and its snapshots by the time they were taken."""
    history = make_fleet(_SEED, vehicles=14, days=_DAYS, fault_share=0.6, last_day=_LAST)
    files = fleet_files(history)
    return history, files, _lines_of(files)


@pytest.fixture(scope="session")
def expected(
    fleet_of_order: tuple[History, dict[str, bytes], list[bytes]],
    sqlite_template: Path,
    tmp_path_factory: pytest.TempPathFactory,
) -> tuple[bytes, bytes, list[Any]]:
    """Give what comes of the snapshots in the order in which they were taken, on SQLite."""
    history, files, lines = fleet_of_order
    folder = tmp_path_factory.mktemp("in-order")
    (folder / "store.db").write_bytes(sqlite_template.read_bytes())
    fleet = Fleet(f"sqlite:///{folder}/store.db", folder, history, files)
    _in_order(lines, random.Random(_SEED), fleet.send, fleet)
    fleet.replay()
    return fleet.results()


@pytest.mark.parametrize(
    ("kind", "way"),
    [
        pytest.param(kind, way, marks=() if (kind, way) in _QUICK else pytest.mark.slow, id=f"{kind} {way}")
        for kind in ("sqlite", "postgresql")
        for way in _WAYS
    ],
)
def test_order_does_not_matter(
    request: pytest.FixtureRequest,
    copied: Copied,
    tmp_path: Path,
    fleet_of_order: tuple[History, dict[str, bytes], list[bytes]],
    expected: tuple[bytes, bytes, list[Any]],
    kind: str,
    way: str,
) -> None:
    """Tickets and trends are the same byte for byte, and so is every daily summary, on either database."""
    history, files, lines = fleet_of_order
    (url,) = copied(str(request.getfixturevalue(f"{kind}_url")), 1)
    fleet = Fleet(url, tmp_path, history, files)

    _WAYS[way](list(lines), random.Random(_SEED), fleet.send, fleet)
    if way != "late":
        fleet.replay()
    found = fleet.results()

    print(  # noqa: T201 (counts for whoever runs it)
        f"\n{kind}, {way}: {len(lines):,} snapshots, {len(found[2]):,} summaries, "
        f"{found[0].count(b'-T')} tickets named"
    )
    assert found[0] == expected[0]
    assert found[1] == expected[1]
    assert found[2] == expected[2]
    assert found[0].count(b"\n") > 1
