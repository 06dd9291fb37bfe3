"""JSON schemas of what comes in and goes out, made from the vocabulary and from the values themselves."""

from collections.abc import Iterable, Sequence
from typing import Any, Final

import msgspec

from dashboards.exports.columns import RISK, TRENDS
from ingest.parameters import FUEL_SYSTEM, PARAMETERS, STATES, SWITCHES, Parameter
from ingest.records import Alias, Vehicle, WorkRecord
from service.store import KeptRefusal, KeptWork
from service.tickets.ticket import Ticket, TicketEvent
from service.web.body import ENCODINGS
from service.web.described import Schema, page_of, ref
from service.web.wire import SnapshotRow, row_schema

LISTED: Final = (
    Vehicle,
    Alias,
    WorkRecord,
    KeptWork,
    SnapshotRow,
    KeptRefusal,
    Ticket,
    TicketEvent,
)
"""Values that lists give out or loads take in, described from their own fields."""

UNITS: Final = (
    "%", "1/min", "km/h", "mph", "degC", "degF", "K", "kPa", "psi", "inHg", "mbar", "bar", "g/s", "lb/min",
    "V", "mV", "ms", "s", "km", "mi", "deg", "1",
)  # fmt: skip
"""Units of the exchange contract."""


def _quantity(parameter: Parameter) -> Schema:
    if parameter.kind == "code":
        return {"enum": list(FUEL_SYSTEM), "description": parameter.quantity}
    if parameter.kind == "flag":
        return {"type": ["boolean", "number"], "description": parameter.quantity}
    told = f"{parameter.quantity} [{parameter.unit}], encodable {parameter.low:g} to {parameter.high:g}"
    number = {"type": "number", "description": told}
    return {"anyOf": [number, ref("Measurement")], "description": told}


def snapshot_schema() -> Schema:
    """Describe one snapshot.

    Returns
    -------
    Schema
        With every parameter of the catalogue; other names are kept, reported and left untrended.
    """
    return {
        "type": "object",
        "required": ["vehicle", "taken_at"],
        "properties": {
            "vehicle": {"type": "string", "description": "The fleet's own number."},
            "taken_at": {
                "type": "string",
                "format": "date-time",
                "description": "RFC 3339 with an offset; a time without one is rejected.",
            },
            "state": {"enum": list(STATES), "description": "Claimed state; checked against the values."},
            "device": {"type": "string"},
            "id": {"type": "string", "description": "Unique; else vehicle, time and device identify it."},
            "odometer_km": {"type": "number"},
            "values": {
                "type": "object",
                "properties": {code: _quantity(parameter) for code, parameter in PARAMETERS.items()},
                "additionalProperties": {
                    "description": "A name that an alias explains; else kept as it came."
                },
            },
            "service01": {
                "type": "string",
                "description": "Raw service 01 answer bytes in hexadecimal, instead of or beside values.",
                "examples": ["41 0C 0B B8 05 82"],
            },
            "switches": {
                "type": "object",
                "properties": {name: {"type": "boolean"} for name in SWITCHES},
            },
        },
        "examples": [EXAMPLE],
    }


EXAMPLE: Final[dict[str, Any]] = {
    "vehicle": "V-0017",
    "taken_at": "2031-03-04T06:12:09-05:00",
    "state": "warm_idle",
    "device": "L-220",
    "odometer_km": 48211,
    "values": {"LONGFT1": 3.9, "RPM": 742, "ECT": {"value": 194, "unit": "degF"}, "IAC": 34.5, "VPWR": 14.2},
    "switches": {"ac": False, "power_steering": False, "in_gear": False},
}


def snapshot_body() -> dict[str, Any]:
    """Describe the body that takes snapshots, one content type each.

    Returns
    -------
    dict
        `requestBody` of the description.
    """
    table = (
        "One column per parameter, named by code or alias, with the unit in brackets where it is not the"
        " default: 'ECT [degF]'. Other columns: vehicle, taken_at, state, device, id, odometer_km, "
        + ", ".join(SWITCHES)
        + ". An empty cell is a missing value."
    )
    many: Schema = {"anyOf": [ref("Snapshot"), {"type": "array", "items": ref("Snapshot")}]}
    return {
        "required": True,
        "description": f"May be packed once, header Content-Encoding: {', '.join(ENCODINGS)}.",
        "content": {
            "application/json": {"schema": many, "example": EXAMPLE},
            "application/x-ndjson": {
                "schema": {
                    "type": "string",
                    "description": "One snapshot a line, each as in application/json.",
                }
            },
            "text/csv": {"schema": {"type": "string", "description": f"UTF-8 with a header line. {table}"}},
            "application/vnd.apache.parquet": {
                "schema": {"type": "string", "contentEncoding": "binary", "description": table}
            },
        },
    }


def table_body(name: str, wrapper: str, types: Sequence[str]) -> dict[str, Any]:
    """Describe the body of a bulk load.

    Parameters
    ----------
    name : str
        Schema of one row.
    wrapper : str
        Key under which a JSON object may carry the rows.
    types : sequence of str
        Content types read.

    Returns
    -------
    dict
        `requestBody` of the description.
    """
    rows = {"type": "array", "items": ref(name)}
    wrapped = {"type": "object", "properties": {wrapper: rows}, "required": [wrapper]}
    content: dict[str, Any] = {}
    for kind in types:
        schema: Schema = {"type": "string", "description": "UTF-8; the same names as in application/json."}
        if kind == "application/json":
            schema = {"anyOf": [wrapped, rows]}
        content[kind] = {"schema": schema}
    return {"required": True, "content": content}


def describe_values(values: Iterable[type]) -> dict[str, Schema]:
    """Describe value classes by their own fields.

    Parameters
    ----------
    values : iterable of type
        Dataclasses.

    Returns
    -------
    dict
        Schemas by name, those of nested values included.
    """
    _, found = msgspec.json.schema_components(
        values,
        ref_template="#/components/schemas/{name}",
        schema_hook=lambda _: {"description": "Any JSON value."},
    )
    return dict(found)


def components() -> dict[str, Schema]:
    """Describe every value by name.

    Returns
    -------
    dict
        `components.schemas` of the description.
    """
    made = describe_values(LISTED)
    made["TrendRow"] = row_schema(TRENDS)
    made["RiskRow"] = row_schema(RISK)
    made["Snapshot"] = snapshot_schema()
    made["Measurement"] = {
        "type": "object",
        "required": ["value", "unit"],
        "properties": {"value": {"type": "number"}, "unit": {"enum": list(UNITS)}},
    }
    made.update(_ANSWERS)
    return made


_SHEET: Final[Schema] = {
    "type": "object",
    "description": "What is missing is said to be missing; further fields are kept and shown.",
    "required": ["sheet", "revision", "source"],
    "properties": {
        "sheet": {"type": "string"},
        "revision": {"type": "integer", "minimum": 1},
        "source": {"type": "string", "description": "Where a person can look this up."},
        "fuel": {"type": "string"},
        "displacement_l": {"type": "number", "exclusiveMinimum": 0},
        "cylinders": {"type": "integer", "minimum": 1},
        "banks": {"type": "integer", "minimum": 1},
        "air_metering": {"enum": ["maf", "speed_density"]},
        "idle_control": {"enum": ["bypass_valve", "electronic_throttle"]},
        "charging": {"enum": ["fixed", "commanded"]},
        "soak_hours": {"type": "number"},
        "soak_gap_degC": {"type": "number"},
        "limits": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["parameter", "state", "unit"],
                "properties": {
                    "parameter": {"enum": list(PARAMETERS)},
                    "state": {"enum": list(STATES)},
                    "low": {"type": "number"},
                    "high": {"type": "number"},
                    "unit": {"type": "string"},
                },
            },
        },
        "aliases": {"type": "object", "additionalProperties": {"enum": list(PARAMETERS)}},
    },
}

_REFUSAL: Final[Schema] = {
    "type": "object",
    "required": ["index", "code", "detail"],
    "properties": {
        "index": {"type": "integer", "description": "Place in the body from 0; -1 for the whole body."},
        "code": {"type": "string"},
        "detail": {"type": "string"},
        "field": {"type": "string"},
    },
    "additionalProperties": False,
}
_REFUSALS: Final[Schema] = {"type": "array", "items": ref("Refusal")}
_COUNT: Final[Schema] = {"type": "integer", "minimum": 0}

_ANSWERS: Final[dict[str, Schema]] = {
    "SpecSheet": _SHEET,
    "Refusal": _REFUSAL,
    "Receipt": {
        "type": "object",
        "required": ["accepted", "duplicates", "quarantined", "rejected"],
        "properties": {
            "accepted": _COUNT,
            "duplicates": _COUNT,
            "quarantined": _REFUSALS,
            "rejected": _REFUSALS,
            "unknown_names": {
                "type": "object",
                "additionalProperties": _COUNT,
                "description": "Names that no alias explains; kept as they came. Missing when there is none.",
            },
            "left_out": {
                "type": "integer",
                "minimum": 1,
                "description": "Driver and position fields dropped. Missing when there is none.",
            },
        },
        "additionalProperties": False,
    },
    "Loaded": {
        "type": "object",
        "required": ["added", "changed", "same", "refused", "warnings", "unknown_columns"],
        "properties": {
            "added": _COUNT,
            "changed": _COUNT,
            "same": _COUNT,
            "refused": _REFUSALS,
            "warnings": _REFUSALS,
            "unknown_columns": {"type": "object", "additionalProperties": _COUNT},
        },
        "additionalProperties": False,
    },
    "Problem": {
        "type": "object",
        "description": "RFC 9457. The type is the address of a page that explains it.",
        "required": ["type", "title", "status", "detail", "code", "request_id", "errors"],
        "properties": {
            "type": {"type": "string", "format": "uri-reference"},
            "title": {"type": "string"},
            "status": {"type": "integer", "minimum": 400, "maximum": 599},
            "detail": {"type": "string"},
            "code": {"type": "string"},
            "request_id": {"type": "string"},
            "errors": {
                "type": "array",
                "items": {
                    "type": "object",
                    "required": ["detail"],
                    "properties": {
                        "detail": {"type": "string"},
                        "pointer": {"type": "string", "description": "JSON pointer into the body."},
                        "parameter": {"type": "string", "description": "Part of the address or query."},
                    },
                },
            },
            "allowed": {"type": "array", "items": {"type": "string"}},
        },
    },
}
__all__ = ["EXAMPLE", "components", "page_of", "snapshot_body", "snapshot_schema", "table_body"]
