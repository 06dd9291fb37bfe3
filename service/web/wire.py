"""Rows of the lists as they go over the wire: the contract's names, dates as dates, times with offset."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any, Final

import msgspec

from dashboards.exports.columns import Dataset
from ingest.parameters import FUEL_SYSTEM, PARAMETERS
from ingest.records import Limit, SpecSheet
from service.store import KeptSnapshot
from service.web.query import EPOCH

CONTRACT_NAMES: Final[Mapping[str, str]] = {"soak_gap_degc": "soak_gap_degC"}
"""Fields of a sheet whose name in the contract is not the one inside."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SnapshotRow:
    """One stored snapshot in the shape in which it could be sent again, and what the service made of it."""

    vehicle: str
    taken_at: datetime
    received_at: datetime
    state: str
    claimed_state: str
    state_note: str
    device: str
    id: str
    odometer_km: float | None
    values: dict[str, float | str | bool]
    switches: dict[str, bool]
    further: dict[str, object] = field(default_factory=dict)


def day_date(day: int) -> date:
    """Turn days since 1970-01-01 into a date."""
    return EPOCH + timedelta(days=day)


def list_row(dataset: Dataset, row: Mapping[str, Any]) -> dict[str, Any]:
    """Write a row of an export as a row of a list: the same names, days as dates, nothing as null.

    Parameters
    ----------
    dataset : Dataset
        Whose row it is.
    row : mapping
        Days as whole numbers or dates.

    Returns
    -------
    dict
        In the order of the dataset's columns.
    """
    written: dict[str, Any] = {}
    for column in dataset.columns:
        value = row[column.name]
        if column.type == "date" and isinstance(value, int):
            value = day_date(value)
        written[column.name] = None if value == "" else value
    return written


def row_schema(dataset: Dataset) -> dict[str, Any]:
    """Describe a row of a dataset, from the dictionary."""
    kinds: dict[str, dict[str, Any]] = {
        "id": {"type": ["string", "null"]},
        "text": {"type": ["string", "null"]},
        "number": {"type": ["number", "null"]},
        "money": {"type": ["number", "null"]},
        "integer": {"type": ["integer", "null"]},
        "boolean": {"type": ["boolean", "null"]},
        "date": {"type": ["string", "null"], "format": "date"},
        "time": {"type": ["string", "null"], "format": "date-time"},
    }
    told = {
        column.name: {
            **kinds[column.type],
            "description": f"{column.meaning} {f'[{column.unit}]' if column.unit else ''}".strip(),
        }
        for column in dataset.columns
    }
    return {
        "type": "object",
        "description": dataset.meaning,
        "required": list(dataset.names),
        "properties": told,
        "additionalProperties": False,
    }


def snapshot_row(kept: KeptSnapshot) -> SnapshotRow:
    """Put one stored snapshot into the shape of the wire; codes and flags in words, not numbers."""
    return SnapshotRow(
        vehicle=kept.vehicle,
        taken_at=kept.taken_at,
        received_at=kept.received_at,
        state=kept.state,
        claimed_state=kept.claim,
        state_note=kept.state_note,
        device=kept.device,
        id=kept.given_id,
        odometer_km=kept.odometer_km,
        values={code: _spoken(code, value) for code, value in kept.values.items()},
        switches=dict(kept.switches),
        further=msgspec.json.decode(kept.extra) if kept.extra else {},
    )


def _spoken(code: str, value: float) -> float | str | bool:
    kind = PARAMETERS[code].kind
    if kind == "code":
        return FUEL_SYSTEM[int(value)]
    return bool(value) if kind == "flag" else value


def sheet_row(sheet: SpecSheet) -> dict[str, Any]:
    """Write a spec sheet as the exchange contract does; what the sheet does not say is left out.

    Returns
    -------
    dict
        Loading it again changes nothing.
    """
    written: dict[str, Any] = {}
    for name in SpecSheet.__dataclass_fields__:
        value = getattr(sheet, name)
        if name not in {"limits", "aliases", "further"} and value is not None:
            written[CONTRACT_NAMES.get(name, name)] = value
    written["limits"] = [_limit(limit) for limit in sheet.limits]
    written["aliases"] = dict(sheet.aliases)
    return {**sheet.further, **written}


def _limit(limit: Limit) -> dict[str, Any]:
    written: dict[str, Any] = {"parameter": limit.parameter, "state": limit.state}
    if limit.low is not None:
        written["low"] = limit.low
    if limit.high is not None:
        written["high"] = limit.high
    written["unit"] = PARAMETERS[limit.parameter].unit
    return written
