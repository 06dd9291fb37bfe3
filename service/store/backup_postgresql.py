"""Backups of PostgreSQL by its own programs, `pg_dump` and `pg_restore`, and the swap of schemas."""

import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from psycopg.conninfo import make_conninfo
from sqlalchemy import URL, Connection, Engine, func, select, text

from service.store.engine import open_engine
from service.store.errors import BackupUnusable

NAME: Final = "forelamp.dump"
"""Name of the dump in a backup; PostgreSQL's custom format."""

_ASIDE: Final = "before_*"
"""Schemas that earlier restores have kept aside; a backup leaves them out."""


def dump(url: URL, path: Path, snapshot: str) -> None:
    """Write a database to a file, as a snapshot exported by somebody else's open transaction shows it."""
    with _connection(url) as address:
        _run(
            "pg_dump",
            "--format=custom",
            f"--snapshot={snapshot}",
            f"--exclude-schema={_ASIDE}",
            f"--file={path}",
            f"--dbname={address}",
            what=path,
        )


def others(connection: Connection) -> int:
    """Count the other connections to the same database."""
    query = text(
        "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() "
        "AND pid <> pg_backend_pid() AND backend_type = 'client backend'"
    )
    return int(connection.scalar(query) or 0)


def swap(url: URL, source: Path, name: str, check: Callable[[], None]) -> str:
    """Put a dump in the place of the tables that are there.

    Parameters
    ----------
    url : URL
        The database; its owner's.
    source : Path
        The dump.
    name : str
        What the schema of the old tables is called from now on.
    check : callable
        Called when the new tables stand; raises where they are not good.

    Returns
    -------
    str
        Where the old tables are.

    Raises
    ------
    BackupUnusable
        The dump could not be read; the old tables are back in their place.
    """
    engine = open_engine(url)
    schema = _schema(engine)
    _do(engine, f'ALTER SCHEMA "{schema}" RENAME TO "{name}"', f'CREATE SCHEMA "{schema}"')
    try:
        with _connection(url) as address:
            _run(
                "pg_restore",
                "--exit-on-error",
                "--single-transaction",
                "--no-owner",
                "--no-privileges",
                f"--dbname={address}",
                str(source),
                what=source,
            )
        check()
    except BaseException:
        _do(engine, f'DROP SCHEMA "{schema}" CASCADE', f'ALTER SCHEMA "{name}" RENAME TO "{schema}"')
        raise
    finally:
        engine.dispose()
    return f"schema {name}"


def _schema(engine: Engine) -> str:
    with engine.connect() as connection:
        return str(connection.scalar(select(func.current_schema())))


def _do(engine: Engine, *statements: str) -> None:
    with engine.begin() as connection:
        for statement in statements:
            connection.exec_driver_sql(statement)


def _run(program: str, *arguments: str, what: Path) -> None:
    done = subprocess.run(  # noqa: S603 (a program of the machine, arguments of our own)
        [_find(program), *arguments], capture_output=True, text=True, check=False
    )
    if done.returncode:
        raise BackupUnusable(str(what), f"{program} says: {done.stderr.strip() or done.returncode}")


def _find(program: str) -> str:
    """Find the newest of PostgreSQL's programs: an older one refuses to read a newer server."""
    found = sorted(
        Path("/usr/lib/postgresql").glob(f"*/bin/{program}"), key=lambda path: float(path.parts[-3])
    )
    place = str(found[-1]) if found else shutil.which(program)
    if place is None:
        raise BackupUnusable(program, "this program of PostgreSQL is not installed here")
    return place


@contextmanager
def _connection(url: URL) -> Iterator[str]:
    """Give the address in the words of PostgreSQL's programs; a password goes by a file, not an argument."""
    known = {"host": url.host, "port": url.port, "user": url.username, "dbname": url.database}
    parts = {name: str(value) for name, value in (known | dict(url.query)).items() if value is not None}
    if url.password is None:
        yield make_conninfo("", **parts)
        return
    secret = str(url.password).replace("\\", "\\\\").replace(":", "\\:")
    with tempfile.NamedTemporaryFile("w", prefix="forelamp-") as passwords:  # made for its owner only
        passwords.write(f"*:*:*:*:{secret}\n")
        passwords.flush()
        yield make_conninfo("", **(parts | {"passfile": passwords.name}))
