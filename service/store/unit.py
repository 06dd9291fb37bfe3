"""What every topic of a unit of work stands on: one connection and a few look-ups."""

import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any, Final, NamedTuple, TypeVar

import numpy as np
import psycopg
from numpy.typing import NDArray
from sqlalchemy import ColumnElement, Connection, Insert, Table, select, true
from sqlalchemy.dialects import postgresql, sqlite

from service.store.away import is_away
from service.store.errors import StoreUnavailable
from service.store.tables import VEHICLE

T = TypeVar("T")

PARAMETERS_PER_STATEMENT: Final = 5_000
"""Values in one IN list; chosen by us, well under SQLite's 32,766 and PostgreSQL's 65,535 parameters."""


class Place(NamedTuple):
    """Where the store keeps a vehicle: inner number, time zone, first day whose readings are kept."""

    number: int
    zone: str
    kept_from: int | None


class Unit:
    """One connection inside one transaction.

    Parameters
    ----------
    connection : Connection
        Already open.
    fleet_zone : str
        Time zone of vehicles that name none.
    depot : str
        Only depot whose vehicles, and what belongs to them, are in sight; empty for all.
    """

    def __init__(self, connection: Connection, *, fleet_zone: str, depot: str = "") -> None:
        self._connection = connection
        self._fleet_zone = fleet_zone
        self._has_staged = False
        self._has_told = False
        self.depot = depot

    def _in_sight(self) -> ColumnElement[bool]:
        """Give the condition on rows of `vehicle` that this unit of work may see."""
        return VEHICLE.c.depot == self.depot if self.depot else true()

    def _names_in_sight(self, column: ColumnElement[str]) -> ColumnElement[bool]:
        """Give the condition on a column that holds vehicles' numbers."""
        return column.in_(select(VEHICLE.c.vehicle).where(self._in_sight())) if self.depot else true()

    @property
    def _is_postgresql(self) -> bool:
        return self._connection.dialect.name == "postgresql"

    def _insert(self, table: Table) -> postgresql.Insert | sqlite.Insert:
        """Begin an INSERT that may say what happens on conflict; both databases share the words."""
        return postgresql.insert(table) if self._is_postgresql else sqlite.insert(table)

    def _insert_rows(self, statement: Insert, rows: Sequence[dict[str, Any]]) -> None:
        """Insert many rows; none is no statement."""
        if rows:
            self._connection.execute(statement, rows)

    def _vehicle_numbers(self, names: Iterable[str]) -> dict[str, int]:
        """Find the inner numbers of those vehicles that are registered."""
        return {name: place.number for name, place in self._places(names).items()}

    def _places(self, names: Iterable[str]) -> dict[str, "Place"]:
        """Find inner number, time zone and first day kept of those vehicles that are registered."""
        found: dict[str, Place] = {}
        for some in chunks(sorted({clean(name) for name in names}), PARAMETERS_PER_STATEMENT):
            query = select(
                VEHICLE.c.vehicle, VEHICLE.c.vehicle_no, VEHICLE.c.zone, VEHICLE.c.kept_from_day
            ).where(VEHICLE.c.vehicle.in_(some), self._in_sight())
            found.update((name, Place(*rest)) for name, *rest in self._connection.execute(query))
        return found

    def _mark(self, pairs: NDArray[np.int64]) -> None:
        """Mark pairs of inner vehicle number and local day as touched; shape (n, 2)."""
        with self._cursor() as cursor:
            if self._is_postgresql:
                cursor.execute(
                    "INSERT INTO touched (vehicle_no, day) SELECT * FROM unnest(%s::int[], %s::int[])",
                    (pairs[:, 0].tolist(), pairs[:, 1].tolist()),
                )
            else:
                cursor.executemany("INSERT INTO touched (vehicle_no, day) VALUES (?, ?)", pairs.tolist())

    @contextmanager
    def _cursor(self) -> Iterator[Any]:
        """Give the driver's own cursor, inside the transaction, for what must be fast."""
        if not self._connection.in_transaction():  # the driver by itself would commit each statement
            self._connection.begin()
        cursor = self._connection.connection.cursor()
        try:
            yield cursor
        except (sqlite3.Error, psycopg.Error) as err:
            if is_away(err):
                raise StoreUnavailable(str(err)) from err
            raise
        finally:
            cursor.close()


def chunks(items: Sequence[T], size: int) -> Iterator[Sequence[T]]:
    """Cut a sequence into pieces of at most `size`."""
    for start in range(0, len(items), size):
        yield items[start : start + size]


def clean(text: str) -> str:
    """Make text storable in both databases: PostgreSQL knows no NUL, neither knows half characters."""
    if text.isascii() and "\0" not in text:
        return text
    return text.encode("utf-8", "replace").decode().replace("\0", "\N{REPLACEMENT CHARACTER}")


def in_one_line(text: str) -> str:
    r"""Make text storable that is to stay one line: control characters, line ends among them, become spaces.

    Examples
    --------
    >>> in_one_line("V-1\r\nadmin\tsigned in")
    'V-1  admin signed in'
    """
    return "".join(sign if sign.isprintable() else " " for sign in clean(text))
