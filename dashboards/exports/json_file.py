"""JSON: an array with one object for each row, keys in the dataset's order, null for a missing value."""

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import date
from decimal import Decimal
from typing import Any, Final

from dashboards.exports.columns import Dataset
from dashboards.exports.table import Columns, check_all

MEDIA_TYPE: Final = "application/json"
ROWS_AT_ONCE: Final = 5_000


def write(dataset: Dataset, chunks: Iterable[Columns]) -> Iterator[bytes]:
    """Write a file in pieces: an array of objects, one row a line.

    Parameters
    ----------
    dataset : Dataset
        What it holds.
    chunks : iterable of columns
        Its rows; none gives an empty array.
    """
    opened = False
    yield b"["
    keys = [json.dumps(name) for name in dataset.names]
    writers = [_WRITE[column.type] for column in dataset.columns]
    for chunk in check_all(dataset, chunks):
        cells = [
            ["null" if value is None else write_one(value) for value in values]
            for write_one, values in zip(writers, chunk.values, strict=True)
        ]
        rows = list(zip(*cells, strict=True))
        for first in range(0, len(rows), ROWS_AT_ONCE):
            lines = [_object(keys, row) for row in rows[first : first + ROWS_AT_ONCE]]
            yield ((",\n" if opened else "\n") + ",\n".join(lines)).encode()
            opened = True
    yield b"\n]\n"


def _object(keys: list[str], row: tuple[str, ...]) -> str:
    return "{" + ",".join(f"{key}:{cell}" for key, cell in zip(keys, row, strict=True)) + "}"


def _text(value: str) -> str:
    return json.dumps(value, ensure_ascii=False)


def _day(value: date) -> str:
    return f'"{value.isoformat()}"'


def _money(value: Decimal) -> str:
    return f"{value:.2f}"


_WRITE: Final[Mapping[str, Callable[[Any], str]]] = {
    "id": _text,
    "text": _text,
    "number": repr,
    "integer": str,
    "boolean": json.dumps,
    "date": _day,
    "time": _day,
    "money": _money,
}
