"""From the tables of every earlier version to those of this one, with a row in each: nothing is lost."""

from pathlib import Path
from typing import Any, Final

import pytest
from alembic.config import Config
from alembic.runtime.environment import EnvironmentContext
from alembic.script import ScriptDirectory
from sqlalchemy import Column, Connection, LargeBinary, MetaData, create_engine, select
from sqlalchemy.types import Float, Integer, String

from service.store import migrations, open_store
from service.store.engine import read_url

SCRIPTS: Final = ScriptDirectory(str(Path(migrations.__file__).parent))
EARLIER: Final = sorted(one.revision for one in SCRIPTS.walk_revisions())[:-1]
"""Every revision but the newest, oldest first."""

WORDS: Final = {"vehicle": "V-1", "zone": "UTC", "time_zone": "UTC"}
"""Texts that must be what they say; any other column takes any text."""

REMADE: Final = frozenset({"alembic_version", "daily", "touched", "sign_in"})
"""Tables that are made anew: summaries in a layout that this version does not know are folded again, and
sign-ins of the time before there were accounts end."""


def _bring_to(connection: Connection, revision: str) -> None:
    configuration = Config()
    configuration.attributes["connection"] = connection

    def steps(found: Any, _context: Any) -> Any:
        return SCRIPTS._upgrade_revs(revision, found)

    with EnvironmentContext(configuration, SCRIPTS, fn=steps, destination_rev=revision):
        SCRIPTS.run_env()


def _value(column: Column[Any]) -> Any:
    if isinstance(column.type, LargeBinary):
        return b"0123456789abcdef"
    if isinstance(column.type, Integer):
        return 1
    if isinstance(column.type, Float):
        return 1.5
    assert isinstance(column.type, String), column.type
    return WORDS.get(column.name, "x")


@pytest.fixture(params=["sqlite", "postgresql"])
def address(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    """Give the address of a database without tables, once of each kind."""
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path / 'store.db'}"
    return str(request.getfixturevalue("bare_postgresql_url"))


@pytest.mark.parametrize("revision", EARLIER)
def test_no_row_is_lost_on_the_way(address: str, revision: str) -> None:
    """A store of an earlier version, a row in each table, opens with all of them and their values."""
    engine = create_engine(read_url(address))
    tables = MetaData()
    with engine.begin() as connection:
        _bring_to(connection, revision)
        tables.reflect(connection)
        for table in tables.sorted_tables:
            if table.name != "alembic_version":
                connection.execute(table.insert().values({one.name: _value(one) for one in table.columns}))
    engine.dispose()

    store = open_store(address)
    assert store.migrate() is True

    assert store.health().ready
    with store.begin(readonly=True) as work:
        assert [one.vehicle for one in work.vehicles()] == ["V-1"]
    store.close()
    now = MetaData()
    with engine.connect() as connection:
        now.reflect(connection)
        for table in tables.sorted_tables:
            if table.name in REMADE:
                continue
            rows = connection.execute(select(now.tables[table.name])).mappings().all()
            wanted = {one.name: _value(one) for one in table.columns if one.name in now.tables[table.name].c}
            assert any(wanted.items() <= dict(row).items() for row in rows), table.name
    engine.dispose()
