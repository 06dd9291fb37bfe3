"""The sheet's band, held against the median of five readings: a sustained crossing counts by itself.

The verdict is on readings as they came, not on adjusted ones: a sheet speaks of what the reader shows.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.fit import Material
from models.history import History
from models.panel import Fleet
from models.series import SERIES, Observations

READINGS: Final = 5
"""Days with readings in the median; chosen by us: a median of five outvotes two wild ones."""

FRESH_DAYS: Final = 45
"""A newest reading older than this speaks of the past."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bands:
    """Bands by group and series, shape (G, S), NaN where the sheet names none or no sheet is known."""

    low: NDArray[np.float64]
    high: NDArray[np.float64]


def read_bands(fleet: Fleet) -> Bands:
    """Put every sheet's limits in the place of the series they speak of; the last group has none."""
    shape = (len(fleet.sheets) + 1, len(SERIES))
    low, high = np.full(shape, np.nan), np.full(shape, np.nan)
    place_of = {
        (series.parameter, state): place
        for place, series in enumerate(SERIES)
        if series.limited
        for state in series.states
    }
    for number, sheet in enumerate(fleet.sheets):
        for parameter, state, least, most in sheet.limits:
            place = place_of.get((parameter, state))
            if place is None:
                continue
            low[number, place] = np.nan if least is None else least
            high[number, place] = np.nan if most is None else most
    return Bands(low=low, high=high)


def running_medians(material: Material) -> NDArray[np.float64]:
    """Give for each observation the median of it and the four usable ones before, shape (k,).

    NaN until there are five of the same vehicle and series.
    """
    seen = material.seen
    row = np.flatnonzero(material.usable)
    median = np.full(len(seen), np.nan)
    if len(row) < READINGS:
        return median
    window = np.lib.stride_tricks.sliding_window_view(seen.value[row], READINGS)
    cell = _cell(seen)[row]
    same = cell[READINGS - 1 :] == cell[: len(cell) - READINGS + 1]
    middle = np.sort(window, axis=1)[:, READINGS // 2]
    median[row[READINGS - 1 :]] = np.where(same, middle, np.nan)
    return median


def _cell(seen: Observations) -> NDArray[np.int64]:
    return seen.vehicle.astype(np.int64) * len(SERIES) + seen.series


def crossings(
    material: Material,
    history: History,
    medians: NDArray[np.float64],
    bands: Bands,
    *,
    day: int,
    start: NDArray[np.int32],
) -> NDArray[np.int8]:
    """Say which series stand outside their band on a day.

    Returns
    -------
    int8 array of shape (V, S)
        1 above, -1 below, 0 inside or not judged.
    """
    newest = history.before(day + 1) - 1
    known = newest >= history.before(start) + READINGS - 1
    newest = np.maximum(newest, 0)
    if not len(medians):
        return np.zeros(start.shape, np.int8)
    known &= material.seen.day[newest] > day - FRESH_DAYS
    value = np.where(known, medians[newest], np.nan)
    with np.errstate(invalid="ignore"):
        above, below = value > bands.high[material.group], value < bands.low[material.group]
    return above.astype(np.int8) - below.astype(np.int8)
