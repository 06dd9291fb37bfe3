"""JSON items into cells: a quick typed reading, and a patient one for what does not fit it."""

import json
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import chain
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from ingest.batch import Refusal
from ingest.cells import Cells, Measured, count_places, tell_kinds
from ingest.errors import BadResponse
from ingest.formats.patient import BadItem, Switches, find_fields
from ingest.personal import mentions_personal, strip_personal
from ingest.service01 import decode
from ingest.text import clean_text, decode_line, write_json

Value = float | bool | str | Measured | None


class Line(msgspec.Struct, forbid_unknown_fields=True, gc=False):
    """A snapshot as most senders write it; anything else takes the patient way."""

    vehicle: str | None = None
    taken_at: str | None = None
    state: str | None = None
    device: str | None = None
    id: str | None = None
    odometer_km: float | None = None
    values: dict[str, Value] | None = None
    switches: Switches | None = None
    service01: str | None = None


_QUICK: Final = msgspec.json.Decoder(Line)
_PATIENT: Final = msgspec.json.Decoder()


@dataclass(slots=True, kw_only=True)
class _Reading:
    """What is gathered while items are read one after another."""

    lines: list[Line] = field(default_factory=list)
    index: list[int] = field(default_factory=list)
    other: dict[int, dict[str, object]] = field(default_factory=dict)
    rejected: list[Refusal] = field(default_factory=list)
    faults: list[tuple[int, str, str, str]] = field(default_factory=list)
    notes: Counter[str] = field(default_factory=Counter)
    personal: int = 0


def read_items(items: Sequence[bytes | msgspec.Raw], start: int = 0) -> Cells:
    """Read JSON items.

    Parameters
    ----------
    items : sequence of bytes
        One JSON text each.
    start : int
        Place of the first item in the request or file.

    Returns
    -------
    Cells
        One row for each readable item; the others are in its `rejected`.

    Examples
    --------
    >>> cells = read_items([b'{"vehicle": "V-1", "values": {"RPM": 742}}', b'{"vehicle": '])
    >>> len(cells), cells.rejected[0].code
    (1, 'bad-json')
    """
    reading = _Reading()
    quick, lines, index = _QUICK.decode, reading.lines, reading.index
    for place, item in enumerate(items, start=start):
        try:
            line = quick(item)
        except (ValueError, RecursionError):
            _read_patiently(bytes(item), place, reading)
        else:
            lines.append(line)
            index.append(place)
    return _gather(reading)


def _read_patiently(item: bytes, place: int, reading: _Reading) -> None:
    try:
        document: object = _PATIENT.decode(item)
    except (ValueError, RecursionError) as error:
        reading.rejected.append(_refuse_unreadable(item, place, error))
        reading.personal += reading.rejected[-1].detail.endswith(_WITHHELD)
        return
    clean, dropped = strip_personal(document)
    reading.personal += dropped
    try:
        fields, other = find_fields(clean)
    except BadItem as fault:
        reading.rejected.append(
            Refusal(
                index=place,
                code=fault.code,
                field=fault.field,
                detail=str(fault),
                payload=clean_text(write_json(clean)),
                vehicle=fault.vehicle,
            )
        )
        return
    if other:
        reading.other[len(reading.lines)] = other
    reading.lines.append(Line(**fields))  # type: ignore[arg-type]  # checked one by one in find_fields
    reading.index.append(place)


_WITHHELD = " It is not shown because it may hold a driver or position field."


def _refuse_unreadable(item: bytes, place: int, error: Exception) -> Refusal:
    decoded, broken = decode_line(item)
    # Asked of the item itself: parsers differ in what they say of bytes that are no text.
    code, detail = ("bad-encoding", "The item is not UTF-8.") if broken else _explain(item, error)
    text = clean_text(item)
    withheld = mentions_personal(decoded)
    return Refusal(
        index=place,
        code=code,
        detail=detail + _WITHHELD if withheld else detail,
        payload="" if withheld else text,
    )


def _explain(item: bytes, error: Exception) -> tuple[str, str]:
    if isinstance(error, RecursionError):
        return "bad-json", "The item is nested too deep."
    if "out of range" in str(error) or _names_not_finite(item):
        return (
            "not-finite",
            "NaN, Infinity and numbers beyond all bounds are none; leave a missing value out.",
        )
    return "bad-json", f"The item is not JSON: {error}."


def _names_not_finite(item: bytes) -> bool:
    """Tell whether the item would be JSON but for NaN or Infinity."""
    found: list[str] = []
    try:
        json.loads(item, parse_constant=found.append)
    except (ValueError, RecursionError):
        return False
    return bool(found)


def _gather(reading: _Reading) -> Cells:
    lines = reading.lines
    dicts: list[dict[str, Value]] = [line.values or {} for line in lines]
    owners = list(range(len(lines)))
    for place, line in enumerate(lines):
        if line.service01:
            dicts.append(_decode(line.service01, place, reading))
            owners.append(place)
    row, names, places, values = _flatten(dicts, owners)
    told = tell_kinds(values)
    return Cells(
        index=np.array(reading.index, dtype=np.int64),
        vehicle=[(line.vehicle or "").strip() for line in lines],
        taken_at=[(line.taken_at or "").strip() for line in lines],
        state=[(line.state or "").strip() for line in lines],
        device=[(line.device or "").strip() for line in lines],
        given_id=[(line.id or "").strip() for line in lines],
        odometer_km=np.array(
            [np.nan if line.odometer_km is None else line.odometer_km for line in lines], dtype=np.float64
        ),
        switches=_read_switches(lines),
        names=names,
        units=told.units,
        row=row,
        name=places,
        unit=told.unit,
        kind=told.kind,
        value=told.value,
        objects=told.objects,
        other=reading.other,
        rejected=tuple(reading.rejected),
        faults=tuple(reading.faults),
        personal_fields=reading.personal,
        notes=dict(reading.notes),
    )


def _flatten(
    dicts: list[dict[str, Value]], owners: list[int]
) -> tuple[NDArray[np.intp], list[str], NDArray[np.intp], list[Value]]:
    names, places = count_places(list(chain.from_iterable(dicts)))
    values = list(chain.from_iterable([found.values() for found in dicts]))
    lengths = list(map(len, dicts))
    row = np.repeat(np.array(owners, dtype=np.intp), lengths)
    if type(None) in set(map(type, values)):
        kept = [place for place, value in enumerate(values) if value is not None]
        values = [values[place] for place in kept]
        row, places = row[kept], places[kept]
    return row, names, places, values


def _decode(answer: str, row: int, reading: _Reading) -> dict[str, Value]:
    try:
        decoded = decode(answer)
    except BadResponse as fault:
        reading.faults.append((row, fault.code, "service01", fault.detail))
        reading.other.setdefault(row, {})["service01"] = answer
        return {}
    reading.notes.update(decoded.notes)
    return dict(decoded.values)


_STORED = {None: -1, False: 0, True: 1}


def _read_switches(lines: list[Line]) -> NDArray[np.int8]:
    missing = (-1, -1, -1)
    rows = [
        missing
        if (given := line.switches) is None
        else (_STORED[given.ac], _STORED[given.power_steering], _STORED[given.in_gear])
        for line in lines
    ]
    return np.array(rows, dtype=np.int8).reshape(len(lines), 3)
