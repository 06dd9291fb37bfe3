"""Vehicle files: ``vehicle, vin, spec_sheet, depot, time_zone, in_service_on, odometer_km, notes``."""

from dataclasses import replace
from typing import Final
from zoneinfo import ZoneInfo

from ingest.batch import Refusal
from ingest.errors import BadTime
from ingest.listing import (
    BadItem,
    Item,
    date_fault,
    load,
    read_listing,
    refuse,
    take_number,
    take_text,
)
from ingest.records import Loaded, Vehicle
from ingest.times import read_day
from ingest.vin import check, find_shape_fault

COLUMNS: Final = frozenset(
    ("vehicle", "vin", "spec_sheet", "depot", "time_zone", "in_service_on", "odometer_km", "notes")
)
LONGEST_NAME: Final = 100
"""Most characters of a vehicle number, a sheet's or a depot's name; chosen by us: it must fit a column."""


def read_vehicles(body: bytes, kind: str, *, strict_vin: bool = False) -> Loaded[Vehicle]:
    """Read a vehicle file.

    A VIN that looks mistyped is a warning (``vin-digit``, ``vin-shape``): the number is kept as it came,
    because not everywhere position 9 holds a check digit. A fleet whose numbers all do may have such rows
    refused.

    Parameters
    ----------
    body : bytes
        The file.
    kind : {"csv", "json"}
        JSON is an array, one object, or ``{"vehicles": [...]}``.
    strict_vin : bool
        Refuses a vehicle whose VIN looks mistyped.

    Raises
    ------
    UnknownKind, UnreadableBody
        The file as a whole cannot be read.

    Examples
    --------
    >>> read_vehicles(b'{"vehicle": "V-1", "depot": "North"}', "json").rows[0].depot
    'North'
    """
    listing = read_listing(body, kind, "vehicles", COLUMNS)
    seen: set[str] = set()
    warnings: list[Refusal] = []

    def build(item: Item) -> Vehicle:
        vehicle = _build(item)
        doubt = check(vehicle.vin) if strict_vin and vehicle.vin else None
        if doubt:
            raise BadItem(_vin_code(vehicle.vin), "vin", doubt)
        if vehicle.vehicle in seen:
            raise BadItem(
                "repeated-item", "vehicle", f"Vehicle {vehicle.vehicle!r} stands twice in the file."
            )
        seen.add(vehicle.vehicle)
        return vehicle

    loaded = load(listing, COLUMNS, build)
    kept = {vehicle.vehicle for vehicle in loaded.rows}
    rejected = {refusal.index for refusal in loaded.rejected}
    for index, item in listing.items:
        vin = take_text(item, "vin") if index not in rejected else ""
        doubt = check(vin) if vin and take_text(item, "vehicle") in kept else None
        if doubt:
            warnings.append(refuse(index, _vin_code(vin), "vin", doubt, item))
    return replace(loaded, warnings=tuple(warnings))


def _vin_code(vin: str) -> str:
    return "vin-shape" if find_shape_fault(vin) else "vin-digit"


def take_name(item: Item, name: str, *, required: bool = False) -> str:
    """Take a short text that names something.

    Raises
    ------
    BadItem
        As for `take_text`, longer than `LONGEST_NAME`, or with line breaks.
    """
    text = take_text(item, name, required=required)
    if len(text) > LONGEST_NAME or any(ord(letter) < 32 for letter in text):
        raise BadItem("bad-name", name, f"{name} must be one line of at most {LONGEST_NAME} characters.")
    return text


def _build(item: Item) -> Vehicle:
    zone = take_text(item, "time_zone")
    if zone and not _is_zone(zone):
        detail = f"{zone!r} is no time zone; zones are named as in Europe/Berlin or America/Chicago."
        raise BadItem("unknown-time-zone", "time_zone", detail)
    day = take_text(item, "in_service_on")
    try:
        in_service_on = read_day(day) if day else None
    except BadTime as fault:
        raise date_fault("in_service_on", fault) from fault
    return Vehicle(
        vehicle=take_name(item, "vehicle", required=True),
        vin=take_name(item, "vin").upper(),
        spec_sheet=take_name(item, "spec_sheet"),
        depot=take_name(item, "depot"),
        time_zone=zone,
        in_service_on=in_service_on,
        odometer_km=take_number(item, "odometer_km", low=0.0, high=10_000_000.0),
        notes=take_text(item, "notes"),
    )


def _is_zone(name: str) -> bool:
    try:
        ZoneInfo(name)
    except (ValueError, OSError, KeyError):  # no such zone, a folder of zones, or no valid key at all
        return False
    return True
