"""Spec sheet files, JSON or TOML: what a vehicle type's maker or an agreed source says.

Nothing is filled in: what a sheet leaves out stays None. Fields without a place here are kept in `further`.
"""

import tomllib
from dataclasses import replace
from datetime import date, datetime, time
from math import isfinite
from typing import Final, cast

from ingest.aliases import check_alias, is_vacuum
from ingest.errors import IngestError, UnknownKind, UnreadableBody
from ingest.listing import (
    BadItem,
    Item,
    load,
    read_json_items,
    sort_items,
    take_number,
    take_text,
    take_word,
)
from ingest.parameters import PARAMETERS, STATES
from ingest.records import AirMetering, Alias, Charging, IdleControl, Limit, Loaded, SpecSheet
from ingest.text import decode_text, write_json
from ingest.units import convert
from ingest.vehicles import take_name

KINDS: Final = ("json", "toml")
AIR_METERING: Final = ("maf", "speed_density")
IDLE_CONTROL: Final = ("bypass_valve", "electronic_throttle")
CHARGING: Final = ("fixed", "commanded")
FIELDS: Final = frozenset(
    (
        "sheet",
        "revision",
        "source",
        "fuel",
        "displacement_l",
        "cylinders",
        "banks",
        "air_metering",
        "idle_control",
        "charging",
        "soak_hours",
        "soak_gap_degC",
        "limits",
        "aliases",
    )
)
LIMIT_FIELDS: Final = frozenset(("parameter", "state", "low", "high", "unit"))
MOST_REVISIONS: Final = 1_000_000_000


def read_sheets(body: bytes, kind: str) -> Loaded[SpecSheet]:
    """Read a spec sheet file.

    Parameters
    ----------
    body : bytes
        The file.
    kind : {"json", "toml"}
        An array under ``spec_sheets``; in JSON also a bare array or one sheet.

    Returns
    -------
    Loaded of SpecSheet
        Limits in default units. A sheet with one wrong limit is refused as a whole, because half a sheet
        would be judged as if it were complete. The same revision twice with other content refuses the
        later one (``sheet-conflict``); the same content twice is one sheet.

    Raises
    ------
    UnknownKind, UnreadableBody
        The file as a whole cannot be read.

    Examples
    --------
    >>> read_sheets(b'{"sheet": "HARROW-24", "revision": 2, "source": "card 7"}', "json").rows[0].limits
    ()
    """
    if kind not in KINDS:
        raise UnknownKind(kind, KINDS)
    documents = read_json_items(body, "spec_sheets") if kind == "json" else _read_toml(body)
    listing = sort_items(documents, FIELDS)
    listing.items = [(index, cast(Item, _plain(item))) for index, item in listing.items]
    sheets: dict[tuple[str, int], SpecSheet] = {}

    def build(item: Item) -> SpecSheet:
        sheet = _build(item)
        if sheets.setdefault((sheet.sheet, sheet.revision), sheet) != sheet:
            detail = (
                f"Sheet {sheet.sheet!r} revision {sheet.revision} stands twice in the file with other "
                "content; give the newer one the next revision."
            )
            raise BadItem("sheet-conflict", "revision", detail)
        return sheet

    loaded = load(listing, FIELDS, build, vehicle="")
    return replace(loaded, rows=tuple(sheets.values()))


def _read_toml(body: bytes) -> list[object]:
    text, _ = decode_text(body)
    try:
        document = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise UnreadableBody("bad-toml", f"The body is not TOML: {error}.") from error
    sheets = document.get("spec_sheets", document)
    return list(sheets) if isinstance(sheets, list) else [sheets]


def _plain(value: object) -> object:
    """Turn what only TOML has (dates, infinite numbers) into what JSON can keep."""
    if isinstance(value, dict):
        return {key: _plain(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_plain(inner) for inner in value]
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    if isinstance(value, float) and not isfinite(value):
        return str(value)
    return value


def _build(item: Item) -> SpecSheet:
    revision = take_number(item, "revision", low=0, high=MOST_REVISIONS, whole=True)
    if revision is None:
        raise BadItem("missing-column", "revision", "revision is required: a whole number from 0.")
    name = take_name(item, "sheet", required=True)
    return SpecSheet(
        sheet=name,
        revision=int(revision),
        source=take_text(item, "source", required=True),
        fuel=take_text(item, "fuel") or None,
        displacement_l=take_number(item, "displacement_l", low=0.01, high=100),
        cylinders=_take_whole(item, "cylinders", 32),
        banks=_take_whole(item, "banks", 4),
        air_metering=cast(AirMetering | None, take_word(item, "air_metering", AIR_METERING) or None),
        idle_control=cast(IdleControl | None, take_word(item, "idle_control", IDLE_CONTROL) or None),
        charging=cast(Charging | None, take_word(item, "charging", CHARGING) or None),
        soak_hours=take_number(item, "soak_hours", low=0, high=1000),
        soak_gap_degc=take_number(item, "soak_gap_degC", low=0, high=200),
        limits=_read_limits(item.get("limits")),
        aliases=_read_aliases(item.get("aliases"), name),
        further={key: value for key, value in item.items() if key not in FIELDS},
    )


def _take_whole(item: Item, name: str, high: int) -> int | None:
    number = take_number(item, name, low=1, high=high, whole=True)
    return None if number is None else int(number)


def _read_limits(value: object) -> tuple[Limit, ...]:
    if value is None:
        return ()
    if not isinstance(value, list) or not all(isinstance(entry, dict) for entry in value):
        raise BadItem("wrong-type", "limits", "limits must be an array of objects.")
    limits: list[Limit] = []
    for place, entry in enumerate(value):
        try:
            limit = _read_limit(entry)
        except BadItem as fault:
            raise BadItem(fault.code, f"limits[{place}].{fault.column}", str(fault)) from fault
        except IngestError as fault:
            raise BadItem(fault.code, f"limits[{place}].unit", str(fault)) from fault
        if any((limit.parameter, limit.state) == (other.parameter, other.state) for other in limits):
            detail = f"{limit.parameter} at {limit.state} has two limits; a band has one low and one high."
            raise BadItem("limit-repeated", f"limits[{place}]", detail)
        limits.append(limit)
    return tuple(limits)


def _read_limit(entry: Item) -> Limit:
    strange = sorted(set(entry) - LIMIT_FIELDS)
    if strange:
        detail = f"A limit has {', '.join(sorted(LIMIT_FIELDS))}; it has no {', '.join(strange)}."
        raise BadItem("unknown-word", strange[0], detail)
    code = take_text(entry, "parameter", required=True)
    parameter = PARAMETERS.get(code)
    if parameter is None:
        raise BadItem("unknown-parameter", "parameter", f"{code!r} is no parameter; see the list of codes.")
    if parameter.kind in ("flag", "code"):
        raise BadItem("limit-not-numeric", "parameter", f"{code} is no quantity and can have no band.")
    state = take_word(entry, "state", STATES, required=True)
    unit = take_text(entry, "unit")
    low, high = (_take_side(entry, side, unit, code) for side in ("low", "high"))
    if low is None and high is None:
        raise BadItem("missing-column", "low", f"The limit of {code} at {state} needs low, high or both.")
    if low is not None and high is not None and low > high:
        detail = f"{code} at {state}: low {low:g} lies above high {high:g} ({parameter.unit})."
        raise BadItem("low-above-high", "low", detail)
    return Limit(parameter=code, state=state, low=low, high=high)


def _take_side(entry: Item, side: str, unit: str, code: str) -> float | None:
    parameter = PARAMETERS[code]
    given = take_number(entry, side)
    if given is None:
        convert(0.0, unit, parameter)  # the unit must be right even where this side is open
        return None
    value = convert(given, unit, parameter)
    if not parameter.low <= value <= parameter.high:
        detail = (
            f"{side} of {code} is {value:g} {parameter.unit}; the reading itself can only be "
            f"{parameter.low:g} to {parameter.high:g}."
        )
        raise BadItem("out-of-range", side, detail)
    return value


def _read_aliases(value: object, sheet: str) -> dict[str, str]:
    if value is None:
        return {}
    if not isinstance(value, dict):
        raise BadItem("wrong-type", "aliases", "aliases must be an object of name to parameter code.")
    aliases: dict[str, str] = {}
    for name, code in value.items():
        if not isinstance(code, str):
            raise BadItem(
                "wrong-type", "aliases", f"Alias {name!r} must name a code, was {write_json(code)}."
            )
        try:
            check_alias(Alias(scope="sheet", scope_id=sheet, name=name.strip(), parameter=code.strip()))
        except IngestError as fault:
            raise BadItem(fault.code, "aliases", str(fault)) from fault
        if is_vacuum(name, code.strip()):
            detail = (
                f"{name!r} is a vacuum, MAP is absolute: a sheet cannot know whether BARO comes with it. "
                "Map the name in the alias table, once snapshots with both are stored."
            )
            raise BadItem("alias-not-absolute", "aliases", detail)
        aliases[name.strip()] = code.strip()
    return aliases
