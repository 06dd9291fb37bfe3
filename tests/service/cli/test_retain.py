"""`forelamp retain` and `forelamp hold`."""

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from ingest.records import Vehicle
from service.cli.main import app
from service.store import NotFound, open_store
from tests.service.store.conftest import build_arrival

Run = Callable[..., Any]
OLD = datetime(2021, 5, 20, 12, tzinfo=UTC)


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Give a way to run commands on a store with five old readings of each of two vehicles."""
    monkeypatch.setenv("FORELAMP_HOME", str(tmp_path))
    store = open_store(f"sqlite:///{tmp_path / 'forelamp.db'}")
    store.migrate()
    with store.begin() as work:
        work.put_vehicles([Vehicle(vehicle="V-1"), Vehicle(vehicle="V-2")], OLD)
        for vehicle in ("V-1", "V-2"):
            moments = [OLD + timedelta(days=day) for day in range(5)]
            work.add_arrival(build_arrival(moments, vehicles=vehicle), received_at=OLD, source="L-1")
        work.commit()
    store.close()
    return lambda *words: CliRunner().invoke(app, list(words))


def test_dry_run(run: Run) -> None:
    """The dry run prints counts by class and month, and removes nothing."""
    told = [run("retain", "--dry-run").stdout for _ in range(2)]

    assert told[0] == told[1]
    assert "  readings, 2021-05: 10 snapshot of 2 vehicles\n" in told[0]
    assert "10 rows would be removed." in told[0]


def test_retain_as_json(run: Run) -> None:
    """With --yes it removes; --json gives the same counts to programs."""
    told = json.loads(run("retain", "--yes", "--json").stdout)

    assert told["removed"] is True
    assert {"class": "readings", "month": "2021-05", "table": "snapshot", "rows": 10, "vehicles": 2} in told[
        "portions"
    ]
    assert "snapshots: 0" in run("status").stdout


def test_it_asks(run: Run) -> None:
    """Without a yes nothing is removed."""
    assert run("retain").exit_code == 1
    assert "snapshots: 10" in run("status").stdout


def test_holds(run: Run) -> None:
    """A hold is set with a reason, listed, keeps what it holds, and is lifted."""
    assert run("hold", "list").stdout == "No vehicle is on hold.\n"
    assert run("hold", "set", "V-1").exit_code == 2
    assert run("hold", "set", "V-1", "--reason", " ").exit_code == 2
    assert run("hold", "set", "V-1", "--reason", "claim 17").stdout == "V-1 is on hold.\n"
    assert run("hold", "list").stdout.startswith("V-1: claim 17 (since ")

    assert "5 rows as old stay because of holds." in run("retain", "--dry-run").stdout
    run("retain", "--yes")
    assert "snapshots: 5" in run("status").stdout

    assert run("hold", "lift", "V-1").exit_code == 0
    assert isinstance(run("hold", "lift", "V-1").exception, NotFound)
    assert (
        json.loads(run("hold", "list", "--all", "--json").stdout)["holds"][0]["lifted_by"] == "command line"
    )
