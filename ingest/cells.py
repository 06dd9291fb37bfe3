"""Cells: what every format is first turned into, before anything is believed.

One row for each item that could be read, one cell for each value in it. From here on a JSON line, a CSV row
and a Parquet row are the same thing, and everything happens in columns.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from ingest.batch import Refusal
from ingest.parameters import FUEL_SYSTEM, SWITCHES
from ingest.text import write_json

NUMBER: Final = 0
FLAG: Final = 1
TEXT: Final = 2
OTHER: Final = 3
"""Kinds of cell: number, true or false, text, anything else (kept as it came)."""

_FUEL: Final[Mapping[str, float]] = {name: float(place) for place, name in enumerate(FUEL_SYSTEM)}


class Measured(msgspec.Struct, forbid_unknown_fields=True, gc=False, frozen=True):
    """A value with its unit, as in ``{"value": 194, "unit": "degF"}``."""

    value: float
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cells:
    """Items as cells; n rows, c cells.

    Parameters
    ----------
    index : int64 array of shape (n,)
        Place of the item in the request or file, from 0.
    vehicle, taken_at, state, device, given_id : list of str, length n
        As they came, without surrounding blanks; empty where not given.
    odometer_km : float64 array of shape (n,)
        NaN where not given.
    switches : int8 array of shape (n, 3)
        1 on, 0 off, -1 not reported.
    names : list of str
        Distinct names of values, as they came.
    units : list of str
        Distinct units; the first is empty and means "none named".
    row, name, unit : intp arrays of shape (c,)
        Where each cell stands: row, place in `names`, place in `units`.
    kind : int8 array of shape (c,)
        `NUMBER`, `FLAG`, `TEXT` or `OTHER`.
    value : float64 array of shape (c,)
        The number; 1 or 0 of a flag; the stored number of a fuel system text; NaN otherwise.
    objects : dict of int to object
        Cell to what it holds, for texts and others.
    other : dict of int to dict
        Row to keys that stand beside the values and have no place.
    rejected : tuple of Refusal
        Items that did not become rows.
    faults : tuple of (row, code, field, detail)
        What is already known to make a row unreadable.
    personal_fields : int
        Fields dropped so far.
    notes : dict of str to int
        Codes of what deserves a word, with counts.
    """

    index: NDArray[np.int64]
    vehicle: list[str]
    taken_at: list[str]
    state: list[str]
    device: list[str]
    given_id: list[str]
    odometer_km: NDArray[np.float64]
    switches: NDArray[np.int8]
    names: list[str]
    units: list[str]
    row: NDArray[np.intp]
    name: NDArray[np.intp]
    unit: NDArray[np.intp]
    kind: NDArray[np.int8]
    value: NDArray[np.float64]
    objects: dict[int, object] = field(default_factory=dict)
    other: dict[int, dict[str, object]] = field(default_factory=dict)
    rejected: tuple[Refusal, ...] = ()
    faults: tuple[tuple[int, str, str, str], ...] = ()
    personal_fields: int = 0
    notes: dict[str, int] = field(default_factory=dict)

    def __len__(self) -> int:
        """Count rows."""
        return len(self.vehicle)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Kinds:
    """Values of mixed kind, told apart.

    Parameters
    ----------
    value, kind, unit, objects
        As in `Cells`.
    units : list of str
        As in `Cells`.
    """

    value: NDArray[np.float64]
    kind: NDArray[np.int8]
    unit: NDArray[np.intp]
    units: list[str]
    objects: dict[int, object]


def tell_kinds(values: Sequence[object]) -> Kinds:
    """Tell numbers, flags, texts and other things apart.

    Parameters
    ----------
    values : sequence of object, length c
        Float, int, bool, str, `Measured`, or anything else; no None.

    Examples
    --------
    >>> told = tell_kinds([3.5, True, "CL", Measured(194.0, "degF")])
    >>> told.value.tolist(), told.kind.tolist(), [told.units[place] for place in told.unit]
    ([3.5, 1.0, 1.0, 194.0], [0, 1, 2, 0], ['', '', '', 'degF'])
    """
    count = len(values)
    kind = np.zeros(count, dtype=np.int8)
    unit = np.zeros(count, dtype=np.intp)
    units = {"": 0}
    objects: dict[int, object] = {}
    if set(map(type, values)) <= {float}:
        return Kinds(value=np.array(values, dtype=np.float64), kind=kind, unit=unit, units=[""], objects={})
    plain = list(values)
    for place, value in enumerate(values):
        if type(value) is float:
            continue
        if type(value) is Measured:
            plain[place] = value.value
            unit[place] = units.setdefault(value.unit.strip(), len(units))
        else:
            plain[place], kind[place] = _tell(value)
            if kind[place] in (TEXT, OTHER):
                objects[place] = value
    return Kinds(
        value=np.array(plain, dtype=np.float64), kind=kind, unit=unit, units=list(units), objects=objects
    )


def _tell(value: object) -> tuple[float, int]:
    if isinstance(value, bool):
        return float(value), FLAG
    if isinstance(value, str):
        return _FUEL.get(value, np.nan), TEXT
    if isinstance(value, int | float):
        try:
            return float(value), NUMBER
        except OverflowError:
            return np.inf, NUMBER
    return np.nan, OTHER


class Payloads:
    """Refused rows of some cells, written as snapshots that can be mended and sent again."""

    def __init__(self, cells: Cells, personal: frozenset[int] = frozenset()) -> None:
        self._cells = cells
        self._personal = personal
        self._order = np.argsort(cells.row, kind="stable")
        self._starts = np.searchsorted(cells.row[self._order], np.arange(len(cells) + 1))

    def write(self, row: int) -> str:
        """Write one row as a JSON snapshot, without personal fields."""
        cells = self._cells
        item: dict[str, object] = {"vehicle": cells.vehicle[row], "taken_at": cells.taken_at[row]}
        for key, text in (
            ("state", cells.state[row]),
            ("device", cells.device[row]),
            ("id", cells.given_id[row]),
        ):
            if text:
                item[key] = text
        if not np.isnan(cells.odometer_km[row]):
            item["odometer_km"] = float(cells.odometer_km[row])
        item["values"] = self._values(row)
        switches = {
            name: bool(on) for name, on in zip(SWITCHES, cells.switches[row].tolist(), strict=True) if on >= 0
        }
        if switches:
            item["switches"] = switches
        item.update(cells.other.get(row, {}))
        return write_json(item)

    def _values(self, row: int) -> dict[str, object]:
        cells = self._cells
        found: dict[str, object] = {}
        for cell in self._order[self._starts[row] : self._starts[row + 1]].tolist():
            place = int(cells.name[cell])
            if place not in self._personal:
                found[cells.names[place]] = show_cell(cells, cell)
        return found


def show_cell(cells: Cells, cell: int) -> object:
    """Give a cell back as it came."""
    kind = int(cells.kind[cell])
    if kind in (TEXT, OTHER):
        return cells.objects[cell]
    value = float(cells.value[cell])
    if kind == FLAG:
        return bool(value)
    shown: float | str = value if np.isfinite(value) else str(value)
    unit = cells.units[int(cells.unit[cell])]
    return {"value": shown, "unit": unit} if unit else shown


def count_places(names: Sequence[str]) -> tuple[list[str], NDArray[np.intp]]:
    """Give each name a number, by first appearance.

    Returns
    -------
    tuple
        Distinct names, and for each input its place among them.

    Examples
    --------
    >>> count_places(["RPM", "ECT", "RPM"])
    (['RPM', 'ECT'], array([0, 1, 0]))
    """
    places = {name: place for place, name in enumerate(dict.fromkeys(names))}
    return list(places), np.fromiter(map(places.__getitem__, names), dtype=np.intp, count=len(names))
