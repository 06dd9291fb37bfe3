"""CSV by RFC 4180: UTF-8, CRLF, a header, point decimals, times with offset.

Text that a spreadsheet would run as a formula gets a leading single quote (CWE-1236). Numbers never do: a
fuel trim of -4.7 is a number.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Final

from dashboards.exports.columns import Dataset
from dashboards.exports.table import Columns, check_all

MEDIA_TYPE: Final = "text/csv; charset=utf-8; header=present"
BYTE_ORDER_MARK: Final = "\ufeff".encode()
GUARDED: Final = ("=", "+", "-", "@", "\t", "\r", "\0")
"""First characters of text that a spreadsheet may run. OWASP ASVS 5.0 V1.2.10; CR added by us."""

ROWS_AT_ONCE: Final = 5_000
"""Rows joined into one piece of bytes; chosen by us: about a megabyte."""


def write(dataset: Dataset, chunks: Iterable[Columns], *, mark: bool = False) -> Iterator[bytes]:
    """Write a file in pieces.

    Parameters
    ----------
    dataset : Dataset
        What it holds.
    chunks : iterable of columns
        Its rows, in as many pieces as suits the caller; none gives the header alone.
    mark : bool
        Whether to begin with a byte-order mark.

    Yields
    ------
    bytes
        The header first, then rows.
    """
    if mark:
        yield BYTE_ORDER_MARK
    yield _line(_quoted(name) for name in dataset.names).encode()
    writers = [_WRITE[column.type] for column in dataset.columns]
    for chunk in check_all(dataset, chunks):
        cells = [
            ["" if value is None else write_one(value) for value in values]
            for write_one, values in zip(writers, chunk.values, strict=True)
        ]
        rows = list(zip(*cells, strict=True))
        for first in range(0, len(rows), ROWS_AT_ONCE):
            yield "".join(_line(row) for row in rows[first : first + ROWS_AT_ONCE]).encode()


def guarded(text: str) -> str:
    """Put a single quote before text that a spreadsheet may run.

    Examples
    --------
    >>> guarded("=1+1"), guarded("V-0017")
    ("'=1+1", 'V-0017')
    """
    return f"'{text}" if text.startswith(GUARDED) else text


def _line(cells: Iterable[str]) -> str:
    return ",".join(cells) + "\r\n"


def _quoted(text: str) -> str:
    if any(sign in text for sign in ',"\r\n'):
        return '"' + text.replace('"', '""') + '"'
    return text


def _text(value: str) -> str:
    return _quoted(guarded(value))


def _boolean(value: bool) -> str:
    return "true" if value else "false"


def _day(value: date) -> str:
    return value.isoformat()


def _moment(value: datetime) -> str:
    return value.isoformat()


def _money(value: Decimal) -> str:
    return f"{value:.2f}"


_WRITE: Final[Mapping[str, Callable[[Any], str]]] = {
    "id": _text,
    "text": _text,
    "number": repr,
    "integer": str,
    "boolean": _boolean,
    "date": _day,
    "time": _moment,
    "money": _money,
}
