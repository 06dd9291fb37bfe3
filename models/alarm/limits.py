"""The sheet's band, held against the median of two weeks' readings: a sustained crossing counts by itself.

The verdict is on readings as they came, not on adjusted ones: a sheet speaks of what the reader shows.
"""

from dataclasses import dataclass
from math import log
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.evidence.history import History
from models.evidence.noise import Noise
from models.learning.fit import Material
from models.panel import Fleet
from models.series import LOADED, LOADS, SERIES, Observations

READINGS: Final = 9
"""Least readings in the median; chosen by us: a median of nine outvotes four wild ones."""

SPAN_DAYS: Final = 14
"""Days that those readings must span: a bad tank of fuel is gone by then; chosen by us."""

CLEARLY: Final = 2.0
"""Standard errors by which a median must lie beyond a limit. From tuning seeds 1 to 11 of sound fleets: with
half the noise of one reading, whatever the series' memory, 35 vehicles were called outside, with this 12, of
which seven lie beyond by the median of their whole history, too."""

_MEDIAN_WIDTH: Final = 1.2533
"""Standard error of a median over that of a mean, of many normal readings: sqrt(pi / 2)."""

FRESH_DAYS: Final = 45
"""A newest reading older than this speaks of the past."""

_AT_ONCE: Final = 200_000


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Bands:
    """Bands by group and series as the models hold it, shape (G, S); NaN where no sheet names one."""

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
            low[number, place] = np.nan if least is None else _held(least, place)
            high[number, place] = np.nan if most is None else _held(most, place)
    return Bands(low=low, high=high)


def _held(limit: float, place: int) -> float:
    """Give a limit as the models hold the series; a limit of 0 or less bounds no flow."""
    if not SERIES[place].log:
        return limit
    return 100.0 * log(limit) if limit > 0 else float("nan")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Medians:
    """Medians of the newest comparable readings, by observation.

    Parameters
    ----------
    value : float64 array of shape (k,)
        Median of the newest comparable readings up to this one: nine, or as many more as span two weeks where
        readings are frequent. NaN until the vehicle's series has so many.
    oldest : int32 array of shape (k,)
        Place of the oldest of them; -1 where there is no median.
    count : int16 array of shape (k,)
        How many they are; 0 where there is no median.
    """

    value: NDArray[np.float64]
    oldest: NDArray[np.int32]
    count: NDArray[np.int16]


def running_medians(material: Material) -> Medians:
    """Take the median of the newest comparable readings at every observation.

    A reading is not comparable while learned anew, nor with an idle load on where loads matter.
    """
    seen = material.seen
    value, count = np.full(len(seen), np.nan), np.zeros(len(seen), np.int16)
    oldest = np.full(len(seen), -1, np.int32)
    for rows in seen.blocks(len(material.group)):
        own = _medians_of(seen.take(rows), material.usable[rows])
        value[rows], count[rows] = own.value, own.count
        oldest[rows] = np.where(own.oldest >= 0, own.oldest + rows.start, -1)
    return Medians(value=value, oldest=oldest, count=count)


def _medians_of(seen: Observations, usable: NDArray[np.bool_]) -> Medians:
    """Take the medians of some vehicles; places are among theirs."""
    loads = (seen.covariate(np.arange(len(seen)), LOADS) > 0).any(axis=1)
    row = np.flatnonzero(usable & ~(loads & LOADED[seen.series]))
    value, oldest = np.full(len(seen), np.nan), np.full(len(seen), -1, np.int32)
    count = np.zeros(len(seen), np.int16)
    cell = seen.cell.astype(np.int64)
    key = cell[row] * 1_000_000 + seen.day[row]
    two_weeks_ago = np.searchsorted(key, key - SPAN_DAYS, side="right") - 1
    first = np.minimum(two_weeks_ago, np.arange(len(row)) - READINGS + 1)
    last = np.flatnonzero((first >= 0) & (cell[row[np.maximum(first, 0)]] == cell[row]))
    value[row[last]] = _medians_between(seen.value[row], first[last], last)
    oldest[row[last]] = row[first[last]]
    count[row[last]] = last - first[last] + 1
    newest = np.maximum.accumulate(np.where(oldest >= 0, np.arange(len(seen)), -1))
    same = (newest >= 0) & (cell[np.maximum(newest, 0)] == cell)
    return Medians(
        value=np.where(same, value[np.maximum(newest, 0)], np.nan),
        oldest=np.where(same, oldest[np.maximum(newest, 0)], -1),
        count=np.where(same, count[np.maximum(newest, 0)], 0),
    )


def _medians_between(
    value: NDArray[np.float64], first: NDArray[np.int64], last: NDArray[np.int64]
) -> NDArray[np.float64]:
    """Median of each window from `first` to `last`, both included; windows of one length go together."""
    found = np.empty(len(first))
    length = last - first + 1
    for size in np.unique(length).tolist():
        low, high = (size - 1) // 2, size // 2
        windows = np.lib.stride_tricks.sliding_window_view(value, size)
        mine = np.flatnonzero(length == size)
        for part in np.array_split(mine, len(mine) // _AT_ONCE + 1):
            ordered = np.partition(windows[first[part]], (low, high), axis=1)
            found[part] = (ordered[:, low] + ordered[:, high]) / 2
    return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Standing:
    """Where each series stands, arrays of shape (V, S).

    Parameters
    ----------
    outside : int8 array
        1 above its band, -1 below, 0 inside or not judged.
    margin : float64 array
        How far beyond a limit its median must lie to count as outside, as the models hold the series; NaN
        where there is no median to judge.
    """

    outside: NDArray[np.int8]
    margin: NDArray[np.float64]


def stand(
    material: Material,
    history: History,
    medians: Medians,
    bands: Bands,
    *,
    day: int,
    start: NDArray[np.int32],
    noise: Noise,
) -> Standing:
    """Say which series clearly stand outside their band on a day.

    Parameters
    ----------
    day : int
    start : int32 array of shape (V, S)
        First day of each running segment: older readings are not looked at.
    noise : Noise
        Readings of one vehicle resemble their neighbours: a running median wanders by as much as the
        inflation at its count says, and must lie beyond a limit by `CLEARLY` such errors.
    """
    if not len(medians.value):
        return Standing(outside=np.zeros(start.shape, np.int8), margin=np.full(start.shape, np.nan))
    origin = history.before(start)
    newest = history.before(day + 1) - 1
    place = np.maximum(newest, 0)
    known = (newest >= origin) & (medians.oldest[place] >= origin)
    known &= material.seen.day[place] > day - FRESH_DAYS
    value = np.where(known, medians.value[place], np.nan)
    count = np.where(known, medians.count[place], 1).astype(np.float64)
    margin = CLEARLY * error_of_median(noise, material.group, count) + noise.rounding
    margin = np.where(known, margin, np.nan)
    low, high = bands.low[material.group], bands.high[material.group]
    return Standing(outside=side_of(value, low, high, margin), margin=margin)


def error_of_median(
    noise: Noise, group: NDArray[np.int32], count: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Give the standard error of medians of `count` successive readings, shape (V, S)."""
    error: NDArray[np.float64] = _MEDIAN_WIDTH * noise.sigma * np.sqrt(noise.inflate(group, count) / count)
    return error


def side_of(
    value: NDArray[np.float64],
    low: NDArray[np.float64],
    high: NDArray[np.float64],
    margin: NDArray[np.float64],
) -> NDArray[np.int8]:
    """Hold values against bands: 1 above, -1 below, 0 inside or where anything needed is NaN.

    Examples
    --------
    >>> side_of(np.array([8.9, 9.1]), np.array(-8.0), np.array(8.0), np.array(1.0))
    array([0, 1], dtype=int8)
    """
    with np.errstate(invalid="ignore"):
        above, below = value > high + margin, value < low - margin
    return np.asarray(above.astype(np.int8) - below.astype(np.int8))
