"""Take out what weather, load switches and fuel explain, pooled over a spec sheet.

Within-vehicle, within-season regression: each vehicle and each `BLOCK_DAYS` block has its own level, so a
drifting vehicle cannot teach the weather its drift, and neither can a season's fuel. Huber weights keep wild
readings out; a ridge shrinks the coefficients honestly while there is little history.

References
----------
Huber, P. J. (1964). Robust estimation of a location parameter. Ann. Math. Statist. 35(1), 73-101
(citation from memory).
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.series import COVARIATES, SERIES, Observations

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
class Adjustment:
    """Fitted coefficients.

    Parameters
    ----------
    slope : float64 array of shape (G, S, C)
        Change of a series [its unit] for one ordinary change of a covariate; 0 where not fitted.
        G counts spec sheets plus one last group for vehicles without a sheet.
    centre : float64 array of shape (G, S, C)
        Covariate value at which nothing is taken out.
    """

    slope: NDArray[np.float64]
    centre: NDArray[np.float64]

    def explained(self, seen: Observations, group: NDArray[np.int32]) -> NDArray[np.float64]:
        """Give the part of each value that the covariates explain; a missing covariate explains nothing.

        Parameters
        ----------
        seen : Observations
        group : int32 array of shape (V,)
            Group of each vehicle.

        Returns
        -------
        float64 array of shape (k,)
        """
        row = group[seen.vehicle]
        away = seen.covariate - self.centre[row, seen.series]
        return np.einsum("kc,kc->k", np.nan_to_num(away), self.slope[row, seen.series])


def fit_adjustment(seen: Observations, group: NDArray[np.int32], groups: int, until_day: int) -> Adjustment:
    """Fit the pooled coefficients on everything taken up to a day.

    Parameters
    ----------
    seen : Observations
    group : int32 array of shape (V,)
        Group of each vehicle, 0 to `groups` - 1.
    groups : int
        Number of groups G.
    until_day : int
        Last day whose readings may teach [days since 1970-01-01].

    Returns
    -------
    Adjustment
    """
    shape = (groups, len(SERIES), len(COVARIATES))
    slope, centre = np.zeros(shape), np.zeros(shape)
    taught = np.flatnonzero(seen.day <= until_day)
    cell = group[seen.vehicle[taught]].astype(np.int64) * len(SERIES) + seen.series[taught]
    order = np.argsort(cell, kind="stable")
    bounds = np.flatnonzero(np.diff(cell[order], prepend=-1, append=-1))
    for start, stop in zip(bounds[:-1], bounds[1:], strict=True):
        rows = taught[order[start:stop]]
        place, series = divmod(int(cell[order[start]]), len(SERIES))
        used = _EXPLAINED_BY[series]
        if len(rows) < MIN_READINGS or not len(used):
            continue
        x = seen.covariate[rows][:, used]
        middle = _centre(x)
        centre[place, series, used] = middle
        level = seen.vehicle[rows].astype(np.int64) * 100_000 + seen.day[rows] // BLOCK_DAYS
        slope[place, series, used] = _robust_slopes(np.nan_to_num(x - middle), seen.value[rows], level)
    return Adjustment(slope=slope, centre=centre)


def _centre(x: NDArray[np.float64]) -> NDArray[np.float64]:
    present = np.isfinite(x)
    count = present.sum(axis=0)
    return np.where(count > 0, np.where(present, x, 0.0).sum(axis=0) / np.maximum(count, 1), 0.0)


def _robust_slopes(
    x: NDArray[np.float64], y: NDArray[np.float64], level: NDArray[np.int64]
) -> NDArray[np.float64]:
    """Huber regression with one level per block, by iterated reweighting."""
    _, member = np.unique(level, return_inverse=True)
    weight = np.ones(len(y))
    slopes = np.zeros(x.shape[1])
    for _ in range(_ROUNDS):
        total = np.bincount(member, weight)
        x_away = x - np.column_stack([np.bincount(member, weight * column) / total for column in x.T])[member]
        y_away = y - (np.bincount(member, weight * y) / total)[member]
        rest = y_away - x_away @ slopes
        sigma = max(float(np.median(np.abs(rest))) * 1.4826, 1e-9)
        slopes = np.linalg.solve(
            (x_away * weight[:, None]).T @ x_away + RIDGE * np.eye(x.shape[1]),
            (x_away * weight[:, None]).T @ y_away,
        )
        rest = y_away - x_away @ slopes
        weight = 1.0 / np.maximum(1.0, np.abs(rest) / (HUBER_K * sigma))
    return slopes
