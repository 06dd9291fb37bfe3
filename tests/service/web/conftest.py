"""Ways to call the service as devices, programs and people do."""

import re
import shutil
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlalchemy import Engine, event

from ingest.records import Vehicle
from service.app import build
from service.auth import digest_of, issue
from service.auth.sessions import COOKIE, new_cookie
from service.clock import Clock
from service.settings import Settings
from service.store import Person, SignIn, Store
from service.web.readers import ROLE_COOKIE
from tests.service.web.fleet import NOW, fill_fleet, ndjson, rising_trims


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

    def become(self, role: str, depot: str = "", *, login: str = "") -> None:
        """Read the pages in another role from now on; with a depot, held to that depot."""
        if self.app.state.shell.settings.practice:
            self.client.cookies.set(ROLE_COOKIE, role)
            return
        self.client.cookies.set(COOKIE, self.session(role, depot, login=login))

    def session(self, role: str, depot: str = "", *, login: str = "") -> str:
        """Sign somebody in behind the pages' back, for longer than any test lasts; gives the cookie."""
        cookie, now = new_cookie(), self.app.state.shell.clock.now()
        person = Person(
            login=login or role,
            role=role,
            password="",
            created_at=now,
            depot=depot,
            depot_only=bool(depot),
        )
        sign_in = SignIn(
            digest=digest_of(cookie),
            login=person.login,
            created_at=now,
            expires_at=now + timedelta(days=9_000),
            seen_at=now + timedelta(days=9_000),
        )
        with self.store.begin() as work:
            work.put_person(person)
            work.put_sign_in(sign_in)
            work.commit()
        return cookie

    def stranger(self) -> TestClient:
        """Give a browser in which nobody is signed in."""
        return TestClient(self.app, raise_server_exceptions=False)

    def form_token(self) -> str:
        """Give what forms of the present reader's pages send back."""
        found = re.search(r'name="token" value="([^"]+)"', self.client.get("/help").text)
        assert found is not None
        return found[1]

    def post(self, address: str, fields: Mapping[str, Any], **more: Any) -> Any:
        """Send a form as a page of this service does; the answer is not followed."""
        data = {"token": self.form_token(), **fields}
        return self.client.post(address, data=data, follow_redirects=False, **more)

    def send(self, body: bytes, headers: dict[str, str], kind: str = "application/json", **more: str) -> Any:
        """Post snapshots."""
        return self.client.post(
            "/api/v1/snapshots", content=body, headers=headers | {"content-type": kind} | more
        )


def open_service(url: str, folder: Path, *, now: datetime = NOW, **settings: Any) -> Service:
    """Build the application over a store that is there; an administrator is signed in."""
    made = Settings(home=folder, database_url=url, **settings)
    app = build(made, Clock(lambda: now))
    opened = Service(
        app=app, client=TestClient(app, raise_server_exceptions=False), store=app.state.shell.store
    )
    if not made.practice:
        opened.become("admin")
    return opened


@pytest.fixture
def service(main_url: str, tmp_path: Path) -> Iterator[Service]:
    """Give the service over an empty SQLite store."""
    opened = open_service(main_url, tmp_path)
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


@pytest.fixture(scope="session")
def fleet_template(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a SQLite file with a small fleet, readings and a ticket, that others are copied from."""
    folder = tmp_path_factory.mktemp("fleet")
    path = folder / "store.db"
    shutil.copy(sqlite_template, path)
    service = open_service(f"sqlite:///{path}", folder)
    _fill(service)
    service.store.close()
    return path


def _fill(service: Service) -> None:
    fill_fleet(service.store)
    items = rising_trims(59)
    answer = service.send(ndjson(items), service.token("send"), "application/x-ndjson")
    assert answer.json()["accepted"] == len(items), answer.text


@pytest.fixture
def fleet(request: pytest.FixtureRequest, main_database: str, tmp_path: Path) -> Iterator[Service]:
    """Give the service over a small fleet with readings and a ticket."""
    if main_database == "sqlite":  # a copy of a file is quicker than filling
        path = tmp_path / "fleet.db"
        shutil.copy(request.getfixturevalue("fleet_template"), path)
        opened = open_service(f"sqlite:///{path}", tmp_path)
    else:
        opened = open_service(request.getfixturevalue("main_url"), tmp_path)
        _fill(opened)
    yield opened
    opened.store.close()


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
