"""The data dictionary: every column of every export file."""

from dataclasses import dataclass
from typing import Annotated, Final

from dashboards.exports import csv_file
from dashboards.exports.columns import DATASETS, Column, Dataset


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnLine:
    """One column of a file."""

    name: Annotated[str, "Name in the file."]
    meaning: Annotated[str, "What it says."]
    type: Annotated[str, "Type of its values."]
    unit: Annotated[str, "Unit, or where the unit stands; empty when it has none."]
    allowed: Annotated[str, "Values that can occur; empty when any."]
    empty: Annotated[str, "What an empty cell means."]
    since: Annotated[str, "Version that brought it."]


@dataclass(frozen=True, slots=True, kw_only=True)
class DatasetWords:
    """One dataset with its columns."""

    name: Annotated[str, "Name of the dataset."]
    meaning: Annotated[str, "What one row is."]
    columns: Annotated[tuple[ColumnLine, ...], "Columns in the file's order."]


@dataclass(frozen=True, slots=True, kw_only=True)
class DictionaryView:
    """For the analyst: what each column of each file means."""

    datasets: Annotated[tuple[DatasetWords, ...], "Every dataset."]
    chosen: Annotated[str, "Dataset whose columns are shown at once; empty for none."] = ""


_FILE: Final = Dataset(
    name="dictionary",
    meaning="One row for each column of each dataset.",
    columns=tuple(
        Column(name=name, meaning=meaning, type="text")
        for name, meaning in (
            ("dataset", "Name of the dataset."),
            ("column", "Name of the column."),
            ("meaning", "What it says."),
            ("type", "Type of its values."),
            ("unit", "Unit."),
            ("allowed", "Values that can occur."),
            ("empty", "What an empty cell means."),
            ("since", "Version that brought it."),
        )
    ),
)


def dictionary_view(chosen: str = "") -> DictionaryView:
    """Build the page from the columns that the files really have, those of one dataset unfolded."""
    return DictionaryView(
        chosen=chosen,
        datasets=tuple(
            DatasetWords(
                name=dataset.name,
                meaning=dataset.meaning,
                columns=tuple(_line(column) for column in dataset.columns),
            )
            for dataset in DATASETS.values()
        ),
    )


def dictionary_csv() -> bytes:
    """Write the dictionary as a CSV file."""
    lines = [
        (dataset.name, line.name, line.meaning, line.type, line.unit, line.allowed, line.empty, line.since)
        for dataset in dictionary_view().datasets
        for line in dataset.columns
    ]
    columns = dict(zip(_FILE.names, zip(*lines, strict=True), strict=True))
    return b"".join(csv_file.write(_FILE, [columns]))


def _line(column: Column) -> ColumnLine:
    return ColumnLine(
        name=column.name,
        meaning=column.meaning,
        type=column.type,
        unit=column.unit,
        allowed=column.allowed,
        empty=column.empty,
        since=column.since,
    )
