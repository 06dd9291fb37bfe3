"""The one door to every format."""

from collections.abc import Iterable, Iterator, Mapping
from typing import BinaryIO, Final

from dashboards.exports import csv_file, json_file, parquet_file, xlsx_file
from dashboards.exports.columns import Dataset
from dashboards.exports.errors import UnknownFormat
from dashboards.exports.table import About, Columns

MEDIA_TYPES: Final[Mapping[str, str]] = {
    "csv": csv_file.MEDIA_TYPE,
    "json": json_file.MEDIA_TYPE,
    "parquet": parquet_file.MEDIA_TYPE,
    "xlsx": xlsx_file.MEDIA_TYPE,
}
"""Media type of each format, by the format's name, which is also the file's ending."""


def write(sink: BinaryIO, form: str, dataset: Dataset, chunks: Iterable[Columns], about: About) -> int:
    """Write an export in any format.

    Parameters
    ----------
    sink : binary file
        Where it goes; Parquet and XLSX need one that can tell its place.
    form : str
        One of `MEDIA_TYPES`.
    dataset : Dataset
        What it holds.
    chunks : iterable of columns
        Its rows, in as many pieces as suits the caller.
    about : About
        As-of date, filters and version.

    Returns
    -------
    int
        Rows written.

    Raises
    ------
    UnknownFormat, WrongColumns, WrongValue, ExportTooLarge
        As their names say.
    """
    if form == "parquet":
        return parquet_file.write(sink, dataset, chunks, about)
    if form == "xlsx":
        return xlsx_file.write(sink, dataset, chunks, about)
    counted = _Counted(dataset, chunks)
    for piece in stream(form, dataset, counted):
        sink.write(piece)
    return counted.rows


def stream(form: str, dataset: Dataset, chunks: Iterable[Columns]) -> Iterator[bytes]:
    """Write CSV or JSON in pieces, for answers of any length.

    Raises
    ------
    UnknownFormat
        The format is not one that can be streamed or written at all.
    """
    if form == "csv":
        return csv_file.write(dataset, chunks)
    if form == "json":
        return json_file.write(dataset, chunks)
    raise UnknownFormat(form, tuple(MEDIA_TYPES))


class _Counted:
    """Counts rows as pieces pass by."""

    def __init__(self, dataset: Dataset, chunks: Iterable[Columns]) -> None:
        self._first = dataset.names[0]
        self._chunks = chunks
        self.rows = 0

    def __iter__(self) -> Iterator[Columns]:
        for columns in self._chunks:
            self.rows += len(columns.get(self._first, ()))
            yield columns
