"""Whatever people or devices write into any text, no file runs it; numbers stay; all reads back."""

import csv
import io
import json
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any, Final

import openpyxl
import pyarrow.parquet as pq
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dashboards.exports import files
from dashboards.exports.columns import DATASETS, Column, Dataset
from dashboards.exports.csv_file import GUARDED, guarded
from dashboards.exports.table import About

FIRST: Final = ("=", "+", "-", "@", "\t", "\r", "\0")
"""Signs with which a spreadsheet's formula may begin (OWASP ASVS 5.0.0 V1.2.10), and CR."""

REST: Final = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
NASTY: Final = st.one_of(
    st.builds(str.__add__, st.sampled_from(FIRST), REST),
    st.sampled_from(
        ["=1+1", "@SUM(A1)", "+cmd|' /C calc'!A0", "-2+3", '=HYPERLINK("//x")', "'=1", "\t=1", "\n=1"]
    ),
    REST,
)
PLAIN: Final = st.text(st.characters(min_codepoint=32, max_codepoint=126), max_size=12)
WHEN: Final = datetime(2031, 3, 4, 6, 12, 9, tzinfo=UTC)


def values_of(column: Column, text: st.SearchStrategy[str]) -> st.SearchStrategy[Any]:
    """Give what a column of a type may hold; text is anything, numbers are mostly below nought."""
    kinds: dict[str, st.SearchStrategy[Any]] = {
        "id": text,
        "text": text,
        "number": st.floats(-1e6, -1e-3),
        "integer": st.integers(-10_000, -1),
        "boolean": st.booleans(),
        "date": st.just(date(2031, 3, 4)),
        "time": st.just(WHEN),
        "money": st.decimals(-1000, -1, places=2),
    }
    return kinds[column.type]


def rows_of(dataset: Dataset, text: st.SearchStrategy[str]) -> st.SearchStrategy[dict[str, Any]]:
    """Give rows of a dataset with text in every column that can hold some."""
    return st.fixed_dictionaries({one.name: values_of(one, text) for one in dataset.columns})


def write(form: str, dataset: Dataset, row: dict[str, Any]) -> bytes:
    """Write one row."""
    sink = io.BytesIO()
    files.write(sink, form, dataset, [{name: [value] for name, value in row.items()}], About())
    return sink.getvalue()


def test_signs_are_the_published_ones() -> None:
    """What is guarded against is what is published, and CR."""
    assert set(GUARDED) == set(FIRST)


@pytest.mark.parametrize("name", DATASETS)
@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_csv(name: str, data: st.DataObject) -> None:
    """No cell of text begins as a formula does; numbers below nought are numbers; text reads back."""
    dataset = DATASETS[name]
    row = data.draw(rows_of(dataset, NASTY))

    (_, cells) = csv.reader(io.StringIO(write("csv", dataset, row).decode(), newline=""))

    for column, cell in zip(dataset.columns, cells, strict=True):
        value = row[column.name]
        if column.type in ("id", "text"):
            assert not cell.startswith(FIRST)
            assert cell == guarded(value)
            assert cell.removeprefix("'") == value.removeprefix("'") or cell == value
        elif column.type in ("number", "integer", "money"):
            assert Decimal(cell) == Decimal(repr(value) if column.type == "number" else value)


@pytest.mark.parametrize("name", DATASETS)
@settings(max_examples=25, deadline=None)
@given(data=st.data())
def test_json_and_parquet(name: str, data: st.DataObject) -> None:
    """Formats with types of their own hold every text and number as it is."""
    dataset = DATASETS[name]
    row = data.draw(rows_of(dataset, NASTY))

    (told,) = json.loads(write("json", dataset, row))
    (kept,) = pq.read_table(io.BytesIO(write("parquet", dataset, row))).to_pylist()

    for column in dataset.columns:
        if column.type in ("id", "text"):
            assert (told[column.name] or "") == (kept[column.name] or "") == row[column.name]
        elif column.type == "number":
            assert told[column.name] == kept[column.name] == row[column.name]


@pytest.mark.parametrize("name", DATASETS)
@settings(max_examples=8, deadline=None)
@given(data=st.data())
def test_xlsx(name: str, data: st.DataObject) -> None:
    """A worksheet has no formula in it, whatever the text; numbers are numbers."""
    dataset = DATASETS[name]
    row = data.draw(rows_of(dataset, st.builds(str.__add__, st.sampled_from("=+-@"), PLAIN)))

    sheet = openpyxl.load_workbook(io.BytesIO(write("xlsx", dataset, row))).worksheets[0]

    for column, cell in zip(dataset.columns, sheet[2], strict=True):
        if column.type in ("id", "text"):
            assert (cell.data_type, cell.value) == ("s", row[column.name])
            assert cell.hyperlink is None
        elif column.type in ("number", "integer"):
            assert cell.data_type == "n"
            assert float(cell.value) == pytest.approx(float(row[column.name]), rel=1e-15)
