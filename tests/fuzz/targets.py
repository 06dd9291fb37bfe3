"""What reads bytes from outside, one function for each decoder: it ends, or refuses with its own error.

A target gives what became of its input. Anything but an error of the room that comes out of it is a finding,
and so is an answer out of proportion to its input.
"""

from collections.abc import Callable, Iterable, Mapping
from typing import Final

from ingest.aliases import AliasTable, read_aliases
from ingest.batch import Arrival
from ingest.compression import inflate, inflate_stream
from ingest.costs import read_costs
from ingest.errors import IngestError
from ingest.formats.read import iter_snapshots, read_snapshots
from ingest.mending import without_reasons, write_mendable
from ingest.service01 import decode
from ingest.sheets import read_sheets
from ingest.vehicles import read_vehicles
from ingest.work import read_work

NOW_US: Final = 2 * 10**15
LIMIT: Final = 1 << 20
"""Most bytes that a packed input may unpack to here."""

_RECORDS: Final = (read_vehicles, read_aliases, read_work, read_costs)

Target = Callable[[bytes], str]


def _guarded(read: Callable[[bytes], object]) -> Target:
    def run(body: bytes) -> str:
        try:
            read(body)
        except IngestError as refusal:
            return str(refusal.code)
        return "read"

    return run


def _whole(kind: str) -> Callable[[bytes], None]:
    """Read a body as the address for snapshots does, then write what was refused for mending."""

    def read(body: bytes) -> None:
        plain = without_reasons(body, kind)
        arrival = read_snapshots(plain, kind=kind, now_us=NOW_US, aliases=AliasTable())
        _check(arrival, body)

    return read


def _check(arrival: Arrival, body: bytes) -> None:
    refused = (*arrival.rejected, *arrival.quarantined)
    write_mendable(refused)
    told = sum(len(one.payload) + len(one.detail) for one in refused)
    # A refusal quotes its item once, with some words; a hundred times the body would be an amplifier.
    assert told < 100 * len(body) + 100_000, f"{told:,} characters told of {len(body):,} bytes"


def _pieces(kind: str) -> Callable[[bytes], None]:
    """Read a file in pieces cut anywhere, as the command line does."""

    def read(body: bytes) -> None:
        cut = 1 + sum(body[:8]) % 64
        chunks = [body[start : start + cut] for start in range(0, len(body), cut)]
        for arrival in iter_snapshots(chunks, kind=kind, now_us=NOW_US, aliases=AliasTable(), rows=3):
            _check(arrival, body)

    return read


def _unpack(encoding: str) -> Callable[[bytes], None]:
    def read(body: bytes) -> None:
        assert len(inflate(body, encoding, limit=LIMIT)) <= LIMIT
        cut = 1 + sum(body[:8]) % 64
        chunks: Iterable[bytes] = (body[start : start + cut] for start in range(0, len(body), cut))
        assert sum(map(len, inflate_stream(chunks, encoding, LIMIT))) <= LIMIT

    return read


def _service01(body: bytes) -> None:
    for answer in (body, body.decode("latin-1"), body.decode("utf-8", "replace"), body.hex(" ")):
        for four_banks in (False, True):
            try:
                decode(answer, four_banks=four_banks)
            except IngestError:
                continue


def _records(body: bytes) -> None:
    for kind in ("csv", "json"):
        for read in _RECORDS:
            _guarded(lambda text, read=read, kind=kind: read(without_reasons(text, kind), kind))(body)  # type: ignore[misc]
    for kind in ("json", "toml"):
        _guarded(lambda text, kind=kind: read_sheets(text, kind))(body)  # type: ignore[misc]


TARGETS: Final[Mapping[str, Target]] = {
    "json": _guarded(_whole("json")),
    "ndjson": _guarded(_whole("ndjson")),
    "ndjson-pieces": _guarded(_pieces("ndjson")),
    "csv": _guarded(_whole("csv")),
    "csv-pieces": _guarded(_pieces("csv")),
    "parquet": _guarded(_whole("parquet")),
    "service01": _guarded(_service01),
    "gzip": _guarded(_unpack("gzip")),
    "zstd": _guarded(_unpack("zstd")),
    "records": _guarded(_records),
}
"""Every decoder that bytes from outside reach, by name."""
