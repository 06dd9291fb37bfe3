"""Reading many rows as numpy columns, as fast as each database allows."""

from collections.abc import Iterator, Sequence
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Connection

from ingest.parameters import CODES
from models.panel import Readings
from service.store.binary import HEADER, TRAILER, read_fixed, row_width
from service.store.tables import PARAMETER_COLUMNS, SWITCH_COLUMNS

_WHOLE: Final = ("vehicle_no", "taken_us", "day", "state", *SWITCH_COLUMNS)
_PIECE_BYTES: Final = 32 << 20
"""Bytes of an answer unpacked at a time; chosen by us."""

_KINDS: Final = (
    ("vehicle_no", ">i4"),
    ("taken_us", ">i8"),
    ("day", ">i4"),
    ("state", ">i2"),
    *((name, ">i2") for name in SWITCH_COLUMNS),
    *((name, ">f8") for name in PARAMETER_COLUMNS),
)


def read_readings(
    connection: Connection, numbers: list[int], from_us: int, to_us: int, days: tuple[int, int]
) -> Readings:
    """Read the snapshots of some vehicles within a span of time and of local days.

    Parameters
    ----------
    connection : Connection
        Inside its transaction.
    numbers : list of int
        Inner numbers of the vehicles.
    from_us, to_us : int
        Span that the index is searched by; the second is left out [microseconds since 1970-01-01T00:00Z].
    days : tuple of (int, int)
        First and last local day, both included [days since 1970-01-01].

    Returns
    -------
    Readings
        Sorted by inner number, then time; `vehicle` holds inner numbers.
    """
    where = (
        f" FROM snapshot WHERE vehicle_no IN ({', '.join(str(int(number)) for number in numbers)})"
        f" AND taken_us >= {int(from_us)} AND taken_us < {int(to_us)}"
        f" AND day BETWEEN {int(days[0])} AND {int(days[1])} ORDER BY vehicle_no, taken_us, identity"
    )
    if not connection.in_transaction():  # the driver by itself would see another state each time
        connection.begin()
    if connection.dialect.name == "postgresql":
        return _from_postgresql(connection, where)
    return _from_sqlite(connection, where)


def _from_postgresql(connection: Connection, where: str) -> Readings:
    # A NULL has no fixed width in the binary format; NaN has, and is what the models expect.
    doubles = ", ".join(f"coalesce({name}, 'NaN')" for name in PARAMETER_COLUMNS)
    body = copy_out(connection, f"SELECT {', '.join(_WHOLE)}, {doubles}{where}")
    table = read_fixed(body, _KINDS)
    values = np.empty((len(table), len(CODES)), dtype=np.float64)
    for place, name in enumerate(PARAMETER_COLUMNS):
        values[:, place] = table[name]
    return Readings(
        vehicle=table["vehicle_no"].astype(np.int32),
        taken_us=table["taken_us"].astype(np.int64),
        day=table["day"].astype(np.int32),
        state=table["state"].astype(np.int8),
        values=values,
        switches=np.column_stack([table[name] for name in SWITCH_COLUMNS]).astype(np.int8),
    )


def copy_out(connection: Connection, query: str) -> bytes:
    """Give the answer to a query in PostgreSQL's binary COPY format."""
    cursor: Any = connection.connection.cursor()
    try:
        with cursor.copy(f"COPY ({query}) TO STDOUT (FORMAT BINARY)") as copy:
            return b"".join(bytes(piece) for piece in copy)
    finally:
        cursor.close()


def copy_out_pieces(
    connection: Connection, query: str, kinds: Sequence[tuple[str, str]]
) -> Iterator[NDArray[np.void]]:
    """Give the answer to a query whose fields are all fixed and not NULL, piece by piece as it comes.

    Parameters
    ----------
    connection : Connection
        Inside its transaction.
    query : str
        What is read.
    kinds : sequence of (name, type)
        As in `read_fixed`.
    """
    width = row_width(kinds)
    cursor: Any = connection.connection.cursor()
    try:
        with cursor.copy(f"COPY ({query}) TO STDOUT (FORMAT BINARY)") as copy:
            held = bytearray()
            begun = False
            for piece in copy:
                held += piece
                if not begun and len(held) >= len(HEADER):
                    del held[: len(HEADER)]
                    begun = True
                if begun and len(held) > _PIECE_BYTES:
                    whole = (len(held) - len(TRAILER)) // width * width
                    yield read_fixed(HEADER + bytes(held[:whole]) + TRAILER, kinds)
                    del held[:whole]
            yield read_fixed(HEADER + bytes(held), kinds)
    finally:
        cursor.close()


def _from_sqlite(connection: Connection, where: str) -> Readings:
    cursor = connection.connection.cursor()
    try:
        cursor.execute(f"SELECT {', '.join((*_WHOLE, *PARAMETER_COLUMNS))}{where}")
        rows = cursor.fetchall()
    finally:
        cursor.close()
    wide = len(_WHOLE)
    whole = np.array([row[:wide] for row in rows], dtype=np.int64).reshape(len(rows), wide)
    # The driver gives None for NULL, which numpy reads as NaN.
    values = np.array([row[wide:] for row in rows], dtype=np.float64).reshape(len(rows), len(CODES))
    return Readings(
        vehicle=whole[:, 0].astype(np.int32),
        taken_us=whole[:, 1].copy(),
        day=whole[:, 2].astype(np.int32),
        state=whole[:, 3].astype(np.int8),
        values=values,
        switches=whole[:, 4:].astype(np.int8),
    )


def joined(bodies: list[Any], width: int) -> NDArray[np.float64]:
    """Put packed rows of little-endian float64 under each other; shape (n, width)."""
    flat = np.frombuffer(b"".join(bodies), dtype="<f8")
    return flat.reshape(len(bodies), width).astype(np.float64, copy=False)
