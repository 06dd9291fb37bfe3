"""PostgreSQL's binary COPY format, written and read in columns with numpy.

References
----------
PostgreSQL documentation, COPY, "Binary Format": a header of 19 bytes, then for each row an int16 count of
fields and for each field an int32 length (-1 for NULL) and its bytes in network order; an int16 -1 ends it.
"""

import struct
from collections.abc import Sequence
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from service.store.incoming import Incoming

HEADER: Final = b"PGCOPY\n\xff\r\n\x00" + bytes(8)
TRAILER: Final = b"\xff\xff"
_NULL: Final = struct.pack(">i", -1)
_TEXTS: Final = 4


def write_snapshots(rows: Incoming) -> bytes:
    """Write rows for `COPY snapshot FROM STDIN (FORMAT BINARY)`.

    Parameters
    ----------
    rows : Incoming
        NaN becomes NULL.

    Returns
    -------
    bytes
        Header, rows and trailer.
    """
    kind = _row_kind(rows.small.shape[1], rows.doubles.shape[1])
    table = np.zeros(len(rows), dtype=kind)
    table["fields"] = 6 + rows.small.shape[1] + rows.doubles.shape[1] + _TEXTS
    for name in kind.names or ():
        if name.startswith("length_"):
            table[name] = kind[name.removeprefix("length_")].itemsize
    table["identity"] = np.frombuffer(b"".join(rows.identity), dtype="V16")
    table["content"], table["vehicle_no"] = rows.content, rows.vehicle_no
    table["taken_us"], table["received_us"], table["day"] = rows.taken_us, rows.received_us, rows.day
    for place in range(rows.small.shape[1]):
        table[f"small{place}"] = rows.small[:, place]
    fields = dict(kind.fields or {})
    keep = np.ones((len(rows), kind.itemsize), dtype=bool)
    for place in range(rows.doubles.shape[1]):
        name, values = f"double{place}", rows.doubles[:, place]
        missing = np.isnan(values)
        table[name] = values
        table[f"length_{name}"][missing] = -1
        start = fields[name][1]
        keep[:, start : start + 8] = ~missing[:, None]
    flat = table.view(np.uint8).reshape(len(rows), kind.itemsize)[keep].tobytes()
    return _with_texts(rows, flat, keep.sum(axis=1))


def _row_kind(small: int, doubles: int) -> np.dtype[np.void]:
    """Describe the fixed part of a row: for each field its length and its bytes."""
    parts = [("fields", ">i2")]
    for name, kind in (
        ("identity", "V16"),
        ("content", ">i8"),
        ("vehicle_no", ">i4"),
        ("taken_us", ">i8"),
        ("received_us", ">i8"),
        ("day", ">i4"),
        *((f"small{place}", ">i2") for place in range(small)),
        *((f"double{place}", ">f8") for place in range(doubles)),
    ):
        parts += [(f"length_{name}", ">i4"), (name, kind)]
    return np.dtype(parts)


def _with_texts(rows: Incoming, flat: bytes, widths: NDArray[np.int64]) -> bytes:
    """Put each row's texts behind its fixed part."""
    ends = np.cumsum(widths).tolist()
    packed: dict[str | None, bytes] = {None: _NULL}
    pieces, start = [HEADER], 0
    for end, texts in zip(
        ends, zip(rows.device, rows.given_id, rows.state_note, rows.extra, strict=True), strict=True
    ):
        pieces.append(flat[start:end])
        start = end
        for text in texts:
            piece = packed.get(text)
            if piece is None:
                encoded = str(text).encode()
                piece = struct.pack(">i", len(encoded)) + encoded
                packed[text] = piece
            pieces.append(piece)
    pieces.append(TRAILER)
    return b"".join(pieces)


def read_fixed(body: bytes, kinds: Sequence[tuple[str, str]]) -> NDArray[np.void]:
    """Read the answer of `COPY (...) TO STDOUT (FORMAT BINARY)` whose fields are all fixed and not NULL.

    Parameters
    ----------
    body : bytes
        Everything the server sent.
    kinds : sequence of (name, type)
        Names and big-endian numpy types of the fields, such as `">i4"`.

    Returns
    -------
    structured array of shape (n,)
        One field for each name.

    Raises
    ------
    ValueError
        The rows are not as described.
    """
    parts = [("fields", ">i2")]
    for name, kind in kinds:
        parts += [(f"length_{name}", ">i4"), (name, kind)]
    row = np.dtype(parts)
    inner = len(body) - len(HEADER) - len(TRAILER)
    if inner < 0 or inner % row.itemsize:
        raise ValueError(f"{inner} bytes are not whole rows of {row.itemsize} bytes.")
    table: NDArray[np.void] = np.frombuffer(body, dtype=row, count=inner // row.itemsize, offset=len(HEADER))
    return table


def row_width(kinds: Sequence[tuple[str, str]]) -> int:
    """Give the bytes of one row whose fields are all fixed and not NULL."""
    return 2 + sum(4 + np.dtype(kind).itemsize for _, kind in kinds)


def write_fixed(columns: Sequence[NDArray[Any]], kinds: Sequence[tuple[str, str]]) -> bytes:
    """Write rows whose fields are all fixed and not NULL, for `COPY ... FROM STDIN (FORMAT BINARY)`.

    Parameters
    ----------
    columns : sequence of arrays
        One for each field, of shape (n,), or (n, k) for a field of bytes.
    kinds : sequence of (name, type)
        As in `read_fixed`.

    Returns
    -------
    bytes
        Header, rows and trailer.
    """
    parts = [("fields", ">i2")]
    for name, kind in kinds:
        parts += [(f"length_{name}", ">i4"), (name, kind)]
    table = np.zeros(len(columns[0]), dtype=np.dtype(parts))
    table["fields"] = len(kinds)
    for column, (name, kind) in zip(columns, kinds, strict=True):
        table[f"length_{name}"] = np.dtype(kind).itemsize
        table[name] = column.view(kind)[:, 0] if column.ndim > 1 else column
    return HEADER + table.tobytes() + TRAILER
