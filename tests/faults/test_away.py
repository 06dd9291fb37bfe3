"""A store that cannot be used for a while: a plain 503 everywhere, nothing half-kept, recovery by itself.

Repeat: python -m pytest -s tests/faults/test_away.py
"""

import os
import socket
import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import psycopg
import pytest
from sqlalchemy import make_url

from ingest.records import Vehicle
from service.store import StoreUnavailable, engine, open_store
from tests.service.web.conftest import Service, open_service
from tests.service.web.fleet import NOW, ndjson, snapshot

ITEMS = [snapshot(taken_at=f"2031-03-01T0{n // 60}:{n % 60:02d}:00-05:00") for n in range(300)]

Fault = Callable[[Service, str], Any]


def _path(url: str) -> Path:
    return Path(url.removeprefix("sqlite:///"))


@contextmanager
def _folder_gone(service: Service, url: str) -> Iterator[None]:
    """Take the folder away, as a disk that is not mounted."""
    folder = _path(url).parent
    service.store._engine.dispose()
    away = folder.rename(folder.with_name(folder.name + "-away"))
    try:
        yield
    finally:
        away.rename(folder)


@contextmanager
def _damaged(service: Service, url: str) -> Iterator[None]:
    """Overwrite the pages, and put the right ones back."""
    service.store._engine.dispose()
    whole = _path(url).read_bytes()
    _path(url).write_bytes(whole[:100] + os.urandom(len(whole) - 100))
    try:
        yield
    finally:
        service.store._engine.dispose()
        for beside in ("-wal", "-shm"):
            _path(url + beside).unlink(missing_ok=True)
        _path(url).write_bytes(whole)


@contextmanager
def _no_database(service: Service, url: str) -> Iterator[None]:
    """Write something else over the file."""
    service.store._engine.dispose()
    whole = _path(url).read_bytes()
    _path(url).write_bytes(b"not a database at all" * 1000)
    try:
        yield
    finally:
        service.store._engine.dispose()
        _path(url).write_bytes(whole)


@contextmanager
def _pool_taken(service: Service, url: str) -> Iterator[None]:
    """Hold every connection that the pool may make, as many slow requests would."""
    pool: Any = service.store._engine.pool
    pool._timeout, before = 0.05, pool._timeout
    held = [service.store._engine.raw_connection() for _ in range(pool.size() + pool._max_overflow)]
    try:
        yield
    finally:
        pool._timeout = before
        for one in held:
            one.close()
        assert url


@contextmanager
def _refused(service: Service, url: str) -> Iterator[None]:
    """Let PostgreSQL turn everybody away from this database, those inside included."""
    name = make_url(url).database
    with closing(psycopg.connect(url.replace(f"/{name}?", "/postgres?"), autocommit=True)) as other:
        other.execute(f'ALTER DATABASE "{name}" ALLOW_CONNECTIONS false')
        other.execute("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = %s", (name,))
        try:
            yield
        finally:
            other.execute(f'ALTER DATABASE "{name}" ALLOW_CONNECTIONS true')
    assert service


@pytest.mark.parametrize(
    ("kind", "fault"),
    [
        ("sqlite", _folder_gone),
        ("sqlite", _damaged),
        ("sqlite", _no_database),
        ("sqlite", _pool_taken),
        ("postgresql", _refused),
        ("postgresql", _pool_taken),
    ],
)
def test_away_and_back(request: pytest.FixtureRequest, tmp_path: Path, kind: str, fault: Fault) -> None:
    """API, pages and /readyz say 503 and when to come again; /livez lives; afterwards all goes on."""
    url, service, token = _opened(request, tmp_path, kind)

    with fault(service, url):
        answers = [
            service.send(ndjson(ITEMS), token, "application/x-ndjson"),
            service.client.get("/api/v1/tickets", headers=token),
            service.client.get("/week"),
            service.client.get("/vehicles"),
            service.client.post("/work/new", data={"vehicle": "V-0001"}),
            service.client.get("/readyz"),
        ]
        alive = service.client.get("/livez").status_code
    kept = _count(service)
    again = service.send(ndjson(ITEMS), token, "application/x-ndjson")
    pages = [service.client.get(path).status_code for path in ("/week", "/readyz")]
    service.store.close()

    assert [answer.status_code for answer in answers] == [503] * len(answers)
    assert all(answer.headers["retry-after"].isdigit() for answer in answers)
    assert alive == 200
    assert kept == 0
    assert again.json()["accepted"] == len(ITEMS)
    assert pages == [200, 200]


@contextmanager
def _locked_file(url: str) -> Iterator[None]:
    with closing(sqlite3.connect(_path(url), isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        yield


@contextmanager
def _locked_table(url: str) -> Iterator[None]:
    with psycopg.connect(url) as other:
        other.execute("LOCK TABLE snapshot IN ACCESS EXCLUSIVE MODE")
        yield
        other.rollback()


@pytest.mark.parametrize(
    ("kind", "fault"),
    [("sqlite", _locked_file), ("postgresql", _locked_table)],
)
def test_locked_for_too_long(
    request: pytest.FixtureRequest,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    kind: str,
    fault: Callable[[str], Any],
) -> None:
    """Locked for too long: the sender is told within the time allowed, nothing is kept of it."""
    monkeypatch.setattr(engine, "BUSY_TIMEOUT_S", 1)
    monkeypatch.setattr(engine, "_PATIENCE", {"options": "-c lock_timeout=1000"})
    url, service, token = _opened(request, tmp_path, kind)

    begun = time.perf_counter()
    with fault(url):
        service.store._engine.dispose()
        refused = service.send(ndjson(ITEMS), token, "application/x-ndjson")
        spent = time.perf_counter() - begun
    service.store._engine.dispose()
    kept = _count(service)
    again = service.send(ndjson(ITEMS), token, "application/x-ndjson")
    service.store.close()

    assert (refused.status_code, refused.json()["code"]) == (503, "store-unavailable"), refused.text
    assert refused.headers["retry-after"].isdigit()
    assert spent < 10
    assert kept == 0
    assert again.json()["accepted"] == len(ITEMS)


def test_server_that_says_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """A server that takes the connection and never answers is given up after the time allowed."""
    monkeypatch.setattr(engine, "CONNECT_TIMEOUT_S", 2)
    with closing(socket.create_server(("127.0.0.1", 0))) as silent:
        store = open_store(f"postgresql://nobody@127.0.0.1:{silent.getsockname()[1]}/none?sslmode=disable")
        begun = time.perf_counter()

        with pytest.raises(StoreUnavailable):
            store.begin()

        assert time.perf_counter() - begun < 10


def _opened(request: pytest.FixtureRequest, folder: Path, kind: str) -> tuple[str, Service, dict[str, str]]:
    url = str(request.getfixturevalue(f"{kind}_url"))
    service = open_service(url, folder)
    with service.store.begin() as work:
        work.put_vehicles([Vehicle(vehicle="V-0001")], NOW)
        work.commit()
    return url, service, service.token("send", "read")


def _count(service: Service) -> int:
    with service.store.begin(readonly=True) as work:
        return work.snapshot_count() + work.touched_count()
