"""Bringing tables to the schema of this version."""

from functools import lru_cache
from pathlib import Path
from typing import Final

from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, Engine, func, select

from service.store.engine import wait_as_long_as_it_takes
from service.store.errors import SchemaMismatch

_MIGRATIONS: Final = Path(__file__).parent / "migrations"
_LOCK: Final = 0x666C6D67
"""Number of the advisory lock that lets one process migrate at a time; any number of our own will do."""


@lru_cache(maxsize=1)
def _script() -> ScriptDirectory:
    configuration = Config()
    configuration.set_main_option("script_location", str(_MIGRATIONS).replace("%", "%%"))
    return ScriptDirectory.from_config(configuration)


def head_revision() -> str:
    """Give the revision that this version needs."""
    return str(_script().get_current_head())


def known_revisions() -> frozenset[str]:
    """Give every revision that this version can bring up to date."""
    return frozenset(script.revision for script in _script().walk_revisions())


def kept_revision(connection: Connection) -> str:
    """Give the revision of the tables; empty where there are none."""
    return MigrationContext.configure(connection).get_current_revision() or ""


def upgrade(engine: Engine) -> bool:
    """Run the migrations that are missing, in one transaction under a lock.

    Returns
    -------
    bool
        False when none was missing.

    Raises
    ------
    SchemaMismatch
        The tables are at a revision that this version does not know.
    """
    with engine.begin() as connection:
        # SQLite's transaction began with the write lock; PostgreSQL needs one of our own.
        if connection.dialect.name == "postgresql":
            wait_as_long_as_it_takes(connection)
            connection.execute(select(func.pg_advisory_xact_lock(_LOCK)))
        found = kept_revision(connection)
        if found == head_revision():
            return False
        if found and found not in known_revisions():
            raise SchemaMismatch(found, head_revision())
        _run(connection)
    return True


def _run(connection: Connection) -> None:
    from alembic.runtime.environment import EnvironmentContext

    configuration = Config()
    configuration.attributes["connection"] = connection

    def steps(revision: object, _context: object) -> object:
        return _script()._upgrade_revs("head", revision)  # type: ignore[arg-type]

    with EnvironmentContext(configuration, _script(), fn=steps, destination_rev="head"):
        _script().run_env()
