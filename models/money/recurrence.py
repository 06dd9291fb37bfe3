"""Repairs that repeat: the mean cumulative number or cost per vehicle, with its variance.

One idea: at each age, what the vehicles still under observation have spent on average is added up. Nothing is
assumed about how repairs follow each other; vehicles that are watched for a short time count as long as they
are watched.

References
----------
W. Nelson, Confidence limits for recurrence data, Technometrics 37 (1995) 147-157 (from memory): estimate and
unbiased variance.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from models.errors import OutOfRangeError, ShapeError

LEAST_EVENTS = 10
"""Fewer repairs than this say nothing of how they clump [1]; chosen by us."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MeanCumulative:
    """Mean cumulative number or cost at each age at which something happened; K ages.

    Parameters
    ----------
    age : float64 array of shape (K,)
        Distinct ages, rising.
    at_risk : int64 array of shape (K,)
        Units under observation then.
    mean : float64 array of shape (K,)
        Per unit, up to and with that age.
    variance : float64 array of shape (K,)
        Of `mean`; Nelson's estimate, held at zero where it would fall below.
    independent : float64 array of shape (K,)
        What the variance would be if amounts came independently (Poisson).
    """

    age: NDArray[np.float64]
    at_risk: NDArray[np.int64]
    mean: NDArray[np.float64]
    variance: NDArray[np.float64]
    independent: NDArray[np.float64]

    @property
    def dispersion(self) -> float:
        """How much wider than independent the whole history is [1]; never below 1, and 1 for few events."""
        if len(self.age) < LEAST_EVENTS or not self.independent[-1] > 0.0:
            return 1.0
        return max(1.0, float(self.variance[-1] / self.independent[-1]))


def mean_cumulative(
    unit: NDArray[np.int64],
    age: NDArray[np.float64],
    amount: NDArray[np.float64],
    watched: NDArray[np.float64],
) -> MeanCumulative:
    """Estimate the mean cumulative function.

    Parameters
    ----------
    unit : int64 array of shape (n,)
        Place of the unit that each event happened to.
    age : float64 array of shape (n,)
        Its age then [any unit of time].
    amount : float64 array of shape (n,)
        1 to count, or a cost.
    watched : float64 array of shape (U,)
        Age up to which each unit was watched, from 0 on.

    Returns
    -------
    MeanCumulative

    Raises
    ------
    ShapeError, OutOfRangeError
        Lengths differ; an event of no unit, or after its unit was watched.

    Examples
    --------
    >>> age, watched = np.array([2.0, 3.0, 5.0]), np.array([9.0, 4.0])
    >>> found = mean_cumulative(np.array([0, 1, 0]), age, np.ones(3), watched)
    >>> found.mean.tolist(), found.at_risk.tolist()
    ([0.5, 1.0, 2.0], [2, 2, 1])
    """
    _check(unit, age, amount, watched)
    ages, place = np.unique(age, return_inverse=True)
    before = np.zeros(len(watched))
    mean = variance = independent = 0.0
    rows: list[tuple[int, float, float, float]] = []
    for number, now in enumerate(ages):
        inside = watched >= now
        risk = int(inside.sum())
        spent = np.bincount(unit[place == number], amount[place == number], minlength=len(watched))
        step = float(spent[inside].mean())
        freedom = max(risk - 1, 1)
        own = float(((spent[inside] - step) ** 2).sum()) / freedom / risk
        shared = float((before[inside] * (spent[inside] - step)).sum()) / freedom
        variance += own + 2.0 * shared
        independent += float((amount[place == number] ** 2).sum()) / risk**2
        mean += step
        before += np.where(inside, spent / risk, 0.0)
        rows.append((risk, mean, max(variance, 0.0), independent))
    table = np.array(rows, dtype=np.float64).reshape(-1, 4)
    return MeanCumulative(
        age=ages,
        at_risk=table[:, 0].astype(np.int64),
        mean=table[:, 1],
        variance=table[:, 2],
        independent=table[:, 3],
    )


def _check(
    unit: NDArray[np.int64],
    age: NDArray[np.float64],
    amount: NDArray[np.float64],
    watched: NDArray[np.float64],
) -> None:
    if not len(unit) == len(age) == len(amount):
        raise ShapeError("age", f"one value for each of {len(unit)} events", age.shape)
    if np.any((unit < 0) | (unit >= len(watched))):
        raise OutOfRangeError("unit", f"a place from 0 to {len(watched) - 1}", int(unit.max(initial=-1)))
    if np.any(age < 0.0) or np.any(age > watched[unit]):
        raise OutOfRangeError("age", "within the time its unit was watched", float(age.max(initial=0.0)))
