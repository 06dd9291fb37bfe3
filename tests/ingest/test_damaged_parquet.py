"""Parquet files with one wrong byte: refused as damaged or read, never an error of ours."""

import base64
import io
from collections import Counter

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from ingest.aliases import AliasTable
from ingest.errors import UnreadableBody
from ingest.formats import read_snapshots

NOW_US = 1_930_000_000_000_000


def _small_file() -> bytes:
    """Write two columns of repeating texts, plain enough that a byte of each part is within reach."""
    table = pa.table({"vehicle": ["V-1", "V-2"] * 4, "taken_at": ["2031-02-04T06:12:09Z"] * 8})
    sink = io.BytesIO()
    pq.write_table(table, sink, compression="none", store_schema=False)
    return sink.getvalue()


def test_no_single_wrong_byte_breaks_the_reader() -> None:
    """Every byte in turn is set to each of five others; places in a list of texts may then lie outside it."""
    body = _small_file()
    told: Counter[str] = Counter()
    for place in range(len(body)):
        for wrong in {0, 2, 255, body[place] ^ 1, body[place] ^ 128} - {body[place]}:
            broken = body[:place] + bytes([wrong]) + body[place + 1 :]
            try:
                read_snapshots(broken, kind="parquet", now_us=NOW_US, aliases=AliasTable())
            except UnreadableBody as error:
                told["out of bounds" if "out of bounds" in error.detail else error.code] += 1
            else:
                told["read"] += 1

    assert told["read"] > 100
    assert told["bad-parquet"] > 100
    assert told["out of bounds"] > 5


def test_a_zone_that_is_no_text_is_a_damaged_file() -> None:
    """A byte of a time zone's name that cannot stand in UTF-8 is told as damage."""
    table = pa.table(
        {"vehicle": ["V-1"], "taken_at": pa.array([NOW_US], pa.timestamp("us", "Etc/Somewhere"))}
    )
    sink = io.BytesIO()
    pq.write_table(table, sink, store_schema=True)
    broken = _with_schema_changed(sink.getvalue(), b"Etc/Somewhere", b"Etc/Somewher\xc3")

    with pytest.raises(UnreadableBody, match="no whole Parquet file"):
        read_snapshots(broken, kind="parquet", now_us=NOW_US, aliases=AliasTable())


def _with_schema_changed(body: bytes, old: bytes, new: bytes) -> bytes:
    """Change bytes in the schema that a file carries beside its own, packed as text in its directory."""
    metadata = pq.read_metadata(io.BytesIO(body)).metadata
    packed = metadata[b"ARROW:schema"]
    changed = base64.b64encode(base64.b64decode(packed).replace(old, new))
    assert changed != packed
    return body.replace(packed, changed)
