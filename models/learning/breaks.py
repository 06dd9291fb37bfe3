"""Known and discovered breaks: repairs, battery changes, cleared memory.

A repair starts a new baseline for the series that its cause can move. Cleared memory sets learned values to
zero and lets them come back: the days of relearning prove nothing and are left out, but the vehicle's own
normal stays what it was, so that clearing never makes a drifted vehicle its own new normal.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import COLUMN, STATES
from models.causes.table import bears_on, moved_by_repair
from models.panel import Daily, Fleet, WorkFact
from models.series import CLEARED, LEARNED, SERIES, TRIMS, Observations

RELEARN_DAYS: Final = 8
"""Days after cleared memory whose learned values are left out; chosen by us where no sheet says otherwise."""

RENEWING: Final = ("repair", "battery_replaced")
"""Kinds of work after which a baseline may begin anew."""

UNTOLD: Final = ("", "unknown")
"""Causes of a repair that say nothing of what was repaired."""

MOVE_KPA: Final = 3.0
"""Change of outside pressure that weather does not make overnight and keep; chosen by us: some 250 m."""

_BEFORE_MOVE: Final = 10
_SETTLE_DAYS: Final = 30
_FALL: Final = 0.5
_MIN_COUNTER: Final = {"CLR_DIST": 10.0, "WARM_UPS": 3.0}
_ZERO_AFTER_PCT: Final = 1.5
_MEMORY: Final = 8


def find_resets(daily: Daily, seen: Observations) -> NDArray[np.int64]:
    """Find days on which a vehicle's adaptive memory was cleared, told by nobody.

    Counters that run since the last clearing fall by half or more, or every learned trim of the day reads
    exactly zero on a vehicle whose trims lately did not.

    Returns
    -------
    int64 array of shape (r, 2)
        Vehicle place and day, sorted, each once.
    """
    found = [_counter_falls(daily, code) for code in _MIN_COUNTER]
    found.append(_zeroed_trims(seen))
    return np.unique(np.concatenate(found), axis=0)


def _counter_falls(daily: Daily, code: str) -> NDArray[np.int64]:
    value = daily.values[:, COLUMN[code]]
    row = np.flatnonzero(np.isfinite(value))
    if not len(row):
        return np.empty((0, 2), np.int64)
    key = daily.vehicle[row].astype(np.int64) * 1_000_000 + daily.day[row]
    start = np.flatnonzero(np.diff(key, prepend=-1))
    vehicle, day = daily.vehicle[row][start], daily.day[row][start]
    lowest, highest = np.minimum.reduceat(value[row], start), np.maximum.reduceat(value[row], start)
    fell = np.zeros(len(start), dtype=bool)
    fell[1:] = (
        (vehicle[1:] == vehicle[:-1])
        & (highest[:-1] >= _MIN_COUNTER[code])
        & (lowest[1:] < _FALL * highest[:-1])
    )
    return np.column_stack((vehicle[fell], day[fell])).astype(np.int64)


def _zeroed_trims(seen: Observations) -> NDArray[np.int64]:
    row = np.flatnonzero(TRIMS[seen.series])
    if not len(row):
        return np.empty((0, 2), np.int64)
    row = row[np.lexsort((seen.day[row], seen.vehicle[row]))]
    size = np.abs(seen.value[row])
    key = seen.vehicle[row].astype(np.int64) * 1_000_000 + seen.day[row]
    start = np.flatnonzero(np.diff(key, prepend=-1))
    largest = np.maximum.reduceat(size, start)
    running = np.concatenate(([0.0], np.cumsum(size)))
    vehicle = seen.vehicle[row][start]
    first_row = np.searchsorted(seen.vehicle[row], vehicle)
    low = np.maximum(start - _MEMORY, first_row)
    lately = (running[start] - running[low]) / np.maximum(start - low, 1)
    zeroed = (largest < 1e-9) & (start - low >= _MEMORY // 2) & (lately >= _ZERO_AFTER_PCT)
    return np.column_stack((vehicle[zeroed], seen.day[row][start][zeroed])).astype(np.int64)


def find_moves(daily: Daily) -> NDArray[np.int64]:
    """Find vehicles that came to live at another altitude: fuel and air are no longer what they were.

    The outside pressure of a day lies `MOVE_KPA` or more off the median of the ten days with readings
    before, on the same side on two days with readings in a row.

    Returns
    -------
    int64 array of shape (m, 3)
        Vehicle place, day of the first such reading, and day on which it was confirmed; sorted.
    """
    pressure = _outside_pressure(daily)
    row = np.flatnonzero(np.isfinite(pressure))
    if not len(row):
        return np.empty((0, 3), np.int64)
    key = daily.vehicle[row].astype(np.int64) * 1_000_000 + daily.day[row]
    start = np.flatnonzero(np.diff(key, prepend=-1))
    mean = np.add.reduceat(pressure[row], start) / np.diff(np.append(start, len(row)))
    vehicle, day = daily.vehicle[row][start], daily.day[row][start]
    if len(mean) < _BEFORE_MOVE + 2:
        return np.empty((0, 3), np.int64)
    usual = np.median(np.lib.stride_tricks.sliding_window_view(mean, _BEFORE_MOVE), axis=1)
    at = np.arange(_BEFORE_MOVE, len(mean) - 1)
    usual = usual[: len(at)]
    same = (vehicle[at - _BEFORE_MOVE] == vehicle[at]) & (vehicle[at + 1] == vehicle[at])
    first, second = mean[at] - usual, mean[at + 1] - usual
    moved = same & (np.minimum(np.abs(first), np.abs(second)) >= MOVE_KPA) & (first * second > 0)
    found = np.column_stack((vehicle[at], day[at], day[at + 1]))[moved].astype(np.int64)
    again = np.zeros(len(found), dtype=bool)
    again[1:] = (np.diff(found[:, 0]) == 0) & (np.diff(found[:, 1]) <= _SETTLE_DAYS)
    kept: NDArray[np.int64] = found[~again]
    return kept


def _outside_pressure(daily: Daily) -> NDArray[np.float64]:
    """Barometer where there is one, else manifold pressure with the engine off [kPa]."""
    off = np.isin(daily.state, (STATES.index("koeo"), STATES.index("koeo_soak")))
    manifold = np.where(off, daily.values[:, COLUMN["MAP"]], np.nan)
    barometer = daily.values[:, COLUMN["BARO"]]
    return np.where(np.isfinite(barometer), barometer, manifold)


def recorded_resets(fleet: Fleet) -> NDArray[np.int64]:
    """Give vehicle place and day of every record after which learned values are being learned anew."""
    rows = [
        (fact.vehicle, fact.day)
        for fact in fleet.work
        if fact.kind in ("memory_cleared", "battery_replaced")
        or (fact.kind == "repair" and fact.cause not in UNTOLD and (bears_on(fact.cause) & LEARNED).any())
    ]
    return np.array(rows, dtype=np.int64).reshape(-1, 2)


def relearning(seen: Observations, resets: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Mark learned values taken while they were being learned anew, shape (k,)."""
    masked = np.zeros(len(seen), dtype=bool)
    if not len(resets):
        return masked
    scale = 1_000_000
    keys = np.unique(resets[:, 0] * scale + resets[:, 1])
    for rows in seen.blocks(int(seen.vehicle[-1]) + 1 if len(seen) else 0):
        part = seen.take(rows)
        mine = part.vehicle.astype(np.int64) * scale + part.day
        before = np.searchsorted(keys, mine, side="right") - 1
        gap = mine - keys[np.maximum(before, 0)]
        masked[rows] = (before >= 0) & (gap <= RELEARN_DAYS) & CLEARED[part.series]
    return masked


def is_untold(fact: WorkFact) -> bool:
    """Say whether a repair does not tell what was repaired."""
    return fact.kind == "repair" and fact.cause in UNTOLD


def touched_by(fact: WorkFact) -> NDArray[np.bool_]:
    """Say which series a repair or a new battery moves, bool array of shape (S,)."""
    if fact.kind == "battery_replaced":
        return moved_by_repair("battery_ageing") | moved_by_repair("charging_low")
    return moved_by_repair(fact.cause)


def number_stretches(fleet: Fleet, seen: Observations) -> NDArray[np.int32]:
    """Count up from one stretch between repairs to the next, for every vehicle's series, shape (k,).

    A reading belongs to the stretch after a repair from the day after it on. A repair that does not say what
    was repaired parts all series: readings on either side must not pull each other in.
    """
    begins = np.diff(seen.cell, prepend=np.int32(-1)) != 0
    bounds = seen.bounds(len(fleet.vehicles)).tolist()
    for fact in fleet.work:
        if fact.kind not in RENEWING:
            continue
        low, high = bounds[fact.vehicle], bounds[fact.vehicle + 1]
        series, day = seen.series[low:high], seen.day[low:high]
        parted = np.ones(len(SERIES), dtype=bool) if is_untold(fact) else touched_by(fact)
        after = (day > fact.day) & parted[series]
        first = after & ~np.concatenate(([False], after[:-1] & (np.diff(series) == 0)))
        begins[low:high] |= first
    return np.cumsum(begins, dtype=np.int32)
