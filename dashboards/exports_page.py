"""The exports page: dataset, period, filters, as-of date and format become one stable link."""

from dataclasses import dataclass
from datetime import date
from typing import Annotated


@dataclass(frozen=True, slots=True, kw_only=True)
class ExportsView:
    """For the analyst at month-end: which file, as of when, and how it can be had again."""

    dataset: Annotated[str, "Dataset chosen, a code of `exports.columns.DATASETS`."]
    format: Annotated[str, "Format chosen: csv, json, parquet or xlsx."]
    as_of: Annotated[date | None, "As-of date chosen; None: everything known now."]
    from_day: Annotated[date | None, "First day of the period; None: from the beginning."]
    to_day: Annotated[date | None, "Last day of the period; None: to the end."]
    vehicle: Annotated[str, "Vehicle filtered by; may be empty."]
    depot: Annotated[str, "Depot filtered by; may be empty."]
    depots: Annotated[tuple[str, ...], "Depots that can be chosen."]
    rows: Annotated[int | None, "Rows the file would have; None when not counted."]
    first_data_on: Annotated[date | None, "Day of the first reading; None when there is none."]
    trends_on: Annotated[date | None, "Day whose trends the file holds; None for other datasets."]
    lost: Annotated[str, "What this as-of date has lost to retention or erasure; empty for nothing."]
    link: Annotated[str, "Stable address of the file with these choices."]
    command: Annotated[str, "Command line that writes the same file."]
