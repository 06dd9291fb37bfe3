"""What was answered for survives a kill."""

import os
import signal
import subprocess
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from ingest.batch import Arrival
from ingest.records import Vehicle
from service.store import StoreUnavailable, open_store

_WRITER = """
import sys
from datetime import UTC, datetime
from ingest.records import Vehicle
from service.store import StoreError, StoreUnavailable, open_store
store = open_store(sys.argv[1])
with store.begin() as work:
    work.put_vehicles([Vehicle(vehicle="V-1")], datetime(2031, 3, 4, tzinfo=UTC))
    work.commit()
    work.put_vehicles([Vehicle(vehicle="V-2")], datetime(2031, 3, 4, tzinfo=UTC))
    print("committed", flush=True)
    sys.stdin.read()
"""


def test_kill_after_commit(store_url: str) -> None:
    """A process killed right after its commit has kept that, and nothing of what it had not committed."""
    root = Path(__file__).parents[3]
    with subprocess.Popen(
        [sys.executable, "-c", _WRITER, store_url],
        cwd=root,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as writer:
        assert writer.stdout is not None
        assert writer.stdout.readline() == "committed\n"
        os.kill(writer.pid, signal.SIGKILL)
        writer.wait(10)

    store = open_store(store_url)
    with store.begin(readonly=True) as work:
        assert work.vehicles() == (Vehicle(vehicle="V-1"),)
    store.close()


def test_sqlite_waits_for_the_disk(sqlite_url: str, make_arrival: Callable[..., Arrival]) -> None:
    """SQLite keeps a write-ahead log and waits for the disk at each commit."""
    store = open_store(sqlite_url)
    with store.begin() as work:
        cursor = work._connection.connection.cursor()
        settings = {
            name: cursor.execute(f"PRAGMA {name}").fetchone()[0]
            for name in ("journal_mode", "synchronous", "foreign_keys")
        }
        cursor.close()
        work.put_vehicles([Vehicle(vehicle="V-1")], datetime(2031, 3, 4, tzinfo=UTC))
        arrival = make_arrival([datetime(2031, 3, 4, tzinfo=UTC)])
        assert work.add_arrival(arrival, received_at=datetime(2031, 3, 4, tzinfo=UTC), source="x").accepted
    store.close()

    assert settings == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1}


def test_second_writer_is_told(sqlite_url: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """A writer that waited in vain for another one is told that the store cannot be used now."""
    monkeypatch.setattr("service.store.engine.BUSY_TIMEOUT_S", 0.05)
    first, second = open_store(sqlite_url), open_store(sqlite_url)
    with first.begin() as writing:
        writing.put_preference("hours", "20")
        with pytest.raises(StoreUnavailable, match="locked"), second.begin() as waiting:
            waiting.put_preference("hours", "16")
    first.close()
    second.close()
