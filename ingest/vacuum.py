"""Manifold vacuum, read as absolute pressure by the barometer of the same snapshot.

MAP = BARO - vacuum. An alias converts units and never a meaning, so that the barometer must be in the
snapshot itself; an hour-old one, or a height looked up, would be a guess.
"""

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np

from ingest.cells import NUMBER, Cells
from ingest.meaning import Meaning
from ingest.parameters import COLUMN

WITHOUT_BAROMETER: Final = "vacuum-without-barometer"
BELOW_ZERO: Final = "vacuum-below-zero"

Kept = Mapping[str, tuple[float, float]]
"""By vehicle: MAP and BARO [kPa] that the snapshot has beside the cells; NaN where it has none."""


def settle_vacuum(cells: Cells, meaning: Meaning, vehicle: Sequence[str], kept: Kept) -> dict[str, int]:
    """Turn vacuums into absolute pressures in place, and set aside those that cannot be.

    Parameters
    ----------
    cells : Cells
        What came.
    meaning : Meaning
        Values in default units, a vacuum still as such.
    vehicle : sequence of str, length n
        Of each row; the key of `kept`.
    kept : Kept
        Empty for snapshots that arrive.

    Returns
    -------
    dict of str to int
        Vacuums set aside, by reason: no barometer in the snapshot, or a negative one (some loggers count
        pressure below the air as negative, others pressure above it; nobody can tell which). One beside an
        absolute pressure is set aside without a word, for nothing is missing.
    """
    usable = (cells.kind == NUMBER) & ~meaning.aside & np.isfinite(meaning.value)
    which = np.flatnonzero(meaning.vacuum & usable)
    if not len(which):
        return {}
    beside = [kept.get(name, (np.nan, np.nan)) for name in vehicle]
    map_kpa, baro_kpa = (np.array(column, dtype=np.float64) for column in zip(*beside, strict=True))
    for column, code in ((map_kpa, "MAP"), (baro_kpa, "BARO")):
        own = np.flatnonzero(usable & ~meaning.vacuum & (meaning.column == COLUMN[code]))
        column[cells.row[own]] = meaning.value[own]
    row, vacuum_kpa = cells.row[which], meaning.value[which]
    needed = np.isnan(map_kpa[row])
    below_zero = needed & (vacuum_kpa < 0)
    unknown = needed & ~below_zero & np.isnan(baro_kpa[row])
    good = needed & ~below_zero & ~unknown
    meaning.value[which[good]] = baro_kpa[row[good]] - vacuum_kpa[good]
    meaning.foreign[which[good]] = True
    meaning.aside[which[~good]] = True
    return {WITHOUT_BAROMETER: int(unknown.sum()), BELOW_ZERO: int(below_zero.sum())}
