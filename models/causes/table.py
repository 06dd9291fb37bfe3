"""The readable table of causes as directions in the space of followed series.

`causes.toml` says for each cause which series move, which way and in what proportion, by engine type. Here
it becomes one matrix per spec sheet. Directions that move a single series belong to the cause `unknown`, so
that a pattern nobody described is still seen.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import CAUSES
from models.panel import SheetFacts
from models.series import NAMES, PLACE, SERIES

UNKNOWN: Final = CAUSES.index("unknown")


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """One row of the table.

    Parameters
    ----------
    cause : int
        Place in `CAUSES`.
    why : str
        What happens, in words.
    when : mapping
        Sheet fields that must have these values; a field the sheet does not give fits any.
    either : bool
        Whether the whole row may change sign.
    raises : bool
        Whether it may raise a ticket; else it only names the cause of what others raised.
    reported : tuple of str
        Names of series without which it says nothing of a vehicle.
    shift : mapping of series name to float
        Shift at the size at which drivers commonly complain [series' unit].
    """

    cause: int
    why: str
    when: Mapping[str, object]
    either: bool
    raises: bool
    reported: tuple[str, ...]
    shift: Mapping[str, float]

    def fits(self, sheet: SheetFacts | None) -> bool:
        """Say whether the row speaks of vehicles on this sheet; without a sheet every row does."""
        if sheet is None:
            return True
        return all(getattr(sheet, key) in (None, wanted) for key, wanted in self.when.items())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Directions:
    """Directions for one spec sheet; K rows.

    Parameters
    ----------
    shift : float64 array of shape (K, S)
        Shift of every series at complaint size, signed [series' unit].
    cause : int64 array of shape (K,)
        Place in `CAUSES`.
    reported : bool array of shape (K, S)
        Series without which a row says nothing of a vehicle.
    single : bool array of shape (K,)
        Whether it is a direction of one series that no cause describes.
    excuse, witness : float64 arrays of shape (N, S)
        Directions of nuisances, either sign: whole, and of the series alone that must bear them out.
    excused : bool array of shape (N, K)
        Which directions each nuisance may explain: those of its causes that share a series with it.
    """

    shift: NDArray[np.float64]
    cause: NDArray[np.int64]
    reported: NDArray[np.bool_]
    single: NDArray[np.bool_]
    excuse: NDArray[np.float64]
    witness: NDArray[np.float64]
    excused: NDArray[np.bool_]


@cache
def _table() -> dict[str, Any]:
    return tomllib.loads(resources.files("models.causes").joinpath("causes.toml").read_text(encoding="utf-8"))


@cache
def patterns() -> tuple[Pattern, ...]:
    """Give every row of the table."""
    return tuple(
        Pattern(
            cause=CAUSES.index(row["cause"]),
            why=row["why"],
            when=row.get("when", {}),
            either=row.get("either", False),
            raises=row.get("raises", True),
            reported=tuple(row.get("reported", ())),
            shift=row["shift"],
        )
        for row in _table()["pattern"]
    )


@cache
def priors() -> NDArray[np.float64]:
    """Give the share of each cause before any reading is seen, in the order of `CAUSES`."""
    weight = np.array([float(_table()["prior"][code]) for code in CAUSES])
    share: NDArray[np.float64] = weight / weight.sum()
    return share


@cache
def groups() -> tuple[str, ...]:
    """Give the physical group of each cause, in the order of `CAUSES`; `unknown` has none (empty)."""
    return tuple(_table()["group"].get(code, "") for code in CAUSES)


@dataclass(frozen=True, slots=True, kw_only=True)
class Nuisance:
    """A joint movement that is no fault.

    Parameters
    ----------
    why : str
        What happens, in words.
    excuses : tuple of int
        Causes that must fit better than it, places in `CAUSES`.
    witness : tuple of str
        Names of the series that must bear it out.
    shift : mapping of series name to float
        As in `Pattern`; either sign.
    """

    why: str
    excuses: tuple[int, ...]
    witness: tuple[str, ...]
    shift: Mapping[str, float]


@cache
def nuisances() -> tuple[Nuisance, ...]:
    """Give every nuisance of the table."""
    return tuple(
        Nuisance(
            why=row["why"],
            excuses=tuple(CAUSES.index(code) for code in row["excuses"]),
            witness=tuple(row["witness"]),
            shift=row["shift"],
        )
        for row in _table()["nuisance"]
    )


def directions(sheet: SheetFacts | None, *, naming: bool = False) -> Directions:
    """Give every direction in which a vehicle on this sheet may raise a ticket, `unknown` ones last.

    With `naming`, those of rows that only name a cause stand among them.

    Examples
    --------
    >>> from ingest.parameters import CAUSES
    >>> found = directions(SheetFacts(sheet="A", revision=1, source="book", air_metering="speed_density"))
    >>> CAUSES.index("air_meter_low") in found.cause
    False
    """
    rows: list[NDArray[np.float64]] = []
    cause: list[int] = []
    reported: list[NDArray[np.bool_]] = []
    for pattern in patterns():
        if not pattern.fits(sheet) or not (pattern.raises or naming):
            continue
        row = _row(pattern.shift)
        for sign in (1.0, -1.0) if pattern.either else (1.0,):
            rows.append(sign * row)
            cause.append(pattern.cause)
            reported.append(np.isin(NAMES, pattern.reported))
    for place, series in enumerate(SERIES):
        if not series.alone:
            continue
        for sign in (1, -1):
            if sign == series.better:
                continue
            row = np.zeros(len(SERIES))
            row[place] = sign * typical_shift()[place]
            rows.append(row)
            cause.append(UNKNOWN)
            reported.append(np.zeros(len(SERIES), dtype=bool))
    matrix = np.array(rows)
    codes = np.array(cause)
    excuse = np.array([_row(nuisance.shift) for nuisance in nuisances()])
    witness = np.array(
        [_row({name: nuisance.shift[name] for name in nuisance.witness}) for nuisance in nuisances()]
    )
    excused = np.array([np.isin(codes, nuisance.excuses) for nuisance in nuisances()])
    excused &= ((excuse != 0).astype(np.int64) @ (matrix != 0).T.astype(np.int64)) > 0
    return Directions(
        shift=matrix,
        cause=codes,
        reported=np.array(reported),
        single=codes == UNKNOWN,
        excuse=excuse,
        witness=witness,
        excused=excused,
    )


def _row(shift: Mapping[str, float]) -> NDArray[np.float64]:
    row = np.zeros(len(SERIES))
    for name, size in shift.items():
        row[PLACE[name]] = size
    return row


@cache
def typical_shift() -> NDArray[np.float64]:
    """Give the largest shift any cause gives each series: the size at which it would be noticed.

    A series that no cause moves is given twenty of its steps.
    """
    size = np.array([20.0 * max(series.step, 0.05) for series in SERIES])
    for place, series in enumerate(SERIES):
        named = [abs(pattern.shift[series.name]) for pattern in patterns() if series.name in pattern.shift]
        if named:
            size[place] = max(named)
    return size


@cache
def bears_on(cause: str) -> NDArray[np.bool_]:
    """Say which series a repair of this cause changes; of an unknown or empty cause, all.

    Returns
    -------
    bool array of shape (S,)
    """
    if cause in ("", "unknown"):
        return np.ones(len(SERIES), dtype=bool)
    touched = np.zeros(len(SERIES), dtype=bool)
    for pattern in patterns():
        if CAUSES[pattern.cause] == cause:
            touched[[PLACE[name] for name in pattern.shift]] = True
    return touched


@cache
def moved_by_repair(cause: str) -> NDArray[np.bool_]:
    """Say which series a repair of this cause may move: those it bears on, and what is computed from them.

    Returns
    -------
    bool array of shape (S,)

    Examples
    --------
    >>> bool(moved_by_repair("map_sensor_bias")[PLACE["ln MAF/MAP@cruise"]])
    True
    >>> bool(moved_by_repair("map_sensor_bias")[PLACE["VPWR@cruise"]])
    False
    """
    touched = bears_on(cause).copy()
    for row in _table()["repair"]:
        if cause in row["causes"]:
            touched[[PLACE[name] for name in row["moves"]]] = True
    return touched
