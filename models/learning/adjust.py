"""Take out what weather, load switches and fuel explain, pooled over a spec sheet.

Within-vehicle, within-season regression: each vehicle and each `BLOCK_DAYS` block has its own level, so a
drifting vehicle cannot teach the weather its drift, and neither can a season's fuel. Huber weights keep wild
readings out; a ridge shrinks the coefficients honestly while there is little history.

References
----------
Huber, P. J. (1964). Robust estimation of a location parameter. Ann. Math. Statist. 35(1), 73-101
(citation from memory).
"""

import itertools
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.series import COVARIATES, SERIES, Observations
from models.statistics.grouped import sort_small

BLOCK_DAYS: Final = 60
"""Length of a block with a level of its own [days]; chosen by us: a third of the shortest season."""

HUBER_K: Final = 1.5
"""Residuals beyond this many sigma weigh less; customary between 1.345 and 2 (from memory)."""

RIDGE: Final = 1.0
"""Prior weight: a covariate's ordinary change explains one sigma, worth one reading; chosen by us."""

MIN_READINGS: Final = 12
"""Fewer readings than this on a sheet explain nothing; chosen by us."""

_ROUNDS: Final = 4
_COVARIATE_PLACE: Final = {name: place for place, name in enumerate(COVARIATES)}
_EXPLAINED_BY: Final = tuple(
    np.array([_COVARIATE_PLACE[name] for name in series.explained_by], dtype=np.int64) for series in SERIES
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Cells:
    """Observations by group of like vehicles and series.

    Parameters
    ----------
    order : int32 array of shape (k,)
        Rows of the observations, one cell after the other.
    bounds : int64 array of shape (cells + 1,)
        Where each cell begins in `order`, and the end.
    level : int32 array of shape (k,)
        Number of the vehicle's block that each place in `order` lies in, from 0 within its cell.
    """

    order: NDArray[np.int32]
    bounds: NDArray[np.int64]
    level: NDArray[np.int32]


def sort_cells(seen: Observations, group: NDArray[np.int32]) -> Cells:
    """Sort the observations into cells.

    Parameters
    ----------
    seen : Observations
    group : int32 array of shape (V,)
        Group of each vehicle, from 0.

    Returns
    -------
    Cells
    """
    cell = group[seen.vehicle] * np.int32(len(SERIES)) + seen.series
    order = sort_small(cell).astype(np.int32)
    bounds = np.flatnonzero(np.diff(cell[order], prepend=-1, append=-1))
    level = np.empty(len(order), np.int32)
    for start, stop in itertools.pairwise(bounds):
        rows = order[start:stop]  # sorted by vehicle, day
        block = seen.vehicle[rows].astype(np.int64) * 100_000 + seen.day[rows] // BLOCK_DAYS
        level[start:stop] = np.cumsum(np.diff(block, prepend=block[0]) != 0)
    return Cells(order=order, bounds=bounds, level=level)


def fit_adjustment(seen: Observations, cells: Cells, until_day: int) -> NDArray[np.float64]:
    """Fit the pooled coefficients on everything taken up to a day and say what they explain.

    Parameters
    ----------
    seen : Observations
    cells : Cells
    until_day : int
        Last day whose readings may teach [days since 1970-01-01].

    Returns
    -------
    float64 array of shape (k,)
        Part of each value that the covariates explain [series' unit], zero at their mean; a missing
        covariate explains nothing.
    """
    explained = np.zeros(len(seen))
    for start, stop in itertools.pairwise(cells.bounds):
        rows = cells.order[start:stop]
        used = _EXPLAINED_BY[seen.series[rows[0]]]
        taught = seen.day[rows] <= until_day
        if not len(used) or taught.sum() < MIN_READINGS:
            continue
        x = seen.covariate(rows, used)
        x = np.nan_to_num(x - _centre(x[taught]))
        level = cells.level[start:stop]
        explained[rows] = x @ _robust_slopes(x[taught], seen.value[rows][taught], level[taught])
    return explained


def _centre(x: NDArray[np.float64]) -> NDArray[np.float64]:
    present = np.isfinite(x)
    count = present.sum(axis=0)
    return np.where(count > 0, np.where(present, x, 0.0).sum(axis=0) / np.maximum(count, 1), 0.0)


def _robust_slopes(
    x: NDArray[np.float64], y: NDArray[np.float64], level: NDArray[np.int32]
) -> NDArray[np.float64]:
    """Huber regression with one level per block, by iterated reweighting."""
    weight = np.ones(len(y))
    slopes: NDArray[np.float64] = np.zeros(x.shape[1])
    for _ in range(_ROUNDS):
        total = np.maximum(np.bincount(level, weight), 1e-12)  # a block may lie after the fit date
        x_away = x - np.column_stack([np.bincount(level, weight * column) / total for column in x.T])[level]
        y_away = y - (np.bincount(level, weight * y) / total)[level]
        rest = y_away - x_away @ slopes
        sigma = max(float(np.median(np.abs(rest))) * 1.4826, 1e-9)
        slopes = np.asarray(
            np.linalg.solve(
                (x_away * weight[:, None]).T @ x_away + RIDGE * np.eye(x.shape[1]),
                (x_away * weight[:, None]).T @ y_away,
            )
        )
        rest = y_away - x_away @ slopes
        weight = 1.0 / np.maximum(1.0, np.abs(rest) / (HUBER_K * sigma))
    return slopes
