"""XLSX: typed cells, ids as text, times in UTC with "(UTC)" in the header, and a sheet that explains it.

The same rows give the same bytes: the workbook carries a fixed date instead of the time of writing.
"""

from collections.abc import Callable, Iterable, Mapping
from datetime import datetime
from tempfile import TemporaryDirectory
from typing import Any, BinaryIO, Final

import xlsxwriter

from dashboards.exports.columns import Column, Dataset
from dashboards.exports.errors import ExportTooLarge
from dashboards.exports.table import About, Columns, check_all

MEDIA_TYPE: Final = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
MOST_ROWS: Final = 1_048_576
"""Rows of one sheet, header included; ECMA-376 / the format's published limits."""

CREATED: Final = datetime(2000, 1, 1)  # noqa: DTZ001 - the format has no zones; a fixed date, not a time
"""Date that every workbook carries, so that the same rows give the same bytes."""

_OPTIONS: Final = {"constant_memory": True, "strings_to_formulas": False, "strings_to_urls": False}

_FORMATS: Final[Mapping[str, str]] = {
    "id": "@",
    "date": "yyyy-mm-dd",
    "time": "yyyy-mm-dd hh:mm:ss.000",
    "money": "0.00",
    "integer": "0",
}


def write(sink: BinaryIO, dataset: Dataset, chunks: Iterable[Columns], about: About) -> int:
    """Write a workbook: the rows on the first sheet, `Read me` on the second.

    Parameters
    ----------
    sink : binary file
        Where it goes.
    dataset, chunks, about
        As for the other formats.

    Returns
    -------
    int
        Rows written.

    Raises
    ------
    ExportTooLarge
        More rows than a sheet holds; what was written to `sink` is then no workbook.
    """
    with TemporaryDirectory() as aside:  # the library keeps rows aside there, or a long export would not fit
        book = xlsxwriter.Workbook(sink, {**_OPTIONS, "tmpdir": aside})
        book.set_properties({"title": f"Forelamp {dataset.name}", "created": CREATED})
        try:
            rows = _write_rows(book, dataset, chunks)
        except BaseException:
            _abandon(book)
            raise
        _write_words(book, dataset, about, rows)
        book.close()
    return rows


def _abandon(book: Any) -> None:
    """Let go of the rows kept aside so far, without the work of making a workbook of them."""
    for sheet in book.worksheets():
        sheet.row_data_fh.close()
    book.fileclosed = True


def header(column: Column) -> str:
    """Name a column in the sheet's first row.

    Examples
    --------
    >>> header(Column(name="raised_at", meaning="", type="time"))
    'raised_at (UTC)'
    """
    return f"{column.name} (UTC)" if column.type == "time" else column.name


def _write_rows(book: Any, dataset: Dataset, chunks: Iterable[Columns]) -> int:
    sheet = book.add_worksheet(dataset.name)
    bold = book.add_format({"bold": True})
    formats = [
        book.add_format({"num_format": _FORMATS[column.type]}) if column.type in _FORMATS else None
        for column in dataset.columns
    ]
    put = [_put(sheet, column) for column in dataset.columns]
    sheet.freeze_panes(1, 0)
    for place, column in enumerate(dataset.columns):
        sheet.set_column(place, place, max(10, min(len(header(column)) + 2, 40)))
        sheet.write_string(0, place, header(column), bold)
    row = 0
    for chunk in check_all(dataset, chunks):
        for values in zip(*chunk.values, strict=True):
            row += 1
            if row >= MOST_ROWS:
                raise ExportTooLarge(MOST_ROWS)
            for place, value in enumerate(values):
                if value is not None:
                    put[place](row, place, value, formats[place])
    return row


def _put(sheet: Any, column: Column) -> Callable[[int, int, Any, Any], object]:
    if column.type in ("id", "text"):
        put: Callable[[int, int, Any, Any], object] = sheet.write_string
    elif column.type == "boolean":
        put = sheet.write_boolean
    elif column.type == "date":
        put = sheet.write_datetime
    elif column.type == "time":

        def put(row: int, place: int, value: Any, form: Any) -> object:
            return sheet.write_datetime(row, place, value.replace(tzinfo=None), form)
    else:

        def put(row: int, place: int, value: Any, form: Any) -> object:
            return sheet.write_number(row, place, float(value), form)

    return put


def _write_words(book: Any, dataset: Dataset, about: About, rows: int) -> None:
    sheet = book.add_worksheet("Read me")
    bold = book.add_format({"bold": True})
    facts = (
        ("Dataset", dataset.name),
        ("One row is", dataset.meaning),
        ("Rows", str(rows)),
        ("As of", about.as_of_text or "everything known when it was written"),
        ("Lost since", about.lost_text or "nothing"),
        ("Filters", "; ".join(f"{name} = {text}" for name, text in sorted(about.filters.items())) or "none"),
        ("Times", "UTC: this format has no time zones"),
        ("Written by", f"Forelamp {about.version}".strip()),
    )
    sheet.set_column(0, 0, 24)
    sheet.set_column(1, 1, 60)
    for row, (name, text) in enumerate(facts):
        sheet.write_string(row, 0, name, bold)
        sheet.write_string(row, 1, text)
    start = len(facts) + 1
    heads = ("Column", "Meaning", "Type", "Unit", "Allowed", "Empty means", "Since")
    for place, word in enumerate(heads):
        sheet.write_string(start, place, word, bold)
    for row, column in enumerate(dataset.columns, start + 1):
        words = (
            column.name,
            column.meaning,
            column.type,
            column.unit,
            column.allowed,
            column.empty,
            column.since,
        )
        for place, text in enumerate(words):
            sheet.write_string(row, place, text)
