"""The same snapshots in JSON, NDJSON, CSV and Parquet, whole and in pieces, and files that are wrong."""

import io
import json

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from ingest.aliases import AliasTable
from ingest.batch import Arrival, Batch
from ingest.errors import UnknownKind, UnreadableBody
from ingest.formats import KINDS, iter_snapshots, read_snapshots
from ingest.formats.read import LONGEST_LINE

NOW = 10**15 * 3
COUNT = 25
ITEMS = [
    {
        "vehicle": f"V-{row % 3}",
        "taken_at": f"2031-03-04T06:12:{row:02d}-05:00",
        "state": "warm_idle",
        "device": "L-220",
        "id": f"{row:03d}",
        "odometer_km": 100 + row,
        "values": {
            "RPM": 700 + row,
            "ECT": {"value": 194, "unit": "degF"},
            "FUELSYS1": "CL",
            "CAM_SYNC": True,
            "Oil": 3.5,
        },
        "switches": {"ac": row % 2 == 0, "in_gear": False},
    }
    for row in range(COUNT)
]
FLAT = [
    {
        **{key: item[key] for key in ("vehicle", "taken_at", "state", "device", "id", "odometer_km")},
        "ac": row % 2 == 0,
        "in_gear": False,
        "RPM": 700.0 + row,
        "ECT [degF]": 194.0,
        "FUELSYS1": "CL",
        "CAM_SYNC": True,
        "Oil": 3.5,
    }
    for row, item in enumerate(ITEMS)
]


def write_csv() -> bytes:
    """Write the items as CSV."""
    rows = [",".join(FLAT[0]), *(",".join(str(cell) for cell in row.values()) for row in FLAT)]
    return "\r\n".join(rows).encode()


def write_parquet(table: pa.Table | None = None, group: int = 10) -> bytes:
    """Write a table (the items, where none is given) as Parquet."""
    out = io.BytesIO()
    pq.write_table(pa.Table.from_pylist(FLAT) if table is None else table, out, row_group_size=group)
    return out.getvalue()


BODIES = {
    "json": json.dumps({"snapshots": ITEMS}).encode(),
    "ndjson": "\n".join(json.dumps(item) for item in ITEMS).encode(),
    "csv": write_csv(),
    "parquet": write_parquet(),
}


def read(body: bytes, kind: str, vehicle: str = "") -> Arrival:
    """Read a body without aliases."""
    return read_snapshots(body, kind=kind, now_us=NOW, aliases=AliasTable(), vehicle=vehicle)


def refused(arrival: Arrival) -> list[tuple[int, str]]:
    """List place and code of what was refused."""
    return [(found.index, found.code) for found in (*arrival.rejected, *arrival.quarantined)]


def assert_alike(one: Batch, other: Batch) -> None:
    """Hold two batches equal in every column but `extra`, where units stand as they came."""
    for name in ("vehicle", "device", "given_id", "state_note"):
        assert getattr(one, name) == getattr(other, name), name
    for name in ("index", "taken_us", "odometer_km", "claim", "state", "values", "switches"):
        np.testing.assert_array_equal(getattr(one, name), getattr(other, name), err_msg=name)


@pytest.mark.parametrize("kind", KINDS)
def test_every_format_says_the_same(kind: str) -> None:
    """One and the same arrival comes out of every format."""
    arrival = read(BODIES[kind], kind)

    assert refused(arrival) == []
    assert arrival.unknown_names == {"Oil": COUNT}
    assert_alike(arrival.batch, read(BODIES["json"], "json").batch)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("cut", [1, 13, 10_000])
def test_pieces_say_the_same(kind: str, cut: int) -> None:
    """It does not matter where a file is cut; places count on through the pieces."""
    body = BODIES[kind]
    chunks = (body[start : start + cut] for start in range(0, len(body), cut))

    pieces = list(iter_snapshots(chunks, kind=kind, now_us=NOW, aliases=AliasTable(), rows=7))

    whole = read(body, kind).batch
    assert np.concatenate([piece.batch.index for piece in pieces]).tolist() == whole.index.tolist()
    np.testing.assert_array_equal(np.vstack([piece.batch.values for piece in pieces]), whole.values)
    assert kind == "json" or max(len(piece.batch) for piece in pieces) <= 7


def test_json_forms() -> None:
    """One object, an array and an object that holds the array."""
    one = json.dumps(ITEMS[0]).encode()

    assert_alike(read(one, "json").batch, read(b" [" + one + b"] ", "json").batch)
    assert len(read(b"[]", "json").batch) == 0
    assert len(read(b'{"snapshots": []}', "json").batch) == 0


@pytest.mark.parametrize("kind", ["json", "ndjson", "csv"])
def test_byte_order_mark(kind: str) -> None:
    """A byte-order mark is taken off and noted once, also when the file comes in pieces."""
    body = b"\xef\xbb\xbf" + BODIES[kind]

    pieces = list(iter_snapshots([body], kind=kind, now_us=NOW, aliases=AliasTable(), rows=7))

    assert sum(piece.notes.get("byte-order-mark", 0) for piece in pieces) == 1
    assert sum(len(piece.batch) for piece in pieces) == COUNT


@pytest.mark.parametrize(
    ("line", "code"),
    [
        (b"{", "bad-json"),
        (b"nonsense", "bad-json"),
        (b"[1]", "wrong-type"),
        (b"5", "wrong-type"),
        (b"\xff\xfe", "bad-encoding"),
        (b'{"vehicle": "\xff"}', "bad-encoding"),
        (b'{"vehicle": "V", "values": {"RPM": NaN}}', "not-finite"),
        (b'{"vehicle": "V", "values": {"RPM": -Infinity}}', "not-finite"),
        (b'{"vehicle": "V", "values": {"RPM": 1e999}}', "not-finite"),
        (b'{"vehicle": "V", "values": ' + b"[" * 5000 + b"]" * 5000 + b"}", "bad-json"),
        (b"[" * 100_000, "bad-json"),
        (b'{"vehicle": "V", "values": {"RPM": ' + b"9" * 5000 + b"}}", "not-finite"),
    ],
)
def test_broken_line_in_the_middle(line: bytes, code: str) -> None:
    """A broken line is rejected by its place with its payload; the lines around it are kept."""
    good = [json.dumps(item).encode() for item in ITEMS[:2]]

    arrival = read(b"\n".join([good[0], b"  ", line, good[1], b""]), "ndjson")

    assert refused(arrival) == [(1, code)]
    assert arrival.rejected[0].payload
    assert arrival.batch.index.tolist() == [0, 2]


HEADER = "vehicle,taken_at,RPM,LONGFT1,CAM_SYNC,ac,odometer_km"
TIME = "2031-03-04T06:12:09Z"


@pytest.mark.parametrize(
    ("row", "code"),
    [
        (f"V-1,{TIME},700,1,,", "bad-row"),
        (f"V-1,{TIME},700,1,,,,", "bad-row"),
        (f'V-1,{TIME},700,"1,,,', "bad-row"),
        (f'V-1,{TIME},700,"3,9",,,', "decimal-comma"),
        (f"V-1,{TIME},many,1,,,", "bad-value"),
        (f"V-1,{TIME},1_000,1,,,", "bad-value"),
        (f"V-1,{TIME},\u0667\u0660\u0660,1,,,", "bad-value"),
        (f"V-1,{TIME},nan,1,,,", "not-finite"),
        (f"V-1,{TIME},-inf,1,,,", "not-finite"),
        (f"V-1,{TIME},1e999,1,,,", "not-finite"),
        (f"V-1,{TIME},true,1,,,", "bad-value"),
        (f"V-1,{TIME},700,1,maybe,,", "bad-value"),
        (f"V-1,{TIME},700,1,,perhaps,", "bad-value"),
        (f"V-1,{TIME},700,1,,,far", "bad-value"),
        (f"V-1,{TIME},,,,,", "no-values"),
        (f",{TIME},700,,,,", "no-vehicle"),
        ("V-1,,700,,,,", "no-time"),
        (",,,,,,", "no-vehicle"),
        (f"V-1,{TIME},99999,,,,", "out-of-range"),
    ],
)
def test_wrong_csv_row(row: str, code: str) -> None:
    """A wrong row is refused alone, by its place; the rows around it are kept."""
    body = f"{HEADER}\nV-0,{TIME},700,,,,\n{row}\nV-9,{TIME}, 700 ,-4.7,FALSE,on,\n"

    arrival = read(body.encode(), "csv")

    assert refused(arrival) == [(1, code)]
    assert arrival.batch.vehicle == ["V-0", "V-9"]
    assert arrival.batch.switches[:, 0].tolist() == [-1, 1]


def test_csv_cells() -> None:
    """Quoted cells, blanks around cells, blank lines and words for yes and no are read."""
    body = f'{HEADER},"Oil, [x]"\n"V-1",{TIME},"700",+1.5e0,1,NO,5,"a ""b"""\n\n'

    arrival = read(body.encode(), "csv")

    assert refused(arrival) == []
    assert arrival.batch.switches[0].tolist() == [0, -1, -1]
    assert json.loads(arrival.batch.extra[0] or "") == {"Oil, [x]": 'a "b"'}


def test_csv_with_broken_bytes() -> None:
    """A row that is not UTF-8 is rejected alone."""
    body = f"{HEADER}\nV-0,{TIME},700,,,,\n".encode() + b"V-\xff,2031-03-04T06:12:09Z,700,,,,\n"

    assert refused(read(body, "csv")) == [(1, "bad-encoding")]


def test_csv_personal_columns() -> None:
    """Personal columns are counted and gone; a row that cannot be parsed is then not shown."""
    body = f"{HEADER},Driver Name,lat\nV-0,{TIME},700,,,,,Somebody,48.137\nV-1,x,Somebody,48.137\n"

    arrival = read(body.encode(), "csv")

    assert arrival.personal_fields == 3
    assert "Somebody" not in repr(arrival)
    assert "48.137" not in repr(arrival)
    assert arrival.rejected[0].payload == ""


def test_csv_raw_answers() -> None:
    """A column of raw answers is decoded; a broken one rejects its row and is shown."""
    body = f"vehicle,taken_at,service01\nV-1,{TIME},41 0C 0B B8 14 5A FF\nV-2,{TIME},41 99\nV-3,{TIME},\n"

    arrival = read(body.encode(), "csv")

    assert refused(arrival) == [(1, "service01-pid"), (2, "no-values")]
    assert arrival.batch.vehicle == ["V-1"]
    assert (
        arrival.notes == {"o2-not-in-trim": 1, "no-engine-speed": 0} or arrival.notes["o2-not-in-trim"] == 1
    )
    assert json.loads(arrival.rejected[0].payload)["service01"] == "41 99"


def test_unit_nobody_accepts_in_a_header() -> None:
    """A column in a unit that is not accepted quarantines its rows and says what is allowed."""
    arrival = read(f"vehicle,taken_at,ECT [Celsius],RPM\nV-1,{TIME},90,700\n".encode(), "csv")

    assert refused(arrival) == [(0, "unknown-unit")]
    assert "degC, degF, K" in arrival.quarantined[0].detail


@pytest.mark.parametrize(
    ("body", "kind", "code"),
    [
        (b"", "json", "empty-body"),
        (b" \n", "ndjson", "empty-body"),
        (b"\n", "csv", "empty-body"),
        (b"", "parquet", "bad-parquet"),
        (b"[1, 2", "json", "bad-json"),
        (b"null", "json", "bad-json"),
        (b'{"snapshots": 5}', "json", "bad-json"),
        (b"[" * 100_000, "json", "bad-json"),
        (b"\xff\xfe[]", "json", "bad-encoding"),
        (b"vehicle;taken_at;RPM\nV-1;x;700\n", "csv", "csv-separator"),
        (b"vehicle\ttaken_at\tRPM\n", "csv", "csv-separator"),
        (b"vehicle|taken_at|RPM\n", "csv", "csv-separator"),
        (b"vehicle;taken_at;Temp, front [degC]\n", "csv", "csv-separator"),
        (b"vehicle,taken_at,RPM,RPM\n", "csv", "repeated-column"),
        (b"vehicle,taken_at,RPM,\n", "csv", "repeated-column"),
        (b"vehicle,RPM\n", "csv", "missing-column"),
        (b"taken_at,RPM\n", "csv", "missing-column"),
        (b'vehicle,"taken_at\n', "csv", "bad-csv"),
        (b"vehicle,taken_at,\xff\n", "csv", "bad-encoding"),
        (b"\xfe\xff", "csv", "bad-encoding"),
        (BODIES["parquet"][:-1], "parquet", "bad-parquet"),
        (BODIES["parquet"][: len(BODIES["parquet"]) // 2], "parquet", "bad-parquet"),
        (b"PAR1", "parquet", "bad-parquet"),
    ],
)
def test_wrong_bodies(body: bytes, kind: str, code: str) -> None:
    """A body that is wrong as a whole says so with its own code and a sentence."""
    with pytest.raises(UnreadableBody) as caught:
        read(body, kind)

    assert caught.value.code == code
    assert str(caught.value)


def test_semicolons_are_named() -> None:
    """The message for another separator says what is allowed."""
    with pytest.raises(UnreadableBody, match="semicolons; only commas are read, with a point in numbers"):
        read(b"vehicle;taken_at;RPM\n", "csv")


def test_unknown_kind() -> None:
    """Another kind is refused with the list of kinds."""
    with pytest.raises(UnknownKind, match="json, ndjson, csv, parquet"):
        read(b"", "xlsx")


def test_endless_line() -> None:
    """A stream that never ends its line is stopped."""
    chunks = (b"x" * (1 << 20) for _ in range(1 << 20))

    with pytest.raises(UnreadableBody) as caught:
        next(iter_snapshots(chunks, kind="ndjson", now_us=NOW, aliases=AliasTable()))

    assert caught.value.code == "line-too-long"
    assert LONGEST_LINE < 1 << 30


def test_file_of_one_vehicle() -> None:
    """A file of one vehicle may leave the column out, in CSV and in Parquet."""
    csv = read(f"taken_at,RPM\n{TIME},700\n".encode(), "csv", vehicle="V-1")
    parquet = read(write_parquet(pa.table({"taken_at": [TIME], "RPM": [700]})), "parquet", vehicle="V-1")

    assert csv.batch.vehicle == parquet.batch.vehicle == ["V-1"]


def test_parquet_needs_its_columns() -> None:
    """Without a vehicle for the whole file, Parquet needs the column."""
    with pytest.raises(UnreadableBody) as caught:
        read(write_parquet(pa.table({"taken_at": [TIME], "RPM": [700]})), "parquet")

    assert caught.value.code == "missing-column"


def make_table(**columns: pa.Array) -> bytes:
    """Write a Parquet file of two rows with further columns."""
    table = {"vehicle": ["V-1", "V-2"], "taken_at": [TIME, TIME], **columns}
    return write_parquet(pa.table(table))


@pytest.mark.parametrize(
    "column",
    [
        pa.array([700, None], pa.int16()),
        pa.array([700, None], pa.float32()),
        pa.array([700, None], pa.decimal128(7, 2)),
        pa.array([700.0, np.nan], pa.float64()),
        pa.array([700, None], pa.int64()).dictionary_encode(),
    ],
)
def test_parquet_numbers(column: pa.Array) -> None:
    """Every number type is read; null and NaN are missing, and NaN is noted."""
    arrival = read(make_table(RPM=column, MAP=pa.array([35, 36])), "parquet")

    rpm = arrival.batch.values[:, 4]
    np.testing.assert_array_equal(rpm, [700, np.nan])
    assert arrival.notes.get("nan-as-missing", 0) == (column.null_count == 0)


@pytest.mark.parametrize(
    "column",
    [
        pa.array(["V-1", "V-2"]).dictionary_encode(),
        pa.array(["V-1", "V-2"], pa.large_string()),
        pa.array(["V-1 ", " V-2"]),
    ],
)
def test_parquet_texts(column: pa.Array) -> None:
    """Every text type is read."""
    table = pa.table({"vehicle": column, "taken_at": [TIME, TIME], "RPM": [700, 700]})

    assert read(write_parquet(table), "parquet").batch.vehicle == ["V-1", "V-2"]


def test_parquet_times() -> None:
    """A timestamp with a zone is exact to the microsecond; one without is refused."""
    us = [1_930_000_000_123_456, None]
    for unit in ("us", "ns"):
        column = pa.array(us, pa.timestamp("us", "Europe/Berlin")).cast(pa.timestamp(unit, "Europe/Berlin"))
        table = pa.table({"vehicle": ["V-1", "V-2"], "taken_at": column, "RPM": [700, 700]})
        arrival = read(write_parquet(table), "parquet")
        assert arrival.batch.taken_us.tolist() == us[:1]
        assert refused(arrival) == [(1, "no-time")]

    naive = pa.table({"vehicle": ["V-1"], "taken_at": pa.array([us[0]], pa.timestamp("us")), "RPM": [700]})
    assert refused(read(write_parquet(naive), "parquet")) == [(0, "time-without-offset")]


@pytest.mark.parametrize(
    ("name", "column", "code"),
    [
        ("RPM", pa.array(["700", None]), "bad-value"),
        ("RPM", pa.array([True, None]), "bad-value"),
        ("RPM", pa.array([np.inf, None]), "not-finite"),
        ("RPM", pa.array([[1], None]), "bad-value"),
        ("odometer_km", pa.array(["far", None]), "wrong-type"),
        ("odometer_km", pa.array([np.inf, None]), "not-finite"),
        ("ac", pa.array([1, None]), "wrong-type"),
        ("device", pa.array([1.5, 2.5]), "wrong-type"),
    ],
)
def test_parquet_wrong_types(name: str, column: pa.Array, code: str) -> None:
    """A column of another type than its name asks for refuses the rows that have a value in it."""
    arrival = read(make_table(**{name: column, "MAP": pa.array([35, 36])}), "parquet")

    assert refused(arrival)[0] == (0, code)
    assert len(arrival.batch) == (0 if name == "device" else 1)


def test_parquet_unknown_columns() -> None:
    """Unknown columns of any type are kept, empty ones give nothing, personal parts are dropped."""
    arrival = read(
        make_table(
            RPM=pa.array([700, 701]),
            nest=pa.array([{"lat": 48.137, "n": 1}, None]),
            day=pa.array([1, None], pa.date32()),
            word=pa.array(["a", None]),
            nothing=pa.nulls(2),
            ac=pa.nulls(2),
            state=pa.nulls(2),
            lat=pa.array([48.137, 48.137]),
        ),
        "parquet",
    )

    assert json.loads(arrival.batch.extra[0] or "") == {"nest": {"n": 1}, "day": "1970-01-02", "word": "a"}
    assert arrival.batch.extra[1] is None
    assert arrival.personal_fields == 3
    assert "48.137" not in repr(arrival)


def test_parquet_without_rows() -> None:
    """A file without rows is no error."""
    table = pa.Table.from_pylist(FLAT).slice(0, 0)

    assert len(read(write_parquet(table), "parquet").batch) == 0


def test_parquet_damaged_inside() -> None:
    """A file whole in its directory but damaged in its data is refused, after what came before it."""
    body = bytearray(BODIES["parquet"])
    second = pq.ParquetFile(io.BytesIO(bytes(body))).metadata.row_group(1).column(0)
    place = second.dictionary_page_offset or second.data_page_offset
    body[place : place + 40] = b"\xff" * 40

    pieces = iter_snapshots([bytes(body)], kind="parquet", now_us=NOW, aliases=AliasTable(), rows=10)

    assert len(next(pieces).batch) == 10
    with pytest.raises(UnreadableBody) as caught:
        next(pieces)
    assert caught.value.code == "bad-parquet"


def test_parquet_row_group_beyond_memory(monkeypatch: pytest.MonkeyPatch) -> None:
    """A row group that says it unpacks to more than memory may hold is not read."""
    monkeypatch.setattr("ingest.formats.parquet.LARGEST_GROUP", 10)

    with pytest.raises(UnreadableBody) as caught:
        read(BODIES["parquet"], "parquet")

    assert caught.value.code == "too-large"
