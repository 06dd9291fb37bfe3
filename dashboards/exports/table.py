"""Columns on their way into a file: checked once, then the same for every format."""

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from dashboards.exports.columns import Column, Dataset
from dashboards.exports.errors import WrongColumns, WrongValue

Columns = Mapping[str, Sequence[Any]]
"""Column name to values: a list or an array; None or NaN marks a missing value."""

CENT: Final = Decimal("0.01")
_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True, kw_only=True)
class About:
    """What a file says of itself.

    Parameters
    ----------
    as_of : date or None
        As-of date; None where everything known went in.
    filters : mapping of str to str
        Filters that were set.
    version : str
        Version of the program that wrote it.
    erased_rows, removed_rows : int
        Rows that the as-of date has lost since, to erasures and to retention; months that retention cut are
        counted whole.
    """

    as_of: date | None = None
    filters: Mapping[str, str] = field(default_factory=dict)
    version: str = ""
    erased_rows: int = 0
    removed_rows: int = 0

    @property
    def lost_text(self) -> str:
        """What the as-of date has lost since, in words; empty for nothing."""
        found = ((self.erased_rows, "erasure"), (self.removed_rows, "retention"))
        return " and ".join(f"{count:,} rows to {cause}" for count, cause in found if count)

    @property
    def as_of_text(self) -> str:
        """As-of date as written into files; empty where none."""
        return self.as_of.isoformat() if self.as_of else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Chunk:
    """Checked values, column by column in the dataset's order; None marks a missing one.

    Values are str, float, int, bool, `date`, aware UTC `datetime` or `Decimal`, as the column's type says.
    """

    values: tuple[tuple[Any, ...], ...]

    def __len__(self) -> int:
        """Count rows."""
        return len(self.values[0]) if self.values else 0


def check(dataset: Dataset, columns: Columns, *, first_row: int = 1) -> Chunk:
    """Check one piece of an export and bring every value into its column's type.

    Parameters
    ----------
    dataset : Dataset
        What the file should hold.
    columns : mapping
        Exactly the dataset's columns, all of one length.
    first_row : int
        Number of the first row, for messages.

    Raises
    ------
    WrongColumns
        Columns missing, unknown, or of different lengths.
    WrongValue
        A value of another type than its column's.

    Examples
    --------
    >>> from dashboards.exports.columns import Column
    >>> tiny = Dataset(name="t", meaning="", columns=(Column(name="a", meaning="", type="number"),))
    >>> check(tiny, {"a": [-4.7, float("nan")]}).values
    ((-4.7, None),)
    """
    _check_names(dataset, columns)
    return Chunk(
        values=tuple(_converted(column, columns[column.name], first_row) for column in dataset.columns)
    )


def check_all(dataset: Dataset, chunks: Iterable[Columns]) -> Iterator[Chunk]:
    """Check pieces one after the other, so that a long export never lies in memory whole."""
    row = 1
    for columns in chunks:
        chunk = check(dataset, columns, first_row=row)
        row += len(chunk)
        yield chunk


def _check_names(dataset: Dataset, columns: Columns) -> None:
    missing = [name for name in dataset.names if name not in columns]
    if missing:
        raise WrongColumns(dataset.name, "columns missing", missing)
    extra = [name for name in columns if name not in set(dataset.names)]
    if extra:
        raise WrongColumns(dataset.name, "columns that it does not have", extra)
    wanted = len(columns[dataset.names[0]])
    uneven = [f"{name} ({len(columns[name])})" for name in dataset.names if len(columns[name]) != wanted]
    if uneven:
        raise WrongColumns(dataset.name, f"columns that do not have {wanted} rows", uneven)


def _converted(column: Column, values: Sequence[Any], first_row: int) -> tuple[Any, ...]:
    if column.type == "number" and isinstance(values, np.ndarray) and values.dtype.kind == "f":
        return _numbers(column, values, first_row)
    convert = _CONVERT[column.type]
    plain = values.tolist() if isinstance(values, np.ndarray) else values
    made: list[Any] = []
    for place, item in enumerate(plain):
        value = item.item() if isinstance(item, np.generic) else item
        if value is None or value == "" or (isinstance(value, float) and math.isnan(value)):
            made.append(None)
            continue
        found = convert(value)
        if found is None:
            raise WrongValue(column.name, first_row + place, value, _WANTED[column.type])
        made.append(found)
    return tuple(made)


def _numbers(column: Column, values: NDArray[np.floating[Any]], first_row: int) -> tuple[float | None, ...]:
    """Take a float array whole: value by value it would be the slowest part of a long export."""
    endless = np.flatnonzero(np.isinf(values))
    if len(endless):
        place = int(endless[0])
        raise WrongValue(column.name, first_row + place, values[place].item(), _WANTED["number"])
    return tuple(None if value != value else value for value in (values + 0.0).tolist())  # noqa: PLR0124


def _text(value: object) -> str | None:
    return str(value) if isinstance(value, str) else None


def _number(value: object) -> float | None:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
        return None
    return float(value) + 0.0


def _integer(value: object) -> int | None:
    if isinstance(value, bool):
        return None
    if isinstance(value, int):
        return value
    return int(value) if isinstance(value, float) and value.is_integer() else None


def _boolean(value: object) -> bool | None:
    return value if isinstance(value, bool) else None


def _date(value: object) -> date | None:
    if isinstance(value, int) and not isinstance(value, bool):
        return _EPOCH.date() + timedelta(days=value)
    return value if isinstance(value, date) and not isinstance(value, datetime) else None


def _time(value: object) -> datetime | None:
    if isinstance(value, int) and not isinstance(value, bool):
        return _EPOCH + timedelta(microseconds=value)
    if isinstance(value, datetime) and value.tzinfo is not None:
        return value.astimezone(UTC)
    return None


def _money(value: object) -> Decimal | None:
    if isinstance(value, Decimal):
        return value.quantize(CENT, rounding=ROUND_HALF_EVEN) if value.is_finite() else None
    number = _number(value)
    return None if number is None else Decimal(repr(number)).quantize(CENT, rounding=ROUND_HALF_EVEN)


_CONVERT: Final[Mapping[str, Callable[[object], Any]]] = {
    "id": _text,
    "text": _text,
    "number": _number,
    "integer": _integer,
    "boolean": _boolean,
    "date": _date,
    "time": _time,
    "money": _money,
}

_WANTED: Final[Mapping[str, str]] = {
    "id": "text",
    "text": "text",
    "number": "a finite number",
    "integer": "a whole number",
    "boolean": "True or False",
    "date": "a date or whole days since 1970-01-01",
    "time": "an aware datetime or whole microseconds since 1970-01-01T00:00Z",
    "money": "a finite sum",
}
