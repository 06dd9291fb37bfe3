"""Whatever comes in: no exception, no item lost, no personal field kept."""

import io
import json
from contextlib import suppress

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
from hypothesis import given, settings
from hypothesis import strategies as st

from ingest.aliases import AliasTable
from ingest.batch import Arrival
from ingest.errors import IngestError
from ingest.formats import KINDS, read_snapshots
from ingest.parameters import CODES
from ingest.records import Alias

NOW = 10**15 * 3
PERSON = "Nobody-Inparticular"
TABLE = AliasTable.from_rows(
    [
        Alias(scope="fleet", scope_id="", name="Coolant", parameter="ECT", unit="degF"),
        Alias(scope="device", scope_id="L-1", name="Coolant", parameter="IAT"),
    ]
)
TIMES = st.sampled_from(
    [
        "2031-03-04T06:12:09Z",
        "2031-03-04T06:12:10.5-05:00",
        "2031-03-04T06:12:09",
        "1970-01-01T00:00:00Z",
        "2099-01-01T00:00:00Z",
        "2016-12-31T23:59:60Z",
        "x",
        "",
        None,
        5,
    ]
)
NAMES = st.sampled_from(
    [*CODES, "Coolant", "Coolant [degC]", "ECT [x]", "Oil", "driver", "lat", "", "\x00", "a [b]"]
)
SMALL = st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.sampled_from([0, 1, 90, 742])
VALUES = (
    SMALL
    | st.booleans()
    | st.none()
    | st.sampled_from(["CL", "OL", "3,9", "true", "", "\x00"])
    | st.fixed_dictionaries({"value": SMALL, "unit": st.sampled_from(["degF", "K", "V", "", "x"])})
    | st.just({"driver": PERSON})
    | st.lists(st.just(1), max_size=2)
)
ITEM = st.fixed_dictionaries(
    {},
    optional={
        "vehicle": st.sampled_from(["V-1", "V-2", " V-1 ", "", None, 7, "a\nb", "\x00"]),
        "taken_at": TIMES,
        "state": st.sampled_from(["warm_idle", "cruise", "idle", "", None]),
        "device": st.sampled_from(["L-1", "L-2", "", None]),
        "id": st.sampled_from(["a", "b", "", None]),
        "odometer_km": SMALL | st.none() | st.just("x"),
        "values": st.dictionaries(NAMES, VALUES, max_size=6) | st.none() | st.just([1]),
        "switches": st.dictionaries(st.sampled_from(["ac", "in_gear", "x"]), st.booleans() | st.none()),
        "service01": st.sampled_from(["41 0C 0B B8", "41 05 82 14 5A FF", "99", "zz", "03 FF 00", "", None]),
        "driver": st.just(PERSON),
        "extra": st.just({"driver_name": PERSON, "x": 1}),
    },
)


def count(arrival: Arrival) -> int:
    """Count every item of an arrival, wherever it went, and hold the batch's columns equal in length."""
    batch = arrival.batch
    columns = (
        batch.index,
        batch.taken_us,
        batch.device,
        batch.given_id,
        batch.odometer_km,
        batch.claim,
        batch.state,
        batch.state_note,
        batch.values,
        batch.switches,
        batch.extra,
    )
    assert {len(column) for column in columns} == {len(batch)}
    assert not np.isinf(batch.values).any()
    assert PERSON not in repr(arrival)
    refused = [*arrival.rejected, *arrival.quarantined]
    places = [*batch.index.tolist(), *(refusal.index for refusal in refused)]
    assert len(set(places)) == len(places)
    assert all(refusal.detail.endswith(".") for refusal in refused)
    return len(places) + arrival.notes.get("duplicate-in-batch", 0)


@given(st.lists(ITEM, max_size=8))
def test_json_items(items: list[dict[str, object]]) -> None:
    """Every JSON item is accepted, a duplicate, quarantined or rejected."""
    arrival = read_snapshots(json.dumps(items).encode(), kind="json", now_us=NOW, aliases=TABLE)

    assert count(arrival) == len(items)


@given(st.lists(ITEM, max_size=8))
def test_quarantined_payloads_read_again(items: list[dict[str, object]]) -> None:
    """What was quarantined can be sent again as it stands, and is judged the same."""
    arrival = read_snapshots(json.dumps(items).encode(), kind="json", now_us=NOW, aliases=TABLE)

    for refusal in arrival.quarantined:
        again = read_snapshots(refusal.payload.encode(), kind="json", now_us=NOW, aliases=TABLE)
        if refusal.code == "conflicting-repeat":
            assert len(again.batch) == 1
        else:
            assert [found.code for found in again.quarantined] == [refusal.code]
    assert all(json.loads(refusal.payload) is not None for refusal in arrival.rejected)


LINES = st.binary(max_size=60).map(lambda line: line.replace(b"\n", b" ").replace(b"\xef\xbb\xbf", b""))


@given(st.lists(LINES | ITEM.map(lambda item: json.dumps(item).encode()), max_size=8))
def test_broken_lines(lines: list[bytes]) -> None:
    """Every line that is not blank is one item, however broken."""
    with suppress(IngestError):  # an empty body, or one that begins like UTF-16
        arrival = read_snapshots(b"\n".join(lines), kind="ndjson", now_us=NOW, aliases=TABLE)
        assert count(arrival) == sum(bool(line.strip()) for line in lines)


CELL = st.sampled_from(
    [
        "",
        "V-1",
        "V-2",
        "2031-03-04T06:12:09Z",
        "742",
        "-4.7",
        '"3,9"',
        "true",
        "CL",
        "nan",
        "1e999",
        '"a',
        " ",
        "x;y",
    ]
)
COLUMNS = st.lists(
    st.sampled_from(
        [
            "RPM",
            "ECT [degF]",
            "Coolant",
            "FUELSYS1",
            "ac",
            "odometer_km",
            "state",
            "device",
            "id",
            "Oil",
            "CAM_SYNC",
        ]
    ),
    unique=True,
    max_size=5,
)


@given(COLUMNS, st.data())
def test_csv_rows(columns: list[str], data: st.DataObject) -> None:
    """Every CSV row that is not blank is one item, however wrong its cells or their number."""
    header = ["vehicle", "taken_at", *columns]
    good = st.tuples(
        st.sampled_from(["V-1", "V-2"]), st.just("2031-03-04T06:12:09Z"), *([CELL] * len(columns))
    )
    rows = data.draw(st.lists(good.map(list) | st.lists(CELL, max_size=8), max_size=8))
    lines = [",".join(row) for row in rows]
    body = "\n".join([",".join(header), *lines]).encode()

    arrival = read_snapshots(body, kind="csv", now_us=NOW, aliases=TABLE)

    assert count(arrival) == sum(bool(line.strip()) for line in lines)


@given(st.lists(ITEM, min_size=1, max_size=6))
def test_parquet_rows(items: list[dict[str, object]]) -> None:
    """Every Parquet row is one item."""
    rows = [
        {
            "vehicle": item.get("vehicle") if isinstance(item.get("vehicle"), str) else None,
            "taken_at": item.get("taken_at") if isinstance(item.get("taken_at"), str) else None,
            "state": item.get("state"),
            "RPM": 742.0 if "id" in item else None,
            "driver": item.get("driver"),
            "extra": item.get("extra"),
        }
        for item in items
    ]
    out = io.BytesIO()
    pq.write_table(pa.Table.from_pylist(rows), out)

    assert count(read_snapshots(out.getvalue(), kind="parquet", now_us=NOW, aliases=TABLE)) == len(items)


@settings(max_examples=200)
@given(st.binary(max_size=200), st.sampled_from(KINDS))
def test_any_bytes(body: bytes, kind: str) -> None:
    """No bytes break a reader; what it refuses as a whole is one of this room's errors."""
    with suppress(IngestError):  # anything else fails the test
        count(read_snapshots(body, kind=kind, now_us=NOW, aliases=TABLE))


@given(st.text(max_size=100), st.sampled_from(["json", "ndjson", "csv"]))
def test_any_text_under_a_good_start(text: str, kind: str) -> None:
    """Nor does text that begins well."""
    start = {"json": '[{"vehicle": ', "ndjson": '{"vehicle": "V-1"}\n', "csv": "vehicle,taken_at,RPM\n"}
    body = (start[kind] + text).encode("utf-8", errors="replace")
    with suppress(IngestError):
        count(read_snapshots(body, kind=kind, now_us=NOW, aliases=TABLE))
