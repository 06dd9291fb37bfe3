"""Parquet files into cells, one row group after another.

Columns are typed here: a number column is never read from text. NaN in a number column means missing, as
the numeric libraries write it, and is counted under the note ``nan-as-missing``.
"""

from collections.abc import Iterator
from io import BytesIO
from typing import Final

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
from numpy.typing import NDArray

from ingest.cells import FLAG, NUMBER, Cells, tell_kinds
from ingest.errors import UnreadableBody
from ingest.formats.columns import ENVELOPE, Column, Fault, gather
from ingest.parameters import SWITCHES
from ingest.personal import strip_personal
from ingest.text import check_header

LARGEST_GROUP: Final = 1 << 30
"""Most bytes of one unpacked row group; chosen by us: what one reading may hold in memory."""

_TEXTS = ("vehicle", "taken_at", "state", "device", "id", "service01")
_FAULTS = (pa.ArrowException, OSError, ValueError, KeyError, NotImplementedError, OverflowError)


def read_parquet(body: bytes, *, needs_vehicle: bool, rows: int) -> Iterator[Cells]:
    """Read a Parquet file.

    Parameters
    ----------
    body : bytes
        The whole file; its directory stands at the end.
    needs_vehicle : bool
        True where no vehicle was named for the whole file.
    rows : int
        Most rows of one piece; row groups are cut to it.

    Raises
    ------
    UnreadableBody
        Damaged or cut off (``bad-parquet``), or a needed column is missing (``missing-column``). What came
        before a damaged row group has been given out by then.
    """
    try:
        file = pq.ParquetFile(BytesIO(body))
        header = list(file.schema_arrow.names)
        groups = file.metadata.num_row_groups
    except _FAULTS as error:
        raise _damaged(error) from error
    check_header(header)
    for name in ("taken_at", "vehicle") if needs_vehicle else ("taken_at",):
        if name not in header:
            raise UnreadableBody("missing-column", f"The file has no column {name!r}.")
    start = 0
    for table in _read_tables(file, groups, rows):
        yield _read_piece(table, start)
        start += table.num_rows


def _read_tables(file: pq.ParquetFile, groups: int, rows: int) -> Iterator[pa.Table]:
    """Give out the row groups, cut to at most `rows`; all of them as one table where that fits."""
    if rows >= file.metadata.num_rows:
        yield pa.concat_tables(
            [file.schema_arrow.empty_table(), *(_read_group(file, g) for g in range(groups))]
        )
        return
    for group in range(groups):
        table = _read_group(file, group)
        for first in range(0, table.num_rows, rows):
            yield table.slice(first, rows)


def _damaged(error: Exception) -> UnreadableBody:
    detail = f"The file is no whole Parquet file: {str(error).splitlines()[0] if str(error) else error!r}."
    return UnreadableBody("bad-parquet", detail)


def _read_group(file: pq.ParquetFile, group: int) -> pa.Table:
    try:
        size = file.metadata.row_group(group).total_byte_size
        if size > LARGEST_GROUP:
            detail = f"Row group {group} unpacks to {size:,} bytes; at most {LARGEST_GROUP:,} are read."
            raise UnreadableBody("too-large", detail)
        return file.read_row_group(group, use_threads=False)
    except _FAULTS as error:
        raise _damaged(error) from error


def _read_piece(table: pa.Table, start: int) -> Cells:
    faults: list[Fault] = []
    texts: dict[str, list[str]] = {}
    columns: list[Column] = []
    odometer = np.full(table.num_rows, np.nan)
    switches = np.full((table.num_rows, len(SWITCHES)), -1, dtype=np.int8)
    missing = personal = 0
    for name, chunked in zip(table.column_names, table.columns, strict=True):
        column = chunked.combine_chunks()
        if name in _TEXTS:
            texts[name] = _read_texts(name, column, faults)
        elif name in ENVELOPE:
            _read_beside(name, column, odometer, switches, faults)
        else:
            read, empty, dropped = _read_column(name, column)
            columns.append(read)
            missing += empty
            personal += dropped
    cells = gather(
        index=range(start, start + table.num_rows),
        texts=texts,
        odometer_km=odometer,
        switches=switches,
        columns=columns,
        faults=faults,
        personal_fields=personal,
    )
    if missing:
        cells.notes["nan-as-missing"] = missing
    return cells


def _read_texts(name: str, column: pa.Array, faults: list[Fault]) -> list[str]:
    kind = _plain_type(column)
    if _is_text(kind) or pa.types.is_integer(kind) or pa.types.is_timestamp(kind) or pa.types.is_null(kind):
        cast = column.cast(kind) if pa.types.is_dictionary(column.type) else column
        if pa.types.is_timestamp(kind) and kind.tz is not None:
            cast = cast.cast(pa.timestamp("us", "UTC"), safe=False)  # written with Z, to the microsecond
        texts = cast.cast(pa.string(), safe=False).to_pylist()
        return [(text or "").strip() for text in texts]
    faults.extend(
        (row, "wrong-type", name, f"{name} must be a text column, was {column.type}.")
        for row in range(len(column))
    )
    return [""] * len(column)


def _plain_type(column: pa.Array) -> pa.DataType:
    return column.type.value_type if pa.types.is_dictionary(column.type) else column.type


def _is_text(kind: pa.DataType) -> bool:
    return bool(pa.types.is_string(kind) or pa.types.is_large_string(kind) or pa.types.is_string_view(kind))


def _is_number(kind: pa.DataType) -> bool:
    return bool(pa.types.is_integer(kind) or pa.types.is_floating(kind) or pa.types.is_decimal(kind))


def _read_beside(
    name: str,
    column: pa.Array,
    odometer: NDArray[np.float64],
    switches: NDArray[np.int8],
    faults: list[Fault],
) -> None:
    """Read the odometer or a switch in place."""
    kind = column.type
    if pa.types.is_null(kind):
        return
    wanted = "number" if name == "odometer_km" else "true or false"
    if not (_is_number(kind) if name == "odometer_km" else pa.types.is_boolean(kind)):
        present = np.flatnonzero(column.is_valid().to_numpy(zero_copy_only=False)).tolist()
        detail = f"{name} must be a column of {wanted}, was {kind}."
        faults.extend((row, "wrong-type", name, detail) for row in present)
        return
    rows, values = _to_numbers(column)
    if name == "odometer_km":
        odometer[rows] = values
        for row in rows[np.isinf(values)].tolist():
            faults.append((int(row), "not-finite", name, "odometer_km must be a finite number."))
    else:
        switches[rows, SWITCHES.index(name)] = values.astype(np.int8)


def _to_numbers(column: pa.Array) -> tuple[NDArray[np.intp], NDArray[np.float64]]:
    valid = column.is_valid().to_numpy(zero_copy_only=False)
    present = column.drop_null()
    if pa.types.is_boolean(column.type):
        present = present.cast(pa.int8())
    values = present.cast(pa.float64(), safe=False).to_numpy(zero_copy_only=False)
    return np.flatnonzero(valid), np.asarray(values, dtype=np.float64)


def _read_column(name: str, column: pa.Array) -> tuple[Column, int, int]:
    """Read a value column; gives also how many NaN were missing, and how many personal parts were dropped."""
    kind = _plain_type(column)
    if _is_number(kind) or pa.types.is_boolean(kind):
        plain = column.cast(kind) if pa.types.is_dictionary(column.type) else column
        rows, values = _to_numbers(plain)
        kept = ~np.isnan(values)
        kinds = np.full(int(kept.sum()), FLAG if pa.types.is_boolean(kind) else NUMBER, dtype=np.int8)
        return Column(name=name, row=rows[kept], value=values[kept], kind=kinds), int((~kept).sum()), 0
    rows = np.flatnonzero(column.is_valid().to_numpy(zero_copy_only=False))
    found = [_make_plain(value) for value in column.drop_null().to_pylist()]
    told = tell_kinds([value for value, _ in found])
    read = Column(name=name, row=rows, value=told.value, kind=told.kind, objects=told.objects)
    return read, 0, sum(dropped for _, dropped in found)


def _make_plain(value: object) -> tuple[object, int]:
    """Make a value that is no number fit for JSON, without its personal parts."""
    if isinstance(value, dict | list):
        return strip_personal(value)
    return str(value).strip(), 0
