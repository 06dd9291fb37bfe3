"""Were stated probabilities right: scores, a table to read, and a curve that corrects.

References
----------
G. W. Brier, Monthly Weather Review 78 (1950) 1-3 (from memory).
J. Platt, Advances in Large Margin Classifiers (1999) (from memory): the two-parameter curve.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.errors import OutOfRangeError, ShapeError
from models.statistics.arguments import as_columns, demand_positive
from models.statistics.proportion import wilson

EDGE: Final = 1e-6
"""Distance from 0 and 1 at which a stated probability is held before its logit [1]; chosen by us."""

HOLD: Final = 10.0
"""Outcomes that the belief "the statements are right" is worth [1]; chosen by us: ten labels move little."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bin:
    """One row of the reliability table.

    Parameters
    ----------
    low, high : float
        Edges of the stated probability; the upper one belongs to the next row, save 1 itself.
    count, happened : int
        Statements in the row and how many came true.
    stated, observed : float
        Mean statement and share that came true.
    observed_low, observed_high : float
        Wilson's 95 % interval of that share.
    """

    low: float
    high: float
    count: int
    happened: int
    stated: float
    observed: float
    observed_low: float
    observed_high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """Corrects stated probabilities: logit(after) = offset + slope * logit(before).

    Parameters
    ----------
    offset, slope : float
        0 and 1 leave statements as they are.
    count : int
        Outcomes learned from.
    """

    offset: float
    slope: float
    count: int

    def apply(self, stated: ArrayLike) -> NDArray[np.float64]:
        """Correct probabilities.

        Parameters
        ----------
        stated : array-like
            Probabilities; NaN stays NaN.

        Returns
        -------
        float64 array of the same shape
        """
        given = np.clip(np.asarray(stated, dtype=np.float64), EDGE, 1.0 - EDGE)
        return _share(self.offset + self.slope * _log_odds(given))


def brier_score(happened: ArrayLike, stated: ArrayLike) -> float:
    """Give the mean squared difference of statement and outcome.

    Parameters
    ----------
    happened : array-like of shape (n,)
        1 where it came true, 0 where not; NaN marks one not yet known, which is left out.
    stated : array-like of shape (n,)
        Probabilities from 0 to 1; NaN is left out.

    Returns
    -------
    float
        0 is perfect; NaN without a pair.

    Raises
    ------
    ShapeError, OutOfRangeError
        When shapes differ or a value is out of range.

    Examples
    --------
    >>> round(brier_score([0, 1, 1, 0], [0.1, 0.9, 0.8, 0.3]), 4)
    0.0375
    """
    outcome, probability = _pairs(happened, stated)
    return float(np.mean((outcome - probability) ** 2)) if len(outcome) else float("nan")


def reliability_table(happened: ArrayLike, stated: ArrayLike, bins: int = 10) -> tuple[Bin, ...]:
    """Put statements into bins beside what happened.

    Parameters
    ----------
    happened, stated
        As for `brier_score`.
    bins : int
        How many equal ones from 0 to 1, at least 1.

    Returns
    -------
    tuple of Bin
        One a bin; empty bins have count 0, NaN shares and the interval 0..1.

    Raises
    ------
    ShapeError, OutOfRangeError
        As for `brier_score`, and for fewer than one bin.

    Examples
    --------
    >>> row = reliability_table([0, 1, 1, 0], [0.1, 0.9, 0.8, 0.3], bins=2)[1]
    >>> row.count, row.happened, round(row.stated, 2), row.observed
    (2, 2, 0.85, 1.0)
    """
    if bins < 1:
        raise OutOfRangeError("bins", "at least 1", bins)
    outcome, probability = _pairs(happened, stated)
    edges = np.linspace(0.0, 1.0, bins + 1)
    place = np.clip(np.searchsorted(edges, probability, side="right") - 1, 0, bins - 1)
    rows = []
    for one in range(bins):
        inside = place == one
        count, came = int(inside.sum()), int(outcome[inside].sum())
        low, high = wilson(came, count)
        rows.append(
            Bin(
                low=float(edges[one]),
                high=float(edges[one + 1]),
                count=count,
                happened=came,
                stated=float(probability[inside].mean()) if count else float("nan"),
                observed=came / count if count else float("nan"),
                observed_low=low,
                observed_high=high,
            )
        )
    return tuple(rows)


def fit_curve(happened: ArrayLike, stated: ArrayLike, *, hold: float = HOLD) -> Curve:
    """Learn the two-parameter correction, held to "no correction" while labels are few.

    Parameters
    ----------
    happened, stated
        As for `brier_score`.
    hold : float
        Weight of the pull towards offset 0 and slope 1 [outcomes], above zero.

    Returns
    -------
    Curve
        Offset 0 and slope 1 without outcomes. The slope is never negative: a correction may flatten
        statements, not turn them round.

    Raises
    ------
    ShapeError, OutOfRangeError
        As for `brier_score`, and for a hold that is not positive.

    Examples
    --------
    >>> curve = fit_curve([1] * 30 + [0] * 70, [0.6] * 100)
    >>> float(curve.apply(0.6).round(2))
    0.31
    """
    outcome, probability = _pairs(happened, stated)
    demand_positive(hold, "hold")
    if not len(outcome):
        return Curve(offset=0.0, slope=1.0, count=0)
    logit = _log_odds(np.clip(probability, EDGE, 1.0 - EDGE))
    sign = 2.0 * outcome - 1.0
    weight = (
        hold / 8.0
    )  # one outcome near even odds carries a curvature of 1/4; half of it for each parameter

    # Here, not above: the process that answers requests shows scores, and shall not carry scipy for it.
    from scipy import optimize

    def loss(line: NDArray[np.float64]) -> tuple[float, NDArray[np.float64]]:
        margin = sign * (line[0] + line[1] * logit)
        pull = -sign * _share(-margin)
        held = line - np.array([0.0, 1.0])
        value = float(np.sum(np.logaddexp(0.0, -margin)) + 0.5 * weight * held @ held)
        return value, np.array([pull.sum(), pull @ logit]) + weight * held

    best = optimize.minimize(
        loss, np.array([0.0, 1.0]), jac=True, method="L-BFGS-B", bounds=[(None, None), (0.0, None)]
    )
    return Curve(offset=float(best.x[0]), slope=float(best.x[1]), count=len(outcome))


def _log_odds(share: NDArray[np.float64]) -> NDArray[np.float64]:
    odds: NDArray[np.float64] = np.log(share) - np.log1p(-share)
    return odds


def _share(log_odds: NDArray[np.float64]) -> NDArray[np.float64]:
    share: NDArray[np.float64] = 1.0 / (1.0 + np.exp(-np.clip(log_odds, -700.0, 700.0)))
    return share


def _pairs(happened: ArrayLike, stated: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Keep the pairs that are known and refuse what is no outcome or no probability."""
    outcome, probability = as_columns(happened, "happened"), as_columns(stated, "stated")
    if outcome.ndim != 1 or outcome.shape != probability.shape:
        raise ShapeError("stated", f"the shape of happened {outcome.shape}, one axis", probability.shape)
    known = ~np.isnan(outcome) & ~np.isnan(probability)
    outcome, probability = outcome[known], probability[known]
    if np.any((outcome != 0.0) & (outcome != 1.0)):
        raise OutOfRangeError("happened", "0 or 1", float(outcome[(outcome != 0.0) & (outcome != 1.0)][0]))
    wrong = (probability < 0.0) | (probability > 1.0)
    if np.any(wrong):
        raise OutOfRangeError("stated", "from 0 to 1", float(probability[wrong][0]))
    return outcome, probability
