"""From a pattern of shifts to causes with probabilities.

The size of the fault is unknown and the table's proportions are rough, so each row of the table is weighed
over a grid of sizes, and each series may miss its proportion by `TOLERANCE`. A series that a row does not
name is expected to stay put but for `SIDE`: what moves without being named speaks against the row. `unknown`
moves any one series.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import CAUSES
from models.causes.table import UNKNOWN, Directions, typical_shift

SIZES: Final = np.array([0.08, 0.12, 0.18, 0.27, 0.4, 0.6, 0.9, 1.35, 2.0, 3.0])
"""Fault sizes tried, as shares of the size at which drivers complain."""

TOLERANCE: Final = 0.25
"""Relative error of each entry of the cause table; chosen by us: the table is a rule of thumb."""

SIDE: Final = 0.04
"""What any fault may move a series besides, as a share of a noticeable shift; chosen by us: engines are less
tidy than the table. At 0.03 to 0.05 true causes were given the largest shares on tuning fleets."""

TEMPER: Final = 0.75
"""Weight of the evidence: series of one engine share noise and are not worth their count; from tuning seeds,
where stated shares came true about as often as stated."""


def rank_causes(
    z: NDArray[np.float64], root: NDArray[np.float64], directions: Directions, prior: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Give the probability of every cause for each of n patterns.

    Parameters
    ----------
    z : float64 array of shape (n, S)
        Standardised shifts; 0 where a series is silent.
    root : float64 array of shape (n, S)
        Root of the information on each shift; 0 where a series is silent.
    directions : Directions
        Of the vehicles' sheet, K rows.
    prior : float64 array of shape (number of causes,)

    Returns
    -------
    float64 array of shape (n, number of causes)
        Rows sum to 1; causes that the sheet rules out have 0.
    """
    present = (root > 0).astype(np.float64)
    evidence = np.full((len(z), len(CAUSES)), -np.inf)
    side = (SIDE * typical_shift() * root)[:, None, None, :] ** 2
    for cause in np.unique(directions.cause):
        mine = directions.cause == cause
        rows = directions.shift[mine]
        expected = rows[None, :, None, :] * root[:, None, None, :] * SIZES[None, None, :, None]
        spread = 1.0 + (TOLERANCE * expected) ** 2 + side
        away = (z[:, None, None, :] - expected) ** 2 / spread + np.log(spread)
        fit = -0.5 * TEMPER * np.einsum("nkas,ns->nka", away, present)
        speaks = (np.abs(expected[:, :, 0, :]) > 0).any(axis=-1)
        speaks &= (present[:, None, :] >= directions.reported[None, mine]).all(axis=-1)
        fit = np.where(speaks[:, :, None], fit, -np.inf)
        evidence[:, cause] = _log_mean(fit.reshape(len(z), len(rows) * len(SIZES)))
    with np.errstate(divide="ignore"):
        evidence = evidence + np.log(prior)
    evidence[~np.isfinite(evidence).any(axis=1), UNKNOWN] = 0.0
    weight = np.exp(evidence - evidence.max(axis=1, keepdims=True))
    share: NDArray[np.float64] = weight / weight.sum(axis=1, keepdims=True)
    return share


def _log_mean(values: NDArray[np.float64]) -> NDArray[np.float64]:
    top = values.max(axis=1)
    safe = np.where(np.isfinite(top), top, 0.0)
    mean = np.exp(values - safe[:, None]).mean(axis=1)
    return safe + np.log(np.where(mean > 0, mean, 1.0)) + np.where(mean > 0, 0.0, -np.inf)
