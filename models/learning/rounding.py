"""How coarsely each vehicle's logger rounds, as its readings show."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.series import SERIES, Observations

LATELY_DAYS: Final = 90
"""Days before a fit whose readings show how its logger rounds; chosen by us."""

LATELY_LEAST: Final = 5
"""Fewest readings that do; chosen by us: five readings with a decimal are all whole once in 100,000 times; a
grid that is taken for twice as coarse is mostly still finer than readings scatter."""

LATELY: Final = 36
"""Most readings that do, the newest; chosen by us: it takes three values to see a step, and of so many there
mostly are."""

COME_AND_GO: Final = 3
"""Changes between two values that make them neighbours on a grid; chosen by us: a fault changes once."""

_TOLERANCE: Final = 0.04
_SAME: Final = 1e-9


def rounding_steps(
    seen: Observations, taught: NDArray[np.bool_], loggers: NDArray[np.int64], vehicles: int, fit_day: int
) -> NDArray[np.float64]:
    """Find the grid on which the newest readings lie, of a parameter in all states together.

    Parameters
    ----------
    seen : Observations
    taught : bool array of shape (k,)
        Observations to learn from.
    loggers : int64 array of shape (n, 4)
        Changes of logger, see `loggers.find_loggers`: readings from before one show nothing of the new one.
    vehicles : int
        How many there are, V.
    fit_day : int
        The last day that teaches.

    Returns
    -------
    float64 array of shape (V, S)
        Of parameters and differences [series' unit], 1 where all readings are whole, be they only two;
        0 of other series, and where fewer than `LATELY_LEAST` readings are at hand or lie on no grid.
    """
    found = np.zeros((vehicles, len(SERIES)))
    since = np.full(vehicles, fit_day - LATELY_DAYS + 1)
    known = loggers[loggers[:, 2] <= fit_day]
    np.maximum.at(since, known[:, 0], known[:, 1])
    lately = np.flatnonzero(taught & (seen.day >= since[seen.vehicle]))
    for scale in sorted({series.scale for series in SERIES} - {""}):
        mine = np.array([series.scale == scale for series in SERIES])
        row = lately[mine[seen.series[lately]]]
        part = seen.take(row[np.lexsort((seen.day[row], seen.vehicle[row]))])
        edges = part.bounds(vehicles)
        enough = np.flatnonzero(np.diff(edges) >= LATELY_LEAST)
        begin, end = edges[enough, None], edges[enough + 1, None]
        newest = np.maximum(end - LATELY + np.arange(LATELY), begin)
        found[np.ix_(enough, np.flatnonzero(mine))] = _step_of(part.value[newest])[:, None]
    return found


def _step_of(value: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give the step in which readings in the order of days are rounded; 0 where none shows.

    Two values alone may be neighbours on a grid or not: whole numbers are taken for steps of 1, others for
    neighbours if they come and go.
    """
    grid = grid_of(value)
    whole = on_grid(value, np.zeros((len(value), 1)), np.ones(len(value))).all(axis=1)
    apart = np.ptp(value, axis=1)
    change = np.abs(np.diff(value, axis=1))
    two = ((change < _SAME) | (np.abs(change - apart[:, None]) < _SAME)).all(axis=1)
    two &= (change > _SAME).sum(axis=1) >= COME_AND_GO
    return np.select([grid > 0, whole, two], [grid, np.ones(len(value)), apart])


def grid_of(value: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give the grid on which all readings of each row lie; 0 where on none or under three values.

    Examples
    --------
    >>> grid_of(np.array([[12.0, 13.0, 14.0], [12.1, 12.6, 14.0], [12.0, 12.0, 13.0]])).tolist()
    [1.0, 0.0, 0.0]
    """
    ordered = np.sort(value, axis=1)
    gap = np.diff(ordered, axis=1)
    moving = (gap > _SAME).sum(axis=1) >= 2
    step = np.where(moving, np.where(gap > _SAME, gap, np.inf).min(axis=1), 0.0)
    return np.where(on_grid(value, value[:, :1], step).all(axis=1), step, 0.0)


def on_grid(
    value: NDArray[np.float64], anchor: NDArray[np.float64], step: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Say which readings lie on a grid through each row's anchor, shape (n, w); a step of 0 is 1."""
    safe = np.where(step > 0, step, 1.0)[:, None]
    away = (value - anchor) / safe
    return np.abs(away - np.round(away)) <= _TOLERANCE
