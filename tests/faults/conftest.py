"""Databases by the dozen, for tests that ruin or compare many."""

import shutil
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path

import psycopg
import pytest
from sqlalchemy import make_url

Copied = Callable[[str, int], list[str]]
"""Makes so many copies of a database; of no database, empty ones."""


@pytest.fixture
def copied(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Copied]:
    """Give a maker of databases that are copies of another one, or without any table."""
    made: list[tuple[str, str]] = []

    def copy(url: str, count: int) -> list[str]:
        if url.startswith("sqlite"):
            return [_copy_file(url, tmp_path / f"copy-{place}.db") for place in range(count)]
        server = str(request.getfixturevalue("postgresql_server"))
        names = [f"copy_{uuid.uuid4().hex}" for _ in range(count)]
        template = make_url(url).database or "template0"
        made.extend((server, name) for name in names)
        with psycopg.connect(server, autocommit=True) as connection:
            for name in names:
                connection.execute(f'CREATE DATABASE "{name}" TEMPLATE "{template}"'.encode())
        return [make_url(server).set(database=name).render_as_string(False) for name in names]

    yield copy
    for server, name in made:
        with psycopg.connect(server, autocommit=True) as connection:
            connection.execute(f'DROP DATABASE "{name}" WITH (FORCE)'.encode())


def _copy_file(url: str, path: Path) -> str:
    whole = Path(url.removeprefix("sqlite:///"))
    if whole.is_file():
        shutil.copy(whole, path)
    return f"sqlite:///{path}"
