"""Parquet files into cells, one row group after another.

Columns are typed here: a number column is never read from text. NaN in a number column means missing, as
the numeric libraries write it, and is counted under the note ``nan-as-missing``.
"""

from collections.abc import Iterator
from io import BytesIO
from typing import Any, Final

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq
from numpy.typing import NDArray

from ingest.cells import FLAG, NUMBER, Cells, tell_kinds
from ingest.errors import UnreadableBody
from ingest.formats.amounts import check_columns, check_items, most_rows
from ingest.formats.columns import ENVELOPE, Column, Fault, gather
from ingest.parameters import SWITCHES
from ingest.personal import strip_personal
from ingest.text import check_header

LARGEST_GROUP: Final = 1 << 30
"""Most bytes that a row group may say it has; chosen by us: what one reading may hold in memory."""

LARGEST_UNPACKED: Final = 1 << 28
"""Most bytes that a piece may hold once it is spread out; chosen by us. Repeats cost nothing in a file and
everything in memory, so a file of a thousand bytes may name terabytes."""

_ROWS_AT_ONCE: Final = 10_000
_WIDEST_FIXED: Final = 64
"""Most bytes of a value of fixed length; decimal numbers take 32."""

_TEXTS = ("vehicle", "taken_at", "state", "device", "id", "service01")
_FAULTS = (
    pa.ArrowException,
    OSError,
    ValueError,
    KeyError,
    NotImplementedError,
    OverflowError,
    RuntimeError,
    IndexError,
)


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
        Damaged or cut off (``bad-parquet``), a needed column is missing (``missing-column``), or more rows,
        columns or bytes than a piece may have (``too-large``). What came before has been given out by then.
    """
    try:
        directory = pq.read_metadata(BytesIO(body))
        check_columns(directory.num_columns)
        texts = _plain_texts(directory)
        file = pq.ParquetFile(BytesIO(body), metadata=directory, read_dictionary=texts)
        header = list(file.schema_arrow.names)
        for field in file.schema_arrow:
            if pa.types.is_timestamp(field.type):
                _ = field.type.tz  # a damaged name of a zone is no text, which shows where it is asked for
        _check_directory(file)
    except _FAULTS as error:
        raise _damaged(error) from error
    check_header(header)
    for name in ("taken_at", "vehicle") if needs_vehicle else ("taken_at",):
        if name not in header:
            raise UnreadableBody("missing-column", f"The file has no column {name!r}.")
    if rows >= file.metadata.num_rows:
        check_items(file.metadata.num_rows, len(header))
        yield _read_piece(_joined(file), 0)
        return
    start = 0
    for piece in _read_batches(file, min(rows, most_rows(len(header)))):
        _check_spread(_spread(piece), LARGEST_UNPACKED)
        yield _read_piece(pa.Table.from_batches([piece]), start)
        start += piece.num_rows


def _plain_texts(directory: pq.FileMetaData) -> list[str]:
    """Name the text columns that are not nested: read as places in a list of texts, repeats stay small."""
    columns = [directory.schema.column(place) for place in range(directory.num_columns)]
    return [
        one.path
        for one in columns
        if one.physical_type == "BYTE_ARRAY" and one.path == one.name and one.max_repetition_level == 0
    ]


def _check_directory(file: pq.ParquetFile) -> None:
    """Refuse what would not fit, before anything is spread out in memory."""
    columns = [file.schema.column(place) for place in range(len(file.schema))]
    for group in range(file.metadata.num_row_groups):
        found = file.metadata.row_group(group)
        _check_spread(found.total_byte_size, LARGEST_GROUP)
        for column in columns:
            if column.physical_type == "FIXED_LEN_BYTE_ARRAY" and column.length > _WIDEST_FIXED:
                _check_spread(found.num_rows * column.length, LARGEST_UNPACKED)
    nested = [place for place, column in enumerate(columns) if column.path != column.name]
    if nested:
        _check_nested(file, columns, nested)


def _check_nested(file: pq.ParquetFile, columns: list[Any], nested: list[int]) -> None:
    """Refuse nested values that are too many; a row may hold any number of them."""
    # A damaged description of a chunk ends the whole process where it is asked for, and is an error where the
    # values are gone through; so they are gone through first, which holds only a few at a time.
    file.scan_contents(columns=sorted({columns[place].path.partition(".")[0] for place in nested}))
    for group in range(file.metadata.num_row_groups):
        for place in nested:
            chunk = file.metadata.row_group(group).column(place)
            is_text = columns[place].physical_type == "BYTE_ARRAY"
            # Any of its texts may be as long as all of them together; others take an object each.
            _check_spread(
                chunk.num_values * (chunk.total_uncompressed_size if is_text else 64), LARGEST_UNPACKED
            )


def _joined(file: pq.ParquetFile) -> pa.Table:
    """Read the whole file, counting as it grows."""
    pieces, spread = [], 0
    for piece in _read_batches(file, _ROWS_AT_ONCE):
        pieces.append(piece)
        spread += _spread(piece)
        _check_spread(spread, LARGEST_UNPACKED)
    return pa.Table.from_batches(pieces, file.schema_arrow)


def _read_batches(file: pq.ParquetFile, rows: int) -> Iterator[pa.RecordBatch]:
    try:
        for piece in file.iter_batches(batch_size=rows, use_threads=False):
            _check_places(piece)
            yield piece
    except _FAULTS as error:
        raise _damaged(error) from error


def _check_places(piece: pa.RecordBatch) -> None:
    """Refuse places in a list of texts that it does not have: a damaged file may name such."""
    for name, column in zip(piece.schema.names, piece.columns, strict=True):
        if not pa.types.is_dictionary(column.type):
            continue
        ends = pc.min_max(column.indices)
        low, high = ends["min"].as_py(), ends["max"].as_py()
        if low is not None and (low < 0 or high >= len(column.dictionary)):
            raise ValueError(f"column {name!r} names a text out of bounds")


def _spread(piece: pa.RecordBatch) -> int:
    """Count the bytes of a piece with every repeat written out."""
    return sum(_spread_column(column) for column in piece.columns)


def _spread_column(column: pa.Array) -> int:
    if not pa.types.is_dictionary(column.type) or not len(column.dictionary):
        return int(column.nbytes)
    if not (_is_text(column.dictionary.type) or pa.types.is_binary(column.dictionary.type)):
        return 8 * len(column)
    lengths = pc.binary_length(column.dictionary).fill_null(0).to_numpy(zero_copy_only=False)
    return int(lengths[column.indices.drop_null().to_numpy(zero_copy_only=False)].sum()) + 4 * len(column)


def _check_spread(size: int, most: int) -> None:
    if size > most:
        detail = f"The file unpacks to {size:,} bytes or more; at most {most:,} are read at once."
        raise UnreadableBody("too-large", detail)


def _damaged(error: Exception) -> UnreadableBody:
    told = next(iter(str(error).splitlines()), repr(error)).rstrip(".")
    detail = f"The file is no whole Parquet file: {told}."
    return UnreadableBody("bad-parquet", detail)


def _read_piece(table: pa.Table, start: int) -> Cells:
    faults: list[Fault] = []
    texts: dict[str, list[str]] = {}
    columns: list[Column] = []
    odometer = np.full(table.num_rows, np.nan)
    switches = np.full((table.num_rows, len(SWITCHES)), -1, dtype=np.int8)
    missing = personal = 0
    for name, chunked in zip(table.column_names, table.columns, strict=True):
        column = _one_array(chunked)
        if name in _TEXTS:
            texts[name] = _read_texts(name, column, faults)
        elif name in ENVELOPE:
            _read_beside(name, column, odometer, switches, faults)
        else:
            read, empty, dropped = _read_column(name, column, faults)
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


def _one_array(chunked: pa.ChunkedArray) -> pa.Array:
    """Join the chunks of a column; lists of texts that differ between them become one."""
    if pa.types.is_dictionary(chunked.type):
        chunked = chunked.unify_dictionaries()
    joined = chunked.combine_chunks()
    return joined.combine_chunks() if isinstance(joined, pa.ChunkedArray) else joined


def _read_texts(name: str, column: pa.Array, faults: list[Fault]) -> list[str]:
    kind = _plain_type(column)
    if _is_text(kind) or pa.types.is_integer(kind) or pa.types.is_timestamp(kind) or pa.types.is_null(kind):
        cast = column.cast(kind) if pa.types.is_dictionary(column.type) else column
        if pa.types.is_timestamp(kind) and kind.tz is not None:
            cast = cast.cast(pa.timestamp("us", "UTC"), safe=False)  # written with Z, to the microsecond
        return [str(text or "").strip() for text in _listed(name, cast.cast(pa.string(), safe=False), faults)]
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


def _listed(name: str, column: pa.Array, faults: list[Fault]) -> list[object]:
    """List a column's values; a text that is not UTF-8 refuses its row, inside a nested value the file."""
    try:
        return list(column.to_pylist())
    except UnicodeDecodeError as error:
        plain = column.cast(column.type.value_type) if pa.types.is_dictionary(column.type) else column
        if not _is_text(plain.type):
            detail = f"A text within the column {name!r} is not UTF-8."
            raise UnreadableBody("bad-encoding", detail) from error
    listed: list[object] = []
    for row, raw in enumerate(plain.cast(pa.large_binary()).to_pylist()):
        text = None if raw is None else raw.decode("utf-8", errors="replace")
        if text is not None and text.encode() != raw:
            faults.append((row, "bad-encoding", name, f"{name} is not UTF-8."))
        listed.append(text)
    return listed


def _read_column(name: str, column: pa.Array, faults: list[Fault]) -> tuple[Column, int, int]:
    """Read a value column; gives also how many NaN were missing, and how many personal parts were dropped."""
    kind = _plain_type(column)
    if _is_number(kind) or pa.types.is_boolean(kind):
        plain = column.cast(kind) if pa.types.is_dictionary(column.type) else column
        rows, values = _to_numbers(plain)
        kept = ~np.isnan(values)
        kinds = np.full(int(kept.sum()), FLAG if pa.types.is_boolean(kind) else NUMBER, dtype=np.int8)
        return Column(name=name, row=rows[kept], value=values[kept], kind=kinds), int((~kept).sum()), 0
    rows = np.flatnonzero(column.is_valid().to_numpy(zero_copy_only=False))
    listed = _listed(name, column, faults)
    found = [_make_plain(listed[row]) for row in rows.tolist()]
    told = tell_kinds([value for value, _ in found])
    read = Column(name=name, row=rows, value=told.value, kind=told.kind, objects=told.objects)
    return read, 0, sum(dropped for _, dropped in found)


def _make_plain(value: object) -> tuple[object, int]:
    """Make a value that is no number fit for JSON, without its personal parts."""
    if isinstance(value, dict | list):
        return strip_personal(value)
    return str(value).strip(), 0
