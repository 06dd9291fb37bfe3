"""Ways to call the service as devices, programs and people do."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlalchemy import Engine, event

from ingest.records import Vehicle
from service.app import build
from service.auth import issue
from service.clock import Clock
from service.settings import Settings
from service.store import Store
from tests.service.web.fleet import NOW, fill_fleet, ndjson, snapshot


@dataclass
class Service:
    """The application with ways to call it."""

    app: FastAPI
    client: TestClient
    store: Store

    def token(self, *scopes: str, vehicles: tuple[str, ...] = ()) -> dict[str, str]:
        """Issue a token and give it as the header that carries it."""
        with self.store.begin() as work:
            name = f"{'-'.join(scopes)}-{len(work.tokens())}"
            secret, token = issue(name, scopes, now=NOW, vehicles=vehicles)
            work.put_token(token)
            work.commit()
        return {"Authorization": f"Bearer {secret}"}

    def send(self, body: bytes, headers: dict[str, str], kind: str = "application/json", **more: str) -> Any:
        """Post snapshots."""
        return self.client.post(
            "/api/v1/snapshots", content=body, headers=headers | {"content-type": kind} | more
        )


def open_service(url: str, folder: Path, **settings: Any) -> Service:
    """Build the application over a store that is there."""
    made = Settings(home=folder, database_url=url, **settings)
    app = build(made, Clock(lambda: NOW))
    return Service(
        app=app, client=TestClient(app, raise_server_exceptions=False), store=app.state.shell.store
    )


@pytest.fixture
def service(sqlite_url: str, tmp_path: Path) -> Iterator[Service]:
    """Give the service over an empty SQLite store."""
    opened = open_service(sqlite_url, tmp_path)
    yield opened
    opened.store.close()


@pytest.fixture
def either_service(store_url: str, tmp_path: Path) -> Iterator[Service]:
    """Give the service over an empty store with a registered vehicle, once on each database."""
    opened = open_service(store_url, tmp_path)
    with opened.store.begin() as work:
        work.put_vehicles([Vehicle(vehicle="V-0001"), Vehicle(vehicle="V-0002")], NOW)
        work.commit()
    yield opened
    opened.store.close()


@pytest.fixture
def fleet(service: Service) -> Service:
    """Give the service over a small fleet with readings and a ticket."""
    fill_fleet(service.store)
    items = [
        snapshot(
            taken_at=(NOW - timedelta(days=day, hours=2)).isoformat(),
            values={
                "LONGFT1": round(1.0 + (60 - day) * 0.1, 2),
                "RPM": 742,
                "ECT": 90,
                "VPWR": 14.2,
                "VSS": 0,
                "FUELSYS1": "CL",
            },
        )
        for day in range(1, 60)
    ]
    answer = service.send(ndjson(items), service.token("send"), "application/x-ndjson")
    assert answer.json()["accepted"] == len(items), answer.text
    return service


@contextmanager
def counted() -> Iterator[list[str]]:
    """Collect the SQL statements that run inside the block, transactions' own words left out."""
    found: list[str] = []

    def note(_connection: object, _cursor: object, statement: str, *_rest: object) -> None:
        if not statement.startswith(("BEGIN", "COMMIT", "ROLLBACK", "PRAGMA", "SAVEPOINT")):
            found.append(statement)

    event.listen(Engine, "before_cursor_execute", note)
    try:
        yield found
    finally:
        event.remove(Engine, "before_cursor_execute", note)


@pytest.fixture
def statements() -> Callable[[], Any]:
    """Give the counter of SQL statements."""
    return counted
