"""Fixtures that several folders of tests share: an empty store on each database.

PostgreSQL comes from FORELAMP_TEST_POSTGRES_URL (a server on which databases may be made and dropped), else
from a cluster of our own if its programs are installed. Without either those tests are skipped, or fail when
FORELAMP_TEST_REQUIRE_POSTGRES is 1.
"""

import os
import shutil
import subprocess
import tempfile
import uuid
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest
from psycopg import sql

from service.store import Store, open_store

_URL = os.environ.get("FORELAMP_TEST_POSTGRES_URL", "")  # noqa: TID251 (tests have no settings)
_MAIN = os.environ.get("FORELAMP_TEST_MAIN", "sqlite")  # noqa: TID251 (as above)
_REQUIRED = os.environ.get("FORELAMP_TEST_REQUIRE_POSTGRES", "") == "1"  # noqa: TID251 (as above)
_OPTIONS = "-c listen_addresses='' -c fsync=off -c full_page_writes=off -c max_connections=60"


def find_programs() -> Path | None:
    """Find the newest PostgreSQL's folder of programs."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: float(path.parts[-3]))
    if found:
        return found[-1].parent
    on_path = shutil.which("initdb")
    return Path(on_path).parent if on_path else None


def as_owner(*command: str) -> list[str]:
    """Hand a command to the account that the server's package made: it refuses to run as root."""
    if os.getuid() != 0:
        return list(command)
    return ["setpriv", "--reuid=postgres", "--regid=postgres", "--clear-groups", *command]


@pytest.fixture(scope="session")
def postgresql_server() -> Iterator[str]:
    """Give the address of a PostgreSQL server, ending where a database's name goes."""
    if _URL:
        yield _URL
        return
    programs = find_programs()
    if programs is None:
        reason = "no FORELAMP_TEST_POSTGRES_URL is set and PostgreSQL's programs are not installed"
        if _REQUIRED:
            pytest.fail(reason)
        pytest.skip(reason)
    folder = Path(tempfile.mkdtemp(prefix="fl-pg-"))  # short: the path of a socket has little room
    if os.getuid() == 0:
        shutil.chown(folder, "postgres", "postgres")
    data, control = str(folder / "data"), str(programs / "pg_ctl")
    try:
        subprocess.run(
            as_owner(str(programs / "initdb"), "-D", data, "-U", "postgres", "-A", "trust", "-N"),
            check=True,
            stdout=subprocess.DEVNULL,
            cwd=folder,
        )
        subprocess.run(
            as_owner(
                control, "start", "-w", "-D", data, "-l", f"{folder}/log", "-o", f"{_OPTIONS} -k {folder}"
            ),
            check=True,
            stdout=subprocess.DEVNULL,
            cwd=folder,
        )
        yield f"postgresql://postgres@/postgres?host={folder}"
    finally:
        subprocess.run(
            as_owner(control, "stop", "-m", "immediate", "-D", data),
            check=False,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            cwd=folder,
        )
        shutil.rmtree(folder, ignore_errors=True)


def _with_name(server: str, name: str) -> str:
    from sqlalchemy import make_url

    return make_url(server).set(database=name).render_as_string(hide_password=False)


def _run_on(server: str, statement: str, *names: str) -> None:
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(sql.SQL(statement).format(*(sql.Identifier(name) for name in names)))


@pytest.fixture(scope="session")
def postgresql_template(postgresql_server: str) -> Iterator[str]:
    """Give the name of a migrated database that others are copied from."""
    name = f"forelamp_template_{uuid.uuid4().hex}"
    _run_on(postgresql_server, "CREATE DATABASE {}", name)
    store = open_store(_with_name(postgresql_server, name))
    store.migrate()
    store.close()
    yield name
    _run_on(postgresql_server, "DROP DATABASE {} WITH (FORCE)", name)


@pytest.fixture
def postgresql_url(postgresql_server: str, postgresql_template: str) -> Iterator[str]:
    """Give the address of a migrated, empty PostgreSQL database of this test's own."""
    name = f"forelamp_{uuid.uuid4().hex}"
    _run_on(postgresql_server, "CREATE DATABASE {} TEMPLATE {} STRATEGY FILE_COPY", name, postgresql_template)
    yield _with_name(postgresql_server, name)
    _run_on(postgresql_server, "DROP DATABASE {} WITH (FORCE)", name)


@pytest.fixture
def bare_postgresql_url(postgresql_server: str) -> Iterator[str]:
    """Give the address of a PostgreSQL database of this test's own without any table."""
    name = f"forelamp_{uuid.uuid4().hex}"
    _run_on(postgresql_server, "CREATE DATABASE {}", name)
    yield _with_name(postgresql_server, name)
    _run_on(postgresql_server, "DROP DATABASE {} WITH (FORCE)", name)


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a migrated SQLite file that others are copied from."""
    path = tmp_path_factory.mktemp("template") / "store.db"
    store = open_store(f"sqlite:///{path}")
    store.migrate()
    store.close()
    return path


@pytest.fixture
def sqlite_url(sqlite_template: Path, tmp_path: Path) -> str:
    """Give the address of a migrated, empty SQLite store of this test's own."""
    path = tmp_path / "store.db"
    shutil.copy(sqlite_template, path)
    return f"sqlite:///{path}"


@pytest.fixture(scope="session")
def main_database() -> str:
    """Name the database of the tests that need one but not both: `sqlite` or `postgresql`."""
    return _MAIN


@pytest.fixture
def main_url(request: pytest.FixtureRequest, main_database: str) -> str:
    """Give the address of a migrated, empty store in the main database."""
    return str(request.getfixturevalue(f"{main_database}_url"))


@pytest.fixture(params=["sqlite", "postgresql"])
def store_url(request: pytest.FixtureRequest) -> str:
    """Give the address of a migrated, empty store, once on each database."""
    return str(request.getfixturevalue(f"{request.param}_url"))


@pytest.fixture
def store(store_url: str) -> Iterator[Store]:
    """Give a migrated, empty store, once on each database."""
    opened = open_store(store_url)
    yield opened
    opened.close()
