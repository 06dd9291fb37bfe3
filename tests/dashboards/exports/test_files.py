"""Export files: the same rows in, the same rows out, in every format; numbers stay numbers."""

import csv
import io
import json
from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import numpy as np
import openpyxl
import pyarrow.parquet as pq
import pytest

from dashboards.dictionary import dictionary_csv
from dashboards.exports import csv_file, files, xlsx_file
from dashboards.exports.columns import DATASETS, RISK, SNAPSHOTS, TICKETS, Column, Dataset, dataset_of
from dashboards.exports.errors import ExportTooLarge, UnknownDataset, UnknownFormat, WrongColumns, WrongValue
from dashboards.exports.manifest import Tally, manifest
from dashboards.exports.table import About
from ingest.parameters import PARAMETERS
from service.tickets.ticket import EXPORT_COLUMNS

ABOUT = About(as_of=date(2031, 9, 1), filters={"depot": "North"}, version="0.1.0")
TIME = datetime(2031, 3, 4, 6, 12, 9, 250_000, tzinfo=UTC)

EVERY: Dataset = Dataset(
    name="every",
    meaning="One column of each type.",
    columns=(
        Column(name="id", meaning="i", type="id"),
        Column(name="text", meaning="t", type="text", empty="none"),
        Column(name="number", meaning="n", type="number", unit="%", empty="none"),
        Column(name="integer", meaning="i", type="integer", unit="1", empty="none"),
        Column(name="boolean", meaning="b", type="boolean", empty="none"),
        Column(name="date", meaning="d", type="date", empty="none"),
        Column(name="time", meaning="t", type="time", empty="none"),
        Column(name="money", meaning="m", type="money", unit="EUR", empty="none"),
    ),
)
ROWS: Mapping[str, Sequence[Any]] = {
    "id": ["007", "12E4", "V-0017"],
    "text": ['say "ah", then\r\nstop', None, "Ærøskøbing, µ 10 %"],
    "number": [-4.7, None, 0.1],
    "integer": [-3, None, 2**40],
    "boolean": [True, None, False],
    "date": [date(2031, 3, 4), None, date(1999, 12, 31)],
    "time": [TIME, None, TIME + timedelta(days=1)],
    "money": [Decimal("-12.345"), None, 0.1],
}
CENTS = [Decimal("-12.34"), None, Decimal("0.10")]
FORMATS = list(files.MEDIA_TYPES)


def write(form: str, dataset: Dataset = EVERY, *chunks: Mapping[str, Sequence[Any]]) -> bytes:
    """Write rows in a format."""
    sink = io.BytesIO()
    files.write(sink, form, dataset, chunks or [ROWS], ABOUT)
    return sink.getvalue()


def cells(body: bytes) -> list[list[str]]:
    """Read CSV as text cells."""
    return list(csv.reader(io.StringIO(body.decode(), newline="")))


def test_csv_reads_back_equal() -> None:
    """Text, numbers, dates and times come back from CSV as they went in."""
    head, *rows = cells(write("csv"))

    assert head == list(EVERY.names)
    assert [row[0] for row in rows] == ROWS["id"]
    assert [row[1] or None for row in rows] == ROWS["text"]
    assert [float(row[2]) if row[2] else None for row in rows] == ROWS["number"]
    assert [int(row[3]) if row[3] else None for row in rows] == ROWS["integer"]
    assert [row[4] for row in rows] == ["true", "", "false"]
    assert [date.fromisoformat(row[5]) if row[5] else None for row in rows] == ROWS["date"]
    assert [datetime.fromisoformat(row[6]) if row[6] else None for row in rows] == ROWS["time"]
    assert [Decimal(row[7]) if row[7] else None for row in rows] == CENTS


def test_json_reads_back_equal() -> None:
    """The same from JSON, with null for what is missing and keys in column order."""
    rows = json.loads(write("json"))

    assert [list(row) for row in rows] == [list(EVERY.names)] * 3
    assert [row["id"] for row in rows] == ROWS["id"]
    assert [row["text"] for row in rows] == ROWS["text"]
    assert [row["number"] for row in rows] == ROWS["number"]
    assert [row["integer"] for row in rows] == ROWS["integer"]
    assert [row["boolean"] for row in rows] == ROWS["boolean"]
    assert [row["time"] and datetime.fromisoformat(row["time"]) for row in rows] == ROWS["time"]
    assert [row["money"] for row in rows] == [-12.34, None, 0.1]


def test_parquet_reads_back_equal() -> None:
    """The same from Parquet, with UTC timestamps, decimal money, units and meanings."""
    table = pq.read_table(io.BytesIO(write("parquet")))

    for name in ("id", "text", "number", "integer", "boolean", "date", "time"):
        assert table[name].to_pylist() == list(ROWS[name])
    assert table["money"].to_pylist() == CENTS
    assert str(table.schema.field("time").type) == "timestamp[us, tz=UTC]"
    assert table.schema.field("number").metadata[b"unit"] == b"%"
    assert table.schema.field("number").metadata[b"meaning"] == b"n"
    assert table.schema.metadata[b"forelamp.as_of"] == b"2031-09-01"
    assert table.schema.metadata[b"forelamp.version"] == b"0.1.0"


def test_xlsx_reads_back_equal() -> None:
    """The same from XLSX, typed: ids as text, times as UTC dates with "(UTC)" in the header."""
    book = openpyxl.load_workbook(io.BytesIO(write("xlsx")))
    head, *rows = book["every"].iter_rows(values_only=True)

    assert head == ("id", "text", "number", "integer", "boolean", "date", "time (UTC)", "money")
    columns = list(zip(*rows, strict=True))
    assert list(columns[0]) == ROWS["id"]
    assert [text and text.replace("_x000D_", "\r") for text in columns[1]] == ROWS["text"]
    assert list(columns[2]) == ROWS["number"]
    assert list(columns[3]) == ROWS["integer"]
    assert list(columns[4]) == ROWS["boolean"]
    assert [day and day.date() for day in columns[5]] == ROWS["date"]
    assert [time and time.replace(tzinfo=UTC) for time in columns[6]] == ROWS["time"]
    assert list(columns[7]) == [-12.34, None, 0.1]
    assert not book["every"].merged_cells.ranges


def test_xlsx_explains_itself() -> None:
    """The Read me sheet names as-of date, filters and the meaning of every column."""
    book = openpyxl.load_workbook(io.BytesIO(write("xlsx")))
    words = list(book["Read me"].iter_rows(values_only=True))

    assert ("As of", "2031-09-01") in [row[:2] for row in words]
    assert ("Filters", "depot = North") in [row[:2] for row in words]
    assert {row[0] for row in words} >= set(EVERY.names)


@pytest.mark.parametrize("form", FORMATS)
def test_same_rows_give_the_same_bytes(form: str) -> None:
    """No clock goes into a file."""
    assert write(form) == write(form)


@pytest.mark.parametrize("form", FORMATS)
def test_no_rows_give_headers(form: str) -> None:
    """An empty export is a file with its columns and 0 rows."""
    empty: dict[str, list[Any]] = {name: [] for name in TICKETS.names}
    body = write(form, TICKETS, empty)

    if form == "csv":
        assert cells(body) == [list(TICKETS.names)]
    elif form == "json":
        assert json.loads(body) == []
    elif form == "parquet":
        assert pq.read_table(io.BytesIO(body)).column_names == list(TICKETS.names)
    else:
        assert openpyxl.load_workbook(io.BytesIO(body))["tickets"].max_row == 1


@pytest.mark.parametrize("form", FORMATS)
def test_pieces_add_up(form: str) -> None:
    """A file written in pieces holds the same rows as one written at once."""
    pieces: list[Mapping[str, Sequence[Any]]] = [
        {name: values[place : place + 1] for name, values in ROWS.items()} for place in range(3)
    ]
    sink = io.BytesIO()

    rows = files.write(sink, form, EVERY, pieces, ABOUT)

    assert rows == 3
    if form in ("csv", "json", "xlsx"):
        assert sink.getvalue() == write(form)
    else:
        assert pq.read_table(io.BytesIO(sink.getvalue())).num_rows == 3


def test_csv_follows_the_published_form() -> None:
    """Cells with comma, quote or line end are quoted, inner quotes doubled, rows end in CRLF."""
    dataset = Dataset(
        name="t",
        meaning="",
        columns=tuple(
            Column(name=name, meaning="", type=kind)  # type: ignore[arg-type]
            for name, kind in (("a", "text"), ("b", "text"), ("c", "text"), ("d", "text"), ("e", "number"))
        ),
    )
    rows: dict[str, list[Any]] = {"a": ["aaa"], "b": ['b"bb'], "c": ["c,c"], "d": ["d\ne"], "e": [-5.47]}

    body = b"".join(csv_file.write(dataset, [rows]))

    assert body == b'a,b,c,d,e\r\naaa,"b""bb","c,c","d\ne",-5.47\r\n'


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\0=1", "\r=1"])
def test_formulas_are_quoted_off_in_text(text: str) -> None:
    """Text that a spreadsheet would run gets a leading single quote, ids included."""
    row: dict[str, list[Any]] = {name: [None] for name in EVERY.names} | {"id": [text], "text": [text]}

    body = b"".join(csv_file.write(EVERY, [row]))

    assert cells(body)[1][:2] == [f"'{text}", f"'{text}"]


def test_formulas_stay_text_in_xlsx() -> None:
    """In XLSX a text that looks like a formula is a text cell, not a formula."""
    row: dict[str, list[Any]] = {name: [None] for name in EVERY.names} | {"id": ["=1+1"], "text": ["=1+1"]}
    book = openpyxl.load_workbook(io.BytesIO(write("xlsx", EVERY, row)))

    assert {cell.data_type for cell in book["every"][2][:2]} <= {"s", "inlineStr"}


@pytest.mark.parametrize("form", FORMATS)
def test_negative_trim_is_a_number(form: str) -> None:
    """A fuel trim of -4.7 is numeric in every format: never quoted, never text."""
    body = write(form)

    if form == "csv":
        assert cells(body)[1][2] == "-4.7"
    elif form == "json":
        assert b'"number":-4.7,' in body
    elif form == "parquet":
        assert pq.read_table(io.BytesIO(body))["number"][0].as_py() == -4.7
    else:
        assert openpyxl.load_workbook(io.BytesIO(body))["every"]["C2"].data_type == "n"


def test_arrays_and_missing_values() -> None:
    """Numpy columns go in as they are; NaN is empty; whole microseconds and days are times and dates."""
    columns: dict[str, Any] = {
        "id": ["a", "b"],
        "text": ["", None],
        "number": np.array([1.5, np.nan]),
        "integer": np.array([1, 2], np.int32),
        "boolean": np.array([True, False]),
        "date": np.array([0, 1], np.int32),
        "time": np.array([0, 1_000_000], np.int64),
        "money": np.array([1.005, np.nan]),
    }

    rows = cells(write("csv", EVERY, columns))[1:]

    assert rows[0] == ["a", "", "1.5", "1", "true", "1970-01-01", "1970-01-01T00:00:00+00:00", "1.00"]
    assert rows[1] == ["b", "", "", "2", "false", "1970-01-02", "1970-01-01T00:00:01+00:00", ""]


def test_too_many_rows_for_a_sheet_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """XLSX beyond its rows is refused with advice, not cut."""
    monkeypatch.setattr(xlsx_file, "MOST_ROWS", 3)

    with pytest.raises(ExportTooLarge, match="take CSV or Parquet"):
        write("xlsx")


def test_sheet_limit_is_the_formats() -> None:
    """The limit is the one that the format publishes."""
    assert xlsx_file.MOST_ROWS == 1_048_576


def test_byte_order_mark_only_on_request() -> None:
    """A byte-order mark is written only when asked for."""
    assert not write("csv").startswith(b"\xef\xbb\xbf")
    assert b"".join(csv_file.write(EVERY, [ROWS], mark=True)).startswith(b"\xef\xbb\xbfid,")


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("number", "1"), ("number", True), ("number", float("inf")), ("integer", 1.5), ("integer", True),
        ("boolean", 1),
        ("date", TIME), ("time", datetime(2031, 1, 1)), ("id", 7), ("money", float("inf")),  # noqa: DTZ001
    ],
)  # fmt: skip
def test_wrong_values_are_named(name: str, value: object) -> None:
    """A value of the wrong type is refused with column, row and what is allowed."""
    with pytest.raises(WrongValue, match=rf"Column `{name}`, row 3: must be ") as caught:
        write("csv", EVERY, {**ROWS, name: [None, None, value]})

    assert caught.value.value is value


def test_endless_numbers_in_arrays_are_named() -> None:
    """An infinite number inside an array is refused by its row; minus zero is written as zero."""
    endless: Any = np.array([1.0, -np.inf, 2.0])
    zero: Any = np.array([-0.0, 1.0, 2.0])

    with pytest.raises(WrongValue, match="Column `number`, row 2"):
        write("csv", EVERY, {**ROWS, "number": endless})
    assert cells(write("csv", EVERY, {**ROWS, "number": zero}))[1][2] == "0.0"


def test_wrong_columns_are_named() -> None:
    """Columns missing, unknown or uneven are refused by name."""
    with pytest.raises(WrongColumns, match="missing: money"):
        write("csv", EVERY, {name: values for name, values in ROWS.items() if name != "money"})
    with pytest.raises(WrongColumns, match="does not have: driver"):
        write("csv", EVERY, {**ROWS, "driver": []})
    with pytest.raises(WrongColumns, match=r"3 rows: text \(1\)"):
        write("csv", EVERY, {**ROWS, "text": [None]})


def test_unknown_names_list_what_is_allowed() -> None:
    """A dataset or format that does not exist is refused with those that do."""
    assert dataset_of("tickets") is TICKETS
    with pytest.raises(UnknownDataset, match="tickets, trends, risk, budget, snapshots"):
        dataset_of("drivers")
    with pytest.raises(UnknownFormat, match="csv, json, parquet, xlsx"):
        files.write(io.BytesIO(), "ods", EVERY, [ROWS], ABOUT)


def test_manifest_checks_the_file() -> None:
    """The manifest carries sum, rows, as-of and filters, and nothing of the hour."""
    tally = Tally()
    body = b"".join(tally.passing(files.stream("csv", EVERY, [ROWS])))

    slip = json.loads(manifest(file="every.csv", dataset=EVERY, form="csv", rows=3, tally=tally, about=ABOUT))

    known = Tally()
    known.add(body)
    assert slip["sha256"] == known.sha256
    assert slip["bytes"] == len(body)
    assert (slip["rows"], slip["as_of"], slip["filters"]) == (3, "2031-09-01", {"depot": "North"})


def test_sum_is_the_published_one() -> None:
    """The sum is SHA-256: the known digest of `abc` (FIPS 180-4)."""
    tally = Tally()
    tally.add(b"a")
    tally.add(b"bc")

    assert tally.sha256 == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_ticket_columns_are_the_contracts() -> None:
    """Tickets are exported in the order that other programs rely on."""
    assert TICKETS.names == EXPORT_COLUMNS


def test_snapshots_carry_every_parameter() -> None:
    """Every parameter of the catalogue is a column of the snapshots."""
    assert SNAPSHOTS.names[-len(PARAMETERS) :] == tuple(PARAMETERS)


@pytest.mark.parametrize("dataset", DATASETS.values(), ids=DATASETS)
def test_every_column_is_explained(dataset: Dataset) -> None:
    """Each column says what it means and what empty means; numbers and sums have a unit."""
    assert len(set(dataset.names)) == len(dataset.names)
    for column in dataset.columns:
        assert column.meaning.endswith(".")
        assert column.empty
        assert column.since
        assert column.unit or column.type not in ("number", "money")


def test_nothing_of_people_or_places_is_exported() -> None:
    """No column has room for a driver or a location."""
    names = " ".join(name for dataset in DATASETS.values() for name in dataset.names)

    assert not any(
        word in names for word in ("driver", "latitude", "longitude", "position_", "address", "vin")
    )


def test_dictionary_file_has_every_column() -> None:
    """The dictionary as a file has one row for each column of each dataset."""
    rows = cells(dictionary_csv())[1:]

    assert [(row[0], row[1]) for row in rows] == [
        (dataset.name, name) for dataset in DATASETS.values() for name in dataset.names
    ]
    assert ("risk", "standing") in {(row[0], row[1]) for row in rows}
    assert RISK.names[0] == "as_of"
