"""What cells mean: parameter by name and alias, default unit by conversion, and what stays unexplained."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.aliases import AliasTable, is_vacuum
from ingest.cells import Cells
from ingest.errors import UnknownUnit, WrongUnit
from ingest.parameters import CODES, COLUMN, PARAMETERS
from ingest.personal import is_personal
from ingest.units import find_line

UNKNOWN: Final = -1


@dataclass(frozen=True, slots=True, kw_only=True)
class Context:
    """What reading needs to know beside the bytes.

    Parameters
    ----------
    now_us : int
        Time of arrival [microseconds since 1970-01-01T00:00Z].
    aliases : AliasTable
        Other names for parameters.
    vehicle, device : str
        Used where an item names none.
    sheet_of : mapping of str to str
        Vehicle to its spec sheet, for aliases of sheets.
    waive : frozenset of str
        Quarantine codes that a person has set aside for these items: times are then taken as they are,
        values that cannot be believed are kept beside the columns.
    kept : mapping of str to (float, float)
        Vehicle to MAP and BARO [kPa] that its one item has beside what is read; for reading again.
    """

    now_us: int
    aliases: AliasTable = field(default_factory=AliasTable)
    vehicle: str = ""
    device: str = ""
    sheet_of: Mapping[str, str] = field(default_factory=dict)
    waive: frozenset[str] = frozenset()
    kept: Mapping[str, tuple[float, float]] = field(default_factory=dict)


@dataclass(slots=True, kw_only=True)
class Faults:
    """First fault of each row; what cannot be read at all weighs more than what cannot be believed.

    Parameters
    ----------
    rejected, quarantined : dict of int to (code, field, detail)
        By row.
    waive : frozenset of str
        Quarantine codes that are not held against a row.
    """

    rejected: dict[int, tuple[str, str, str]] = field(default_factory=dict)
    quarantined: dict[int, tuple[str, str, str]] = field(default_factory=dict)
    waive: frozenset[str]

    def reject(self, row: int, code: str, name: str, detail: str) -> None:
        """Note what makes a row unreadable; the first reason stays."""
        self.rejected.setdefault(row, (code, name, detail))

    def quarantine(self, row: int, code: str, name: str, detail: str) -> None:
        """Note what makes a row unbelievable, unless a person has set that aside; the first reason stays."""
        if code not in self.waive:
            self.quarantined.setdefault(row, (code, name, detail))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Meaning:
    """What each cell means; c cells.

    Parameters
    ----------
    column : intp array of shape (c,)
        Place in `parameters.CODES`; -1 where nothing explains the name.
    value : float64 array of shape (c,)
        In the parameter's default unit.
    foreign : bool array of shape (c,)
        True where the value came in another unit.
    aside : bool array of shape (c,)
        True where the value cannot be used and is kept beside the columns.
    vacuum : bool array of shape (c,)
        True where the name is a vacuum and the parameter an absolute pressure; settled by `ingest.vacuum`.
    personal : frozenset of int
        Places in `Cells.names` of driver and position fields.
    """

    column: NDArray[np.intp]
    foreign: NDArray[np.bool_]
    value: NDArray[np.float64]
    personal: frozenset[int]
    aside: NDArray[np.bool_]
    vacuum: NDArray[np.bool_]


def explain(cells: Cells, vehicle: list[str], device: list[str], context: Context, faults: Faults) -> Meaning:
    """Resolve names scope by scope, then convert units pair by pair.

    Parameters
    ----------
    cells : Cells
        What came.
    vehicle, device : list of str, length n
        With defaults filled in.
    context : Context
        Aliases and sheets.
    faults : Faults
        Takes units that are not accepted or not of this parameter.
    """
    scope, scopes = _number_scopes(vehicle, device, context)
    units = {name: place for place, name in enumerate(cells.units)}
    personal = frozenset(place for place, name in enumerate(cells.names) if is_personal(name))
    keys, where = _list_keys(cells, scope, len(scopes))
    column_of = np.full(len(keys), UNKNOWN, dtype=np.intp)
    unit_of = np.zeros(len(keys), dtype=np.intp)
    vacuum_of = np.zeros(len(keys), dtype=np.bool_)
    for key_place, key in enumerate(keys):
        owner, sheet = scopes[key // len(cells.names)]
        name_place = key % len(cells.names)
        found = context.aliases.read_header(cells.names[name_place], owner, sheet)
        if found and name_place not in personal:
            column_of[key_place] = COLUMN[found[0]]
            unit_of[key_place] = units.setdefault(found[1], len(units))
            vacuum_of[key_place] = is_vacuum(cells.names[name_place], found[0])
    column = column_of[where]
    unit = np.where(cells.unit > 0, cells.unit, unit_of[where])
    value, foreign, aside = _convert(cells, column, unit, list(units), faults)
    return Meaning(
        column=column,
        foreign=foreign,
        value=value,
        personal=personal,
        aside=aside,
        vacuum=vacuum_of[where],
    )


def _list_keys(cells: Cells, scope: NDArray[np.intp], scopes: int) -> tuple[list[int], NDArray[np.intp]]:
    """List the pairs of scope and name that occur, and where each cell's pair stands among them."""
    if scopes == 1:
        return list(range(len(cells.names))), cells.name
    pairs, where = np.unique(scope[cells.row] * len(cells.names) + cells.name, return_inverse=True)
    return pairs.tolist(), where


def _number_scopes(
    vehicle: list[str], device: list[str], context: Context
) -> tuple[NDArray[np.intp], list[tuple[str, str]]]:
    if not context.aliases.has_scopes():
        return np.zeros(len(vehicle), dtype=np.intp), [("", "")]
    places: dict[tuple[str, str], int] = {}
    narrow, sheet_of = context.aliases.narrow, context.sheet_of
    scope = [
        places.setdefault(narrow(owner, sheet_of.get(name, "")), len(places))
        for name, owner in zip(vehicle, device, strict=True)
    ]
    return np.array(scope, dtype=np.intp), list(places)


def _convert(
    cells: Cells,
    column: NDArray[np.intp],
    unit: NDArray[np.intp],
    units: list[str],
    faults: Faults,
) -> tuple[NDArray[np.float64], NDArray[np.bool_], NDArray[np.bool_]]:
    """Convert values to default units; gives also which came in another unit, and which are set aside."""
    value = cells.value.copy()
    foreign = np.zeros(len(value), dtype=np.bool_)
    aside = np.zeros(len(value), dtype=np.bool_)
    named = np.flatnonzero((unit > 0) & (column >= 0))
    pairs = column[named] * len(units) + unit[named]
    for pair in np.unique(pairs).tolist():
        parameter = PARAMETERS[CODES[pair // len(units)]]
        which = named[pairs == pair]
        try:
            factor, shift = find_line(units[pair % len(units)], parameter)
        except (UnknownUnit, WrongUnit) as error:
            aside[which] = True
            for row in np.unique(cells.row[which]).tolist():
                faults.quarantine(row, error.code, parameter.code, str(error))
            continue
        if (factor, shift) != (1.0, 0.0):
            value[which] = value[which] * factor + shift
            foreign[which] = True
    return value, foreign, aside
