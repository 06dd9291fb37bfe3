"""What the fuzzers begin from, what they once found, and Parquet files that are sound but strange.

The fuzzers themselves: pip install -e '.[fuzz]'; python -m tests.fuzz --seconds 60
More strange files: FORELAMP_TEST_EXAMPLES=5000 python -m pytest -s tests/fuzz
"""

import io
import json
import os
from typing import Any, Final

import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from hypothesis import HealthCheck, given, reject, settings
from hypothesis import strategies as st

from ingest.aliases import AliasTable
from ingest.formats import read_snapshots
from ingest.parameters import CODES
from tests.fuzz.seeds import SEEDS
from tests.fuzz.targets import NOW_US, TARGETS

_EXAMPLES: Final = int(os.environ.get("FORELAMP_TEST_EXAMPLES", "60"))  # noqa: TID251 (tests have no settings)
_TIME: Final = "2031-03-04T06:12:09Z"


def _file(**columns: Any) -> bytes:
    out = io.BytesIO()
    pq.write_table(pa.table(columns), out)
    return out.getvalue()


def _repeated(text: str, rows: int) -> pa.DictionaryArray:
    return pa.DictionaryArray.from_arrays(pa.array([0] * rows, pa.int32()), pa.array([text]))


def _not_utf8(*texts: bytes) -> pa.Array:
    return pa.Array.from_buffers(pa.string(), len(texts), pa.array(texts, pa.binary()).buffers())


@pytest.mark.parametrize("name", sorted(TARGETS))
def test_seeds_are_read(name: str) -> None:
    """Every decoder takes what its fuzzer begins from."""
    assert {TARGETS[name](body) for body in SEEDS[name]} == {"read"}


@pytest.mark.parametrize(
    ("name", "body", "ended"),
    [
        ("csv", b"vehicle,why_refused\n" + b'"' + b"x" * 200_000 + b'",y\n', "bad-csv"),
        ("csv", b"vehicle,taken_at" + b"".join(b",c%d" % n for n in range(1_000)) + b"\n", "too-large"),
        ("csv", b"vehicle,taken_at" + b",c" * 900 + b"\n" + b"," * 901 + b"\n", "repeated-column"),
        ("ndjson", b"0\n" * 500_001, "too-large"),
        ("json", b"[" + b"0," * 500_000 + b"0]", "too-large"),
        ("json", b"[" + b"0," * 6_000_000 + b"0]", "too-large"),
        ("json", b'{"vehicle": "V", "x":' + b"[" * 100_000 + b"]" * 100_000 + b"}", "bad-json"),
    ],
    ids=["cell", "columns", "repeats", "lines", "items", "commas", "nested"],
)
def test_found_before(name: str, body: bytes, ended: str) -> None:
    """Bodies that broke a decoder, or were answered out of all proportion, are refused by name."""
    assert TARGETS[name](body) == ended


@pytest.mark.parametrize(
    "body",
    [
        _file(vehicle=_repeated("V-1", 600_000), taken_at=_repeated(_TIME, 600_000)),
        _file(vehicle=_repeated("V" * 100_000, 20_000), taken_at=_repeated(_TIME, 20_000)),
        _file(
            vehicle=["V"] * 500, taken_at=[_TIME] * 500, x=pa.array([[1] * 20_000] * 500, pa.list_(pa.int8()))
        ),
        _file(vehicle=pa.nulls(600_000, pa.string()), taken_at=pa.nulls(600_000, pa.string())),
        _file(vehicle=["V"], taken_at=[_TIME], **{f"c{n}": [1.0] for n in range(1_000)}),
        _file(
            vehicle=["V"] * 40_000,
            taken_at=[_TIME] * 40_000,
            x=pa.array([b"x" * 9_000] * 40_000, pa.binary(9_000)),
        ),
        _file(vehicle=["V"] * 9_000, taken_at=[_TIME] * 9_000, x=pa.array([{"a": "x" * 50_000}] * 9_000)),
    ],
    ids=["rows", "text", "list", "nulls", "columns", "fixed", "nested"],
)
def test_small_files_that_unpack_to_much(body: bytes) -> None:
    """A file of a few thousand bytes may name terabytes: it is refused before they are in memory."""
    assert len(body) < 400_000
    assert TARGETS["parquet"](body) == "too-large"


def test_texts_that_are_not_utf8() -> None:
    """In Parquet as in CSV a text that is not UTF-8 refuses its row; the other rows are taken."""
    body = _file(vehicle=_not_utf8(b"V-1", b"V\xff"), taken_at=[_TIME] * 2, RPM=[700, 700])
    arrival = read_snapshots(body, kind="parquet", now_us=NOW_US, aliases=AliasTable())

    assert arrival.batch.vehicle == ["V-1"]
    assert [(one.index, one.code) for one in arrival.rejected] == [(1, "bad-encoding")]
    assert TARGETS["parquet"](_file(vehicle=["V"], taken_at=[_TIME], x=_not_utf8(b"\xff"))) == "read"


_TEXT_KINDS: Final = (pa.string(), pa.large_string(), pa.binary(), pa.dictionary(pa.int8(), pa.string()))
_NUMBER_KINDS: Final = (
    pa.int8(), pa.uint64(), pa.float16(), pa.float32(), pa.float64(), pa.decimal128(20, 3),
    pa.decimal256(40, 2), pa.dictionary(pa.int32(), pa.float64()),
)  # fmt: skip
_ZONES: Final = (None, "UTC", "Asia/Kathmandu", "+05:30")
_TIME_KINDS: Final = (
    *(pa.timestamp(unit, zone) for unit in ("s", "ms", "us", "ns") for zone in _ZONES),
    pa.date32(), pa.date64(), pa.time32("ms"), pa.time64("ns"), pa.duration("us"),
)  # fmt: skip
_SIMPLE: Final = (*_TEXT_KINDS, *_NUMBER_KINDS, *_TIME_KINDS, pa.bool_(), pa.null())


def _kinds() -> st.SearchStrategy[pa.DataType]:
    simple = st.sampled_from(_SIMPLE)
    inner = st.sampled_from((pa.string(), pa.int16(), pa.float64(), pa.timestamp("us", "UTC"), pa.bool_()))
    return st.one_of(
        simple,
        inner.map(pa.list_),
        inner.map(lambda kind: pa.struct([("lat", kind), ("n", pa.list_(kind))])),
        inner.map(lambda kind: pa.map_(pa.string(), kind)),
    )


@st.composite
def _columns(draw: st.DrawFn, rows: int, kind: pa.DataType) -> pa.Array:
    made = [draw(_value(kind)) for _ in range(rows)]
    if pa.types.is_dictionary(kind):
        return pa.array(made, kind.value_type).dictionary_encode()
    return pa.array(made, kind)


def _value(kind: pa.DataType) -> st.SearchStrategy[Any]:
    if pa.types.is_dictionary(kind):
        kind = kind.value_type
    plain: st.SearchStrategy[Any]
    if pa.types.is_boolean(kind):
        plain = st.booleans()
    elif pa.types.is_decimal(kind):
        plain = st.decimals(-(10**9), 10**9, places=2)
    elif pa.types.is_floating(kind):
        plain = st.floats(width=16)
    elif pa.types.is_integer(kind):
        plain = st.integers(0, 127)
    elif pa.types.is_temporal(kind):
        plain = st.integers(0, 80_000)  # small enough for every unit; date64 wants whole days
        plain = st.sampled_from((0, 86_400_000)) if kind == pa.date64() else plain
    elif pa.types.is_list(kind):
        plain = st.lists(_value(kind.value_type), max_size=3)
    elif pa.types.is_map(kind):
        plain = st.lists(st.tuples(st.text(max_size=3), _value(kind.item_type)), max_size=3)
    elif pa.types.is_struct(kind):
        plain = st.fixed_dictionaries({field.name: _value(field.type) for field in kind})
    elif pa.types.is_null(kind):
        return st.none()
    else:
        texts = st.one_of(
            st.sampled_from(("V-1", _TIME, "CL", "41 0C 0B B8", "1,5", "NaN")), st.text(max_size=5)
        )
        plain = texts.map(str.encode) if pa.types.is_binary(kind) else texts
    return st.none() | plain


@st.composite
def _files(draw: st.DrawFn) -> bytes:
    rows = draw(st.integers(0, 6))
    names = {"vehicle", "taken_at"} | draw(
        st.sets(
            st.sampled_from(("state", "device", "id", "odometer_km", "ac", "service01", "lat", "x", *CODES)),
            max_size=6,
        )
    )
    columns = {name: draw(_columns(rows, draw(_kinds()))) for name in sorted(names)}
    out = io.BytesIO()
    table = pa.table(columns).replace_schema_metadata(
        draw(st.none() | st.dictionaries(st.text(), st.text(), max_size=2))
    )
    try:
        _write(draw, table, out)
    except pa.ArrowException:  # not every kind can be written in every version
        reject()
    return out.getvalue()


def _write(draw: st.DrawFn, table: pa.Table, out: io.BytesIO) -> None:
    pq.write_table(
        table, out,
        row_group_size=draw(st.integers(1, 7)),
        compression=draw(st.sampled_from(("none", "snappy", "gzip", "zstd", "brotli"))),
        use_dictionary=draw(st.booleans()),
        version=draw(st.sampled_from(("1.0", "2.4", "2.6"))),
        data_page_version=draw(st.sampled_from(("1.0", "2.0"))),
        store_schema=draw(st.booleans()),
        use_deprecated_int96_timestamps=draw(st.booleans()),
    )  # fmt: skip


@settings(max_examples=_EXAMPLES, deadline=None, suppress_health_check=list(HealthCheck))
@given(_files())
def test_strange_parquet_files(body: bytes) -> None:
    """Whatever types a sound file has, every row is taken or refused, and what is told of it can be sent."""
    ended = TARGETS["parquet"](body)

    assert ended in {"read", "csv-separator", "repeated-column", "too-large"}, ended


@settings(max_examples=_EXAMPLES, deadline=None, suppress_health_check=list(HealthCheck))
@given(_files(), st.lists(st.tuples(st.integers(0, 5_000), st.integers(0, 255)), min_size=1, max_size=4))
def test_changed_directories(body: bytes, changes: list[tuple[int, int]]) -> None:
    """A sound file whose directory was changed in a few bytes is read or refused; it breaks nothing."""
    length = int.from_bytes(body[-8:-4], "little")
    changed = bytearray(body)
    for place, byte in changes:
        changed[len(body) - 8 - length + place % length] = byte

    TARGETS["parquet"](bytes(changed))


@settings(max_examples=_EXAMPLES * 5, deadline=None)
@given(
    st.lists(st.lists(st.integers(0, 255), max_size=30).map(bytes), min_size=1, max_size=5),
    st.sampled_from(("\n", "\r", "\r\r>", " ", "\x00")),
    st.booleans(),
)
def test_answers_over_several_lines(lines: list[bytes], ends: str, marked: bool) -> None:
    """Raw answers of any bytes over several lines are decoded or refused, alone and within a snapshot."""
    answer = ends.join(("41 " if marked else "") + line.hex(" ").upper() for line in lines)
    item = {"vehicle": "V-1", "taken_at": _TIME, "service01": answer}

    assert TARGETS["service01"](answer.encode()) == "read"
    assert TARGETS["ndjson"](json.dumps(item).encode()) == "read"
