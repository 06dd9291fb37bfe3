"""One JSON item that does not fit the quick reading: found out field by field what it holds."""

from typing import Final

import msgspec

from ingest.cells import Measured
from ingest.errors import IngestError
from ingest.parameters import SWITCHES
from ingest.text import write_json

_TEXTS: Final = ("vehicle", "taken_at", "state", "device", "id", "service01")
_KNOWN: Final = frozenset((*_TEXTS, "odometer_km", "values", "switches"))
_SHOWN = 80


class Switches(msgspec.Struct, forbid_unknown_fields=True, gc=False):
    """Idle-load switches; None where not reported."""

    ac: bool | None = None
    power_steering: bool | None = None
    in_gear: bool | None = None


class BadItem(IngestError):  # noqa: N818  (named after the fact)
    """An item that cannot be read at all.

    Parameters
    ----------
    field, detail : str
        What it is about, and what is wrong and allowed.
    vehicle : str
        The fleet's own number if it could be read.
    """

    code = "wrong-type"

    def __init__(self, field: str, detail: str, vehicle: str = "") -> None:
        self.field = field
        self.vehicle = vehicle
        super().__init__(detail)


def find_fields(document: object) -> tuple[dict[str, object], dict[str, object]]:
    """Part a decoded item into known fields and keys that have no place.

    Parameters
    ----------
    document : object
        Decoded JSON without personal fields.

    Returns
    -------
    tuple of dict
        Known fields of the types the columns need, and everything else.

    Raises
    ------
    BadItem
        The item is no object, or a known field is of another type.

    Examples
    --------
    >>> find_fields({"vehicle": "V-1", "values": {"RPM": 742}, "firmware": "1.2"})
    ({'vehicle': 'V-1', 'values': {'RPM': 742}}, {'firmware': '1.2'})
    """
    if not isinstance(document, dict):
        raise BadItem("", f"A snapshot must be a JSON object, was {_show(document)}.")
    named = document.get("vehicle")
    vehicle = named if isinstance(named, str) else ""
    fields: dict[str, object] = {}
    other = {key: value for key, value in document.items() if key not in _KNOWN}
    for key in _TEXTS:
        value = document.get(key)
        if value is not None and not isinstance(value, str):
            raise BadItem(key, f"{key} must be a text, was {_show(value)}.", vehicle)
        if value is not None:
            fields[key] = value
    odometer = document.get("odometer_km")
    if odometer is not None:
        fields["odometer_km"] = _read_number(odometer, vehicle)
    fields["values"] = _read_values(document.get("values"), vehicle)
    if document.get("switches") is not None:
        fields["switches"], strange = _read_switches(document["switches"], vehicle)
        other.update(strange)
    return {key: value for key, value in fields.items() if value != {}}, other


def _show(value: object) -> str:
    return write_json(value)[:_SHOWN]


def _read_number(value: object, vehicle: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise BadItem("odometer_km", f"odometer_km must be a number, was {_show(value)}.", vehicle)
    try:
        return float(value)
    except OverflowError:
        raise BadItem("odometer_km", "odometer_km must be a number of kilometres.", vehicle) from None


def _read_values(value: object, vehicle: str) -> dict[str, object]:
    if value is None:
        return {}
    if not isinstance(value, dict):
        raise BadItem("values", f"values must be an object of name to value, was {_show(value)}.", vehicle)
    return {name: _read_measured(given) for name, given in value.items()}


def _read_measured(given: object) -> object:
    """Recognise a value with its unit; whatever else it is, its parameter decides what to make of it."""
    if not isinstance(given, dict) or set(given) != {"value", "unit"}:
        return given
    value, unit = given["value"], given["unit"]
    if isinstance(value, bool) or not isinstance(value, int | float) or not isinstance(unit, str):
        return given
    try:
        return Measured(float(value), unit)
    except OverflowError:
        return given


def _read_switches(value: object, vehicle: str) -> tuple[Switches, dict[str, object]]:
    if not isinstance(value, dict):
        raise BadItem("switches", f"switches must be an object, was {_show(value)}.", vehicle)
    for name in SWITCHES:
        if not isinstance(value.get(name), bool | None):
            detail = f"switches.{name} must be true, false or null, was {_show(value[name])}."
            raise BadItem(f"switches.{name}", detail, vehicle)
    strange = {f"switches.{name}": given for name, given in value.items() if name not in SWITCHES}
    return Switches(**{name: value.get(name) for name in SWITCHES}), strange
