"""A nightly run killed at any commit, a migration killed midway: done again, all is as if undisturbed.

Repeat: python -m pytest -m '' -s tests/faults/test_killed_jobs.py
"""

import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import Column, NullPool, Table, create_engine, select

from ingest.batch import Arrival
from ingest.records import SpecSheet, Vehicle
from service.store import open_store
from service.store.engine import read_url
from service.store.tables import METADATA
from tests.faults.conftest import Copied
from tests.faults.dying import NIGHT, night
from tests.service.store.conftest import build_arrival

TOP = Path(__file__).parents[2]
_WHO_RAN = ("run", "post")
_START = datetime(2031, 1, 1, tzinfo=UTC)


def _die(what: str, urls: list[str]) -> list[str]:
    command = [sys.executable, "-m", "tests.faults.dying", what, *urls]
    return subprocess.run(command, cwd=TOP, check=True, capture_output=True, text=True).stdout.split()


def _tables(url: str) -> dict[str, list[Any]]:
    """Read every row of every table, but who ran what when, and running numbers, which may have gaps."""
    with create_engine(read_url(url), poolclass=NullPool).connect() as connection:
        return {
            name: sorted(map(repr, connection.execute(select(*_told(table))).all()))
            for name, table in METADATA.tables.items()
            if name not in _WHO_RAN
        }


def _told(table: Table) -> list[Column[Any]]:
    return [column for column in table.c if column is not table.autoincrement_column]


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


@pytest.mark.parametrize("kind", ["sqlite", pytest.param("postgresql", marks=pytest.mark.slow)])
def test_night_killed_at_every_commit(kind: str, request: pytest.FixtureRequest, copied: Copied) -> None:
    """Killed before any of its commits and run again, a night leaves the same rows as one undisturbed."""
    undisturbed = str(request.getfixturevalue(f"{kind}_url"))
    _fill(undisturbed)
    copies = copied(undisturbed, 12)
    later = NIGHT + timedelta(minutes=11)

    ended = _die("night", copies)
    for url in (undisturbed, *copies):
        night(url, NIGHT if url == undisturbed else later, "after")

    kills = ended.count("killed")
    print(f"\nnightly run on {kind}: {kills} kills, one at each commit; {len(copies) - kills} ran through")  # noqa: T201
    assert ended == ["killed"] * kills + ["done"] * (len(copies) - kills)
    assert 5 <= kills < len(copies)
    for url in copies:
        assert _without_clock(_tables(url)) == _without_clock(_tables(undisturbed))
    assert len(_tables(undisturbed)["ticket"]) == 1


def _without_clock(tables: dict[str, list[Any]]) -> dict[str, list[Any]]:
    """Leave out when it was worked out: the later run has another clock time, and must have."""
    minute, later = (repr(one) for one in (NIGHT, NIGHT + timedelta(minutes=11)))
    return {name: [row.replace(later, minute) for row in rows] for name, rows in tables.items()}


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_migration_killed_midway(kind: str, copied: Copied) -> None:
    """Killed at every ninth statement, a migration leaves no table half-made; the next one goes through."""
    urls = copied(f"{kind}://", 12)

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
