"""Parquet: UTC timestamps, decimal money; meaning and unit in each field, as-of and filters in the file."""

import json
from collections.abc import Iterable, Mapping
from typing import Any, BinaryIO, Final

import pyarrow as pa
import pyarrow.parquet as pq

from dashboards.exports.columns import Column, Dataset
from dashboards.exports.table import About, Columns, check_all

MEDIA_TYPE: Final = "application/vnd.apache.parquet"

_TYPES: Final[Mapping[str, Any]] = {
    "id": pa.string(),
    "text": pa.string(),
    "number": pa.float64(),
    "integer": pa.int64(),
    "boolean": pa.bool_(),
    "date": pa.date32(),
    "time": pa.timestamp("us", tz="UTC"),
    "money": pa.decimal128(18, 2),
}


def schema_of(dataset: Dataset, about: About) -> Any:
    """Give the Arrow schema of a dataset with its words; `pyarrow` ships no types to name it by."""
    fields = [
        pa.field(column.name, _TYPES[column.type], metadata=_words(column)) for column in dataset.columns
    ]
    return pa.schema(
        fields,
        metadata={
            "forelamp.dataset": dataset.name,
            "forelamp.meaning": dataset.meaning,
            "forelamp.as_of": about.as_of_text,
            "forelamp.filters": json.dumps(dict(sorted(about.filters.items()))),
            "forelamp.version": about.version,
            "forelamp.erased_rows": str(about.erased_rows),
            "forelamp.removed_rows": str(about.removed_rows),
        },
    )


def write(sink: BinaryIO, dataset: Dataset, chunks: Iterable[Columns], about: About) -> int:
    """Write a file, one row group for each piece.

    Parameters
    ----------
    sink : binary file
        Where it goes.
    dataset : Dataset
        What it holds.
    chunks : iterable of columns
        Its rows.
    about : About
        As-of date, filters and version, kept in the file's metadata.

    Returns
    -------
    int
        Rows written.
    """
    schema = schema_of(dataset, about)
    rows = 0
    with pq.ParquetWriter(sink, schema, compression="zstd") as writer:
        for chunk in check_all(dataset, chunks):
            arrays = [
                pa.array(values, field.type) for values, field in zip(chunk.values, schema, strict=True)
            ]
            writer.write_table(pa.Table.from_arrays(arrays, schema=schema))
            rows += len(chunk)
    return rows


def _words(column: Column) -> dict[str, str]:
    return {
        "meaning": column.meaning,
        "unit": column.unit,
        "allowed": column.allowed,
        "empty": column.empty,
        "since": column.since,
    }
