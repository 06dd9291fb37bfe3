"""The data dictionary: every column of every export file."""

from dataclasses import dataclass
from typing import Annotated


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
