"""Which columns a joint score over many features can digest.

One idea: constant, repeated, crowded and mostly empty columns make covariances singular and put
isolation trees on a grid of ties; they are left out by name and reason, never silently.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.statistics.robust import middle

ROWS_PER_COLUMN: Final = 5
"""Rows for each column below which the determinant method chokes and shrinkage takes over [1]."""

LEAST_LEVELS: Final = 5
"""Fewest different values of a usable column [1]; chosen by us: coarser ones put rows on a grid of ties."""

MOST_AT_ONE_VALUE: Final = 0.4
"""Largest share of rows on one value [1]; chosen by us: at half of them MinCovDet is singular."""

MOST_MISSING: Final = 0.5
"""Largest share of rows without a value [1]; chosen by us: beyond it the column is more guess than data."""

SAME: Final = 1e-6
"""Share of a column not explained by others below which it says nothing new [1]; chosen by us."""


def usable_columns(
    table: NDArray[np.float64], names: tuple[str, ...]
) -> tuple[list[int], tuple[tuple[str, str], ...]]:
    """Choose the columns that a joint score can digest, and say why the others were left out.

    Parameters
    ----------
    table : float64 array of shape (n, F)
        Rows that will teach the score; NaN marks a missing value.
    names : tuple of str, length F
        Names of the columns.

    Returns
    -------
    kept : list of int
        Places of the usable columns, in order.
    dropped : tuple of (str, str)
        Name and reason of each other one.

    Examples
    --------
    >>> rows = np.arange(20.0)
    >>> usable_columns(np.column_stack([rows % 7, np.ones(20), 3 * (rows % 7)]), ("a", "b", "c"))
    ([0], (('b', 'constant'), ('c', 'follows from the features before it')))
    """
    kept: list[int] = []
    dropped: list[tuple[str, str]] = []
    enough = len(table) >= ROWS_PER_COLUMN * table.shape[1]
    centred = np.nan_to_num(table - middle(table.T), nan=0.0)
    for place, name in enumerate(names):
        reason = _fault_of(table[:, place])
        # With few rows any column follows from the others; then only a plain repeat of one counts.
        others = [kept] if enough else [[one] for one in kept]
        if not reason and any(_follows(centred[:, place], centred[:, group]) for group in others if group):
            reason = "follows from the features before it"
        if reason:
            dropped.append((name, reason))
        else:
            kept.append(place)
    return kept, tuple(dropped)


def _fault_of(column: NDArray[np.float64]) -> str:
    """Say what makes a column unusable by itself; empty when nothing does."""
    there = column[~np.isnan(column)]
    if len(there) < (1.0 - MOST_MISSING) * len(column):
        return "missing in more than half of the rows"
    levels, counts = np.unique(there, return_counts=True)
    if len(levels) == 1:
        return "constant"
    if len(levels) < LEAST_LEVELS:
        return f"only {len(levels)} different values"
    if counts.max() > MOST_AT_ONE_VALUE * len(there):
        return f"{counts.max()} of {len(there)} rows share one value"
    return ""


def _follows(column: NDArray[np.float64], others: NDArray[np.float64]) -> bool:
    """Tell whether a column is a linear mixture of others."""
    # Columns of very different units would lose the small one: bring them to length 1 first.
    basis = np.column_stack([np.ones(len(column)), others / np.linalg.norm(others, axis=0)])
    deviation = column - column.mean()
    left = deviation - basis @ np.linalg.lstsq(basis, deviation, rcond=None)[0]
    return bool(np.linalg.norm(left) < SAME * np.linalg.norm(deviation))
