"""A nightly run killed at any commit, a migration killed midway: done again, all is as if undisturbed.

Repeat: python -m pytest -m '' -s tests/faults/test_killed_jobs.py
"""

import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import psycopg
import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import NullPool, create_engine, make_url, select

from ingest.batch import Arrival
from ingest.records import SpecSheet, Vehicle
from service.store import open_store
from service.store.engine import read_url
from service.store.tables import METADATA
from tests.faults.dying import NIGHT, night
from tests.service.store.conftest import build_arrival

TOP = Path(__file__).parents[2]
_WHO_RAN = ("run", "post")
_START = datetime(2031, 1, 1, tzinfo=UTC)


def _die(what: str, urls: list[str]) -> list[str]:
    command = [sys.executable, "-m", "tests.faults.dying", what, *urls]
    return subprocess.run(command, cwd=TOP, check=True, capture_output=True, text=True).stdout.split()


def _tables(url: str) -> dict[str, list[Any]]:
    """Read every row of every table, but who ran what when."""
    with create_engine(read_url(url), poolclass=NullPool).connect() as connection:
        return {
            name: sorted(map(repr, connection.execute(select(table)).all()))
            for name, table in METADATA.tables.items()
            if name not in _WHO_RAN
        }


def _fill(url: str, make: Callable[..., Arrival] = build_arrival) -> None:
    store = open_store(url)
    with store.begin() as work:
        work.put_sheets([SpecSheet(sheet="HARROW-24", revision=1, source="shop manual")], _START)
        work.put_vehicles(
            [Vehicle(vehicle=f"V-{n}", spec_sheet="HARROW-24", depot="North") for n in range(1, 5)], _START
        )
        arrival = make([NIGHT - timedelta(days=day) for day in range(1, 30)])
        work.add_arrival(arrival, received_at=_START, source="x")
        work.commit()
    store.close()


def test_night_killed_at_every_commit(sqlite_url: str, tmp_path: Path) -> None:
    """Killed before any of its commits and run again, a night leaves the same rows as one undisturbed."""
    _fill(sqlite_url)
    whole = Path(sqlite_url.removeprefix("sqlite:///"))
    copies = [f"sqlite:///{shutil.copy(whole, tmp_path / f'{place}.db')}" for place in range(12)]
    later = NIGHT + timedelta(minutes=11)

    ended = _die("night", copies)
    for url in (sqlite_url, *copies):
        night(url, NIGHT if url == sqlite_url else later, "after")

    kills = ended.count("killed")
    print(f"\nnightly run: {kills} kills, one at each commit; {len(copies) - kills} ran through")  # noqa: T201
    assert ended == ["killed"] * kills + ["done"] * (len(copies) - kills)
    assert 5 <= kills < len(copies)
    for url in copies:
        assert _without_clock(_tables(url)) == _without_clock(_tables(sqlite_url))
    assert len(_tables(sqlite_url)["ticket"]) == 1


def _without_clock(tables: dict[str, list[Any]]) -> dict[str, list[Any]]:
    """Leave out when it was worked out: the later run has another clock time, and must have."""
    minute, later = (repr(one) for one in (NIGHT, NIGHT + timedelta(minutes=11)))
    return {name: [row.replace(later, minute) for row in rows] for name, rows in tables.items()}


@pytest.fixture
def new_databases(
    request: pytest.FixtureRequest, tmp_path: Path
) -> Iterator[Callable[[str, int], list[str]]]:
    """Give a maker of databases without any table."""
    made: list[tuple[str, str]] = []

    def make(kind: str, count: int) -> list[str]:
        if kind == "sqlite":
            return [f"sqlite:///{tmp_path}/new-{place}.db" for place in range(count)]
        server = str(request.getfixturevalue("postgresql_server"))
        made.extend(
            (server, f"new_{tmp_path.name.replace('-', '_')}_{place}"[-60:]) for place in range(count)
        )
        with psycopg.connect(server, autocommit=True) as connection:
            for _, name in made:
                connection.execute(f'CREATE DATABASE "{name}"'.encode())
        return [make_url(server).set(database=name).render_as_string(False) for _, name in made]

    yield make
    for server, name in made:
        with psycopg.connect(server, autocommit=True) as connection:
            connection.execute(f'DROP DATABASE "{name}" WITH (FORCE)'.encode())


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_migration_killed_midway(kind: str, new_databases: Callable[[str, int], list[str]]) -> None:
    """Killed at every ninth statement, a migration leaves no table half-made; the next one goes through."""
    urls = new_databases(kind, 12)

    ended = _die("migrate", urls)

    print(f"\nmigration on {kind}: {ended.count('killed')} kills at every ninth statement")  # noqa: T201
    assert ended.count("killed") >= 5
    for url in urls:
        store = open_store(url)
        store.migrate()
        assert store.health().ready
        store.close()
        with create_engine(read_url(url), poolclass=NullPool).connect() as connection:
            context = MigrationContext.configure(connection, opts={"compare_type": True})
            assert compare_metadata(context, METADATA) == []
