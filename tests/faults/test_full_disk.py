"""A disk that takes no more, or nothing at all: a clear 503, nothing half-written, then all goes on.

Repeat: python -m pytest -s tests/faults/test_full_disk.py
"""

import resource
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import event

from ingest.records import Vehicle
from tests.service.web.conftest import Service, open_service
from tests.service.web.fleet import NOW, ndjson, snapshot

ITEMS = [snapshot(taken_at=f"2031-03-01T0{n // 60}:{n % 60:02d}:00-05:00") for n in range(400)]

_SHORT = 1 << 16


@contextmanager
def _pragma(service: Service, command: str) -> Iterator[None]:
    def set_on(connection: Any, *_: object) -> None:
        connection.execute(command)

    engine = service.store._engine
    engine.dispose()
    event.listen(engine, "connect", set_on)
    try:
        yield
    finally:
        event.remove(engine, "connect", set_on)
        engine.dispose()


@contextmanager
def _full(service: Service, path: Path) -> Iterator[None]:
    pages = path.stat().st_size // 4096
    with _pragma(service, f"PRAGMA max_page_count = {pages}"):
        yield


@contextmanager
def _readonly(service: Service, path: Path) -> Iterator[None]:
    assert path.exists()
    with _pragma(service, "PRAGMA query_only = ON"):
        yield


@contextmanager
def _no_larger_files(service: Service, path: Path) -> Iterator[None]:
    """Let the operating system refuse to make any file longer than what the log needs for one batch."""
    assert path.stat().st_size > _SHORT
    assert service.store.kind == "sqlite"
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (_SHORT, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@pytest.mark.parametrize("fault", [_full, _readonly, _no_larger_files])
def test_disk_takes_nothing(sqlite_url: str, tmp_path: Path, fault: Callable[[Service, Path], Any]) -> None:
    """A batch is refused whole with 503 and Retry-After; sent again later it is kept whole."""
    service = open_service(sqlite_url, tmp_path)
    with service.store.begin() as work:
        work.put_vehicles([Vehicle(vehicle="V-0001")], NOW)
        work.commit()
    token = service.token("send")
    service.store._engine.dispose()  # folds the write-ahead log in, so that the file is as long as it says

    with fault(service, Path(sqlite_url.removeprefix("sqlite:///"))):
        refused = service.send(ndjson(ITEMS), token, "application/x-ndjson")
        with service.store.begin(readonly=True) as work:
            kept = work.snapshot_count(), work.touched_count()
    taken = service.send(ndjson(ITEMS), token, "application/x-ndjson")

    assert (refused.status_code, refused.json()["code"]) == (503, "store-unavailable"), refused.text
    assert refused.headers["retry-after"].isdigit()
    assert kept == (0, 0)
    assert taken.json()["accepted"] == len(ITEMS)
    service.store.close()
