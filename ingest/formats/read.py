"""The front door: bytes of a named kind in, arrivals out."""

import sys
from collections.abc import Iterable, Iterator, Mapping
from typing import Final

from ingest.aliases import AliasTable
from ingest.assemble import assemble
from ingest.batch import Arrival
from ingest.cells import Cells
from ingest.errors import UnknownKind, UnreadableBody
from ingest.formats.amounts import check_cells, check_columns, check_items
from ingest.formats.commas import read_header, read_rows
from ingest.formats.documents import read_document
from ingest.formats.items import read_items
from ingest.formats.parquet import read_parquet
from ingest.meaning import Context
from ingest.text import strip_mark

KINDS: Final = ("json", "ndjson", "csv", "parquet")
DEFAULT_ROWS: Final = 20_000
"""Rows of one piece; chosen by us: the columns of a piece stay below some 50 MB."""

LONGEST_LINE: Final = 8 << 20
"""Most bytes of one line in a stream; chosen by us: a thousand times a long snapshot."""

_ALL_ROWS = sys.maxsize


def read_snapshots(
    body: bytes,
    *,
    kind: str,
    now_us: int,
    aliases: AliasTable,
    vehicle: str = "",
    sheet_of: Mapping[str, str] | None = None,
    device: str = "",
    waive: frozenset[str] = frozenset(),
) -> Arrival:
    """Read one request body or small file.

    Parameters
    ----------
    body : bytes
        Unpacked.
    kind : {"json", "ndjson", "csv", "parquet"}
        How to read it.
    now_us : int
        Time of arrival [microseconds since 1970-01-01T00:00Z].
    aliases : AliasTable
        Other names for parameters.
    vehicle, device : str
        Used where an item names none.
    sheet_of : mapping of str to str, optional
        Vehicle to its spec sheet, for aliases of sheets.
    waive : frozenset of str
        Quarantine codes that a person has set aside for these items.

    Returns
    -------
    Arrival
        Every item is a row of the batch, a refusal, or counted as ``duplicate-in-batch``.

    Raises
    ------
    UnknownKind
        Another kind.
    UnreadableBody
        The body as a whole cannot be read as this kind.

    Examples
    --------
    >>> body = b'{"vehicle": "V-1", "taken_at": "2031-03-04T06:12:09-05:00", "values": {"RPM": 742}}'
    >>> arrival = read_snapshots(body, kind="json", now_us=2 * 10**15, aliases=AliasTable())
    >>> len(arrival.batch), arrival.rejected, arrival.quarantined
    (1, (), ())
    """
    context = Context(
        now_us=now_us,
        aliases=aliases,
        vehicle=vehicle,
        device=device,
        sheet_of={} if sheet_of is None else sheet_of,
        waive=waive,
    )
    (cells,) = _read_cells([body], kind, vehicle, _ALL_ROWS)
    return assemble(cells, context)


def iter_snapshots(
    chunks: Iterable[bytes],
    *,
    kind: str,
    now_us: int,
    aliases: AliasTable,
    vehicle: str = "",
    sheet_of: Mapping[str, str] | None = None,
    device: str = "",
    rows: int = DEFAULT_ROWS,
) -> Iterator[Arrival]:
    """Read a big file piece by piece.

    NDJSON and CSV are streamed. Parquet and JSON need the whole file at hand; Parquet is then read by row
    group. Repeats are found inside each piece only; across pieces the store finds them.

    Parameters
    ----------
    chunks : iterable of bytes
        The unpacked file, cut anywhere.
    kind, now_us, aliases, vehicle, sheet_of, device
        As for `read_snapshots`.
    rows : int
        Most items of one arrival.

    Raises
    ------
    UnknownKind, UnreadableBody
        As for `read_snapshots`; what came before has been given out by then.
    """
    sheets = {} if sheet_of is None else sheet_of
    context = Context(now_us=now_us, aliases=aliases, vehicle=vehicle, device=device, sheet_of=sheets)
    for cells in _read_cells(chunks, kind, vehicle, rows):
        yield assemble(cells, context)


def _read_cells(chunks: Iterable[bytes], kind: str, vehicle: str, rows: int) -> Iterator[Cells]:
    if kind not in KINDS:
        raise UnknownKind(kind, KINDS)
    if kind == "json":
        return iter([read_document(b"".join(chunks))])
    if kind == "parquet":
        return read_parquet(b"".join(chunks), needs_vehicle=not vehicle, rows=rows)
    if rows == _ALL_ROWS:
        chunks = list(chunks)
        check_items(sum(chunk.count(b"\n") for chunk in chunks))
    lines = split_lines(chunks, rows)
    return _read_ndjson(lines) if kind == "ndjson" else _read_csv(lines, needs_vehicle=not vehicle)


def split_lines(chunks: Iterable[bytes], rows: int) -> Iterator[list[bytes]]:
    """Cut a stream into lists of at most `rows` lines that are not blank.

    Raises
    ------
    UnreadableBody
        A line longer than `LONGEST_LINE` bytes (``line-too-long``).

    Examples
    --------
    >>> list(split_lines([b"a" + bytes([10]) + b"b", b"c"], rows=5))
    [[b'a', b'bc']]
    """
    pending: list[bytes] = []
    tail = b""
    for chunk in chunks:
        lines = (tail + chunk).split(b"\n")
        tail = lines.pop()
        if len(tail) > LONGEST_LINE:
            detail = f"A line is longer than {LONGEST_LINE:,} bytes; NDJSON and CSV hold one snapshot a line."
            raise UnreadableBody("line-too-long", detail)
        pending.extend(line for line in lines if line.strip())
        while len(pending) >= rows:
            yield pending[:rows]
            pending = pending[rows:]
    if tail.strip():
        pending.append(tail)
    for start in range(0, len(pending), rows):
        yield pending[start : start + rows]


def _read_ndjson(batches: Iterable[list[bytes]]) -> Iterator[Cells]:
    start = 0
    marked = False
    for lines in batches:
        if start == 0:
            lines[0], marked = strip_mark(lines[0])
        cells = read_items(lines, start)
        if start == 0 and marked:
            cells.notes["byte-order-mark"] = 1
        start += len(lines)
        yield cells
    if start == 0:
        raise UnreadableBody("empty-body", "The body is empty; NDJSON holds one snapshot a line.")


def _read_csv(batches: Iterable[list[bytes]], *, needs_vehicle: bool) -> Iterator[Cells]:
    header: list[str] | None = None
    marked = False
    start = 0
    for batch in batches:
        lines = [line.removesuffix(b"\r") for line in batch]
        if header is None:
            first, marked = strip_mark(lines[0])
            header = read_header(_decode_header(first), needs_vehicle=needs_vehicle)
            lines = lines[1:]
            check_columns(len(header))
        check_cells(len(lines), len(header))
        cells = read_rows(header, lines, start)
        if marked:
            cells.notes["byte-order-mark"], marked = 1, False
        start += len(lines)
        yield cells
    if header is None:
        raise UnreadableBody("empty-body", "The file is empty; its first line must name the columns.")


def _decode_header(line: bytes) -> str:
    try:
        return line.decode("utf-8")
    except UnicodeDecodeError as error:
        raise UnreadableBody("bad-encoding", "The header line is not UTF-8; save it as UTF-8.") from error
