"""What a change of logger means: which series step at it.

Another logger may read a little higher. A series that steps at the change is held against its own past from
there on; one that goes on as before keeps it, so that a swap during a drift does not make the drifted vehicle
its own new normal.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.learning.fit import Fit, Material
from models.series import SERIES

BEFORE: Final = 12
"""Readings before a change that say where a series stood; chosen by us."""

DECIDED_WITH: Final = 7
"""Readings after a change from which it is decided; chosen by us: fewer mistake chance for a step."""

STEPS: Final = 4.5
"""Standard errors from which a series steps at a change; chosen by us: a drift moves it a little, too."""

UNDECIDED: Final = int(np.iinfo(np.int64).max)
"""Day on which nothing is known: beyond all."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Swaps:
    """Changes of logger; n of them, sorted by vehicle and day.

    Parameters
    ----------
    vehicle, first, known : int64 arrays of shape (n,)
        Place of the vehicle; first day with the new logger; day from which the change is known.
    decided : int64 array of shape (n, S)
        Day from which it is known whether the series steps; `UNDECIDED` where it is not.
    steps : bool array of shape (n, S)
    """

    vehicle: NDArray[np.int64]
    first: NDArray[np.int64]
    known: NDArray[np.int64]
    decided: NDArray[np.int64]
    steps: NDArray[np.bool_]


def weigh_swaps(material: Material, fit: Fit) -> Swaps:
    """Say which series step at a change of logger, and from when that is known.

    Medians on either side are compared. A series that begins with the new logger steps: it has no past.

    Returns
    -------
    Swaps
    """
    loggers, seen = material.loggers, material.seen
    decided = np.full((len(loggers), len(SERIES)), UNDECIDED)
    steps = np.zeros(decided.shape, dtype=bool)
    for row, (vehicle, first, known, _) in enumerate(loggers.tolist()):
        rows = np.array([vehicle])
        bounds = (fit.history.first_day, first, fit.history.first_day + fit.history.days)
        origin, middle, end = (fit.history.before(day, rows)[0] for day in bounds)
        count = np.full((1, len(SERIES)), float(DECIDED_WITH))
        inflation = fit.noise.inflate(material.group[rows], count)[0]
        for place in range(len(SERIES)):
            old, new = (
                span[material.usable[span]]
                for span in (np.arange(origin[place], middle[place]), np.arange(middle[place], end[place]))
            )
            if len(new) < DECIDED_WITH:
                continue
            old, new = old[-BEFORE:], new[:DECIDED_WITH]
            decided[row, place] = max(int(seen.day[new[-1]]), known)
            if len(old) < DECIDED_WITH:
                steps[row, place] = True
                continue
            jump = np.median(fit.adjusted[new]) - np.median(fit.adjusted[old])
            error = fit.noise.sigma[vehicle, place] * np.sqrt(
                inflation[place] * (1 / len(new) + 1 / len(old))
            )
            steps[row, place] = abs(jump) > STEPS * error
    return Swaps(
        vehicle=loggers[:, 0], first=loggers[:, 1], known=loggers[:, 2], decided=decided, steps=steps
    )
