"""Changed loggers, found in the data where no device tells.

Another logger may round to other steps. That shows by itself: readings that all lay on one coarse grid leave
it, several parameters on the same day. What a change did to the levels, `models.changes.swaps` asks.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import CODES, COLUMN, PARAMETERS
from models.learning.rounding import grid_of, on_grid
from models.panel import Daily, Fleet, days_of_work

LOGGER_CHANGED: Final = "logger_changed"
"""Kind of the work fact that tells of another device."""

BLOCK: Final = 12
"""Readings of one parameter that are held together; by chance one block in 2,048 seems too coarse."""

LEFT: Final = 0.6
"""Share of readings still on the old grid up to which it was left: twice as fine, half still are."""

TOGETHER_DAYS: Final = 5
"""Days within which two parameters must change their grids; chosen by us."""

MIN_PARAMETERS: Final = 4
"""Parameters that must change together: two sometimes do by chance, more never did on tuning fleets."""

_LEVELS: Final = tuple(
    COLUMN[code] for code in CODES if PARAMETERS[code].kind == "level" and code not in ("LAMBDA1", "FLI")
)


def find_loggers(fleet: Fleet, daily: Daily) -> NDArray[np.int64]:
    """Give the changes of logger, told and found.

    Returns
    -------
    int64 array of shape (n, 4)
        Vehicle place, first day, day from which it is known, and 1 where the data alone tell; sorted. A found
        one within `TOGETHER_DAYS` of a told one is the same.
    """
    days = days_of_work(fleet, (LOGGER_CHANGED,))
    told = [(vehicle, day, day, 0) for vehicle, own in days.items() for day in own]
    found = [
        (vehicle, first, known, 1)
        for vehicle, first, known in find_regridded(daily).tolist()
        if all(abs(first - day) > TOGETHER_DAYS for day in days.get(vehicle, []))
    ]
    return np.array(sorted(told + found), dtype=np.int64).reshape(-1, 4)


def find_regridded(daily: Daily) -> NDArray[np.int64]:
    """Find days on which several of a vehicle's parameters begin to be rounded otherwise.

    Returns
    -------
    int64 array of shape (f, 3)
        Vehicle place, first day with the new rounding, day on which it was confirmed; sorted.
    """
    parts = [_left_grids(daily, column) for column in _LEVELS]
    every = np.concatenate(parts)
    every = every[np.lexsort((every[:, 1], every[:, 0]))]
    changes: list[tuple[int, int, int]] = []
    place = 0
    while place < len(every):
        vehicle, first = every[place, :2]
        until = place + 1
        while until < len(every) and every[until, 0] == vehicle and every[until, 1] <= first + TOGETHER_DAYS:
            until += 1
        together = every[place:until]
        if len(np.unique(together[:, 3])) >= MIN_PARAMETERS:
            changes.append((int(vehicle), int(np.median(together[:, 1])), int(together[:, 2].max())))
            place = until
        else:
            place += 1
    return np.array(changes, dtype=np.int64).reshape(-1, 3)


def _left_grids(daily: Daily, column: int) -> NDArray[np.int64]:
    """Find where one parameter leaves or enters a grid: vehicle, first day, day confirmed, parameter.

    Readings are taken by blocks; a block that lies on a grid is held against the next but one, and the day
    is read off in the block between.
    """
    single = (daily.readings % 2 == 1) & np.isfinite(daily.values[:, column])
    row = np.flatnonzero(single)
    vehicle = daily.vehicle[row].astype(np.int64)
    begin = np.flatnonzero(np.diff(vehicle, prepend=-1))
    length = np.diff(np.append(begin, len(vehicle)))
    whole = length // BLOCK
    first_of = np.repeat(begin, whole) + BLOCK * _count_up(whole)
    if len(first_of) < 3:
        return np.empty((0, 4), np.int64)
    block = row[first_of[:, None] + np.arange(BLOCK)[None, :]]
    value = daily.values[block, column]
    owner = np.repeat(vehicle[begin], whole)
    grid = grid_of(value)
    found = []
    neighbours = np.flatnonzero(owner[2:] == owner[:-2])
    for before, after, entering in ((neighbours, neighbours + 2, False), (neighbours + 2, neighbours, True)):
        step, anchor = grid[before], value[before, :1]
        share = on_grid(value[after], anchor, step).mean(axis=1)
        here = np.flatnonzero((step > 0) & (share <= LEFT))
        middle = neighbours[here] + 1
        on = on_grid(value[middle], anchor[here], step[here])
        on = on[:, ::-1] if entering else on
        kept = np.where(on.all(axis=1), BLOCK, (~on).argmax(axis=1))
        at = BLOCK - kept if entering else kept
        days = daily.day[np.concatenate((block[middle], block[middle + 1]), axis=1)]
        first = days[np.arange(len(here)), at]
        confirmed = days[:, -1]
        found.append(np.column_stack((owner[middle], first, confirmed, np.full(len(here), column))))
    return np.concatenate(found).astype(np.int64)


def _count_up(counts: NDArray[np.int64]) -> NDArray[np.int64]:
    """Count from 0 within groups of the given sizes."""
    ends = np.cumsum(counts)
    return np.arange(int(counts.sum())) - np.repeat(ends - counts, counts)
