"""Values into their columns, after kind, finiteness and range were checked."""

import numpy as np
from numpy.typing import NDArray

from ingest.belief import ALLOWANCES, describe_range, lie_outside
from ingest.cells import FLAG, NUMBER, TEXT, Cells, show_cell
from ingest.meaning import Faults, Meaning
from ingest.parameters import CODES, FUEL_SYSTEM, PARAMETERS
from ingest.text import write_json

_ROUNDING = 1e-9  # what converting a unit may cost where a quantity has no step of its own
_KIND_WANTED = np.array(
    [{"flag": FLAG, "code": TEXT}.get(PARAMETERS[code].kind, NUMBER) for code in CODES], dtype=np.int8
)


def place_values(cells: Cells, meaning: Meaning, faults: Faults) -> NDArray[np.float64]:
    """Put believed values into their columns.

    Parameters
    ----------
    cells : Cells
        What came.
    meaning : Meaning
        What each cell means; values outside their range are marked in its `aside`.
    faults : Faults
        Takes what is wrong.

    Returns
    -------
    float64 array of shape (n, P)
        In default units, order of `parameters.CODES`; NaN where missing.
    """
    column, value = meaning.column, meaning.value
    known = column >= 0
    _check_kinds(cells, meaning, known, faults)
    numeric = known & (cells.kind == NUMBER) & ~meaning.aside
    broken = numeric & ~np.isfinite(value)
    for cell in np.flatnonzero(broken).tolist():
        name = CODES[column[cell]]
        detail = f"{name} must be a finite number, was {show_cell(cells, cell)}."
        faults.reject(int(cells.row[cell]), "not-finite", name, detail)
    checked = np.flatnonzero(numeric & ~broken)
    outside = checked[lie_outside(value[checked], column[checked])]
    for cell in outside.tolist():
        place = int(column[cell])
        detail = describe_range(place, float(value[cell]))
        faults.quarantine(int(cells.row[cell]), "out-of-range", CODES[place], detail)
    meaning.aside[outside] = True
    used = np.flatnonzero(known & ~meaning.aside & np.isfinite(value))
    values = np.full((len(cells), len(CODES)), np.nan)
    values[cells.row[used], column[used]] = value[used]
    _find_repeated(cells, meaning, used, values, faults)
    return values


def _check_kinds(cells: Cells, meaning: Meaning, known: NDArray[np.bool_], faults: Faults) -> None:
    wanted = _KIND_WANTED[meaning.column]
    fits = wanted == cells.kind
    fits |= (wanted == FLAG) & (cells.kind == NUMBER) & ((cells.value == 0) | (cells.value == 1))
    fits &= ~((cells.kind == TEXT) & np.isnan(cells.value))
    for cell in np.flatnonzero(known & ~fits).tolist():
        code = CODES[meaning.column[cell]]
        shown = write_json(show_cell(cells, cell))[:60]
        faults.reject(int(cells.row[cell]), *_name_kind_fault(code, shown))


def _name_kind_fault(code: str, shown: str) -> tuple[str, str, str]:
    kind = PARAMETERS[code].kind
    if kind == "code":
        return "bad-value", code, f"{code} must be one of {', '.join(FUEL_SYSTEM)}, was {shown}."
    if kind == "flag":
        return "bad-value", code, f"{code} must be true or false, was {shown}."
    bare = shown.strip('"')
    if bare.count(",") == 1 and bare.replace(",", "").lstrip("+-").isdigit():
        return "decimal-comma", code, f"{code} must be written with a decimal point (3.9), was {shown}."
    return "bad-value", code, f"{code} must be a number, was {shown}."


def _find_repeated(
    cells: Cells,
    meaning: Meaning,
    used: NDArray[np.intp],
    values: NDArray[np.float64],
    faults: Faults,
) -> None:
    """Two names of one parameter in one snapshot must agree; otherwise nobody knows which is meant."""
    kept = values[cells.row[used], meaning.column[used]]
    apart = np.abs(kept - meaning.value[used]) > ALLOWANCES[meaning.column[used]] + _ROUNDING
    for cell in used[apart].tolist():
        code = CODES[meaning.column[cell]]
        detail = f"{code} is given twice in this snapshot with different values."
        faults.quarantine(int(cells.row[cell]), "repeated-parameter", code, detail)
