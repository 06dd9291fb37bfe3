"""The schema of each file for programs: Frictionless Table Schema, from the same columns as the dictionary.

References
----------
Frictionless Data, Table Schema, version 1: fields with name, type, format, description, constraints and
missing values; https://specs.frictionlessdata.io/table-schema/
"""

import json
from collections.abc import Mapping
from typing import Any, Final

from dashboards.exports.columns import Column, Dataset

SUFFIX: Final = ".schema.json"
"""What the schema's name adds to the file's."""

MEDIA_TYPE: Final = "application/schema+json"

_TYPES: Final[Mapping[str, Mapping[str, Any]]] = {
    "id": {"type": "string"},
    "text": {"type": "string"},
    "number": {"type": "number"},
    "integer": {"type": "integer"},
    "boolean": {"type": "boolean", "trueValues": ["true"], "falseValues": ["false"]},
    "date": {"type": "date", "format": "%Y-%m-%d"},
    "time": {"type": "datetime", "format": "any"},
    "money": {"type": "number"},
}


def table_schema(dataset: Dataset) -> dict[str, Any]:
    """Describe a dataset's CSV file.

    Parameters
    ----------
    dataset : Dataset
        What the file holds.

    Returns
    -------
    dict
        A Table Schema; unit and meaning of an empty cell are properties of ours.

    Examples
    --------
    >>> from dashboards.exports.columns import BUDGET
    >>> table_schema(BUDGET)["fields"][4]["type"], table_schema(BUDGET)["missingValues"]
    ('number', [''])
    """
    return {
        "$schema": "https://specs.frictionlessdata.io/schemas/table-schema.json",
        "title": dataset.name,
        "description": dataset.meaning,
        "fields": [_field(column) for column in dataset.columns],
        "missingValues": [""],
    }


def schema_bytes(dataset: Dataset) -> bytes:
    """Write a dataset's schema as a file, the same bytes each time."""
    return (json.dumps(table_schema(dataset), indent=2, ensure_ascii=False) + "\n").encode()


def _field(column: Column) -> dict[str, Any]:
    field: dict[str, Any] = {
        "name": column.name,
        "description": column.meaning,
        **_TYPES[column.type],
        "emptyMeans": column.empty,
    }
    if column.unit:
        field["unit"] = column.unit
    if column.empty == "never empty":
        field["constraints"] = {"required": True}
    return field
