"""What mechanics found moves what is believed before any reading is seen, and never a limit."""

from collections import Counter
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import CAUSES
from models.causes.table import UNKNOWN, priors
from models.panel import Fleet
from models.statistics.proportion import CauseShift, update_causes

STRENGTH: Final = 240.0
"""Repairs that the table's shares are worth together [1]; chosen by us: a dozen repairs of one cause nearly
double its share. On three simulated fleets, whose causes are about equally frequent, nothing was gained:
any strength from 60 on named the cause first on as many tickets, give or take one of 198, and below 240 two
tickets of 191 came later."""


def learn_beliefs(fleet: Fleet, day: int) -> tuple[CauseShift, ...]:
    """Give the share of every cause before and after this fleet's repairs up to a day.

    Parameters
    ----------
    fleet : Fleet
        Its repairs that name a cause count, one each.
    day : int
        Evaluation day [days since 1970-01-01]; later repairs are not known yet.

    Returns
    -------
    tuple of CauseShift
        In the order of `CAUSES`.
    """
    found = Counter(
        fact.cause
        for fact in fleet.work
        if fact.kind == "repair"
        and fact.day <= day
        and fact.cause in CAUSES
        and fact.cause != CAUSES[UNKNOWN]
    )
    table = dict(zip(CAUSES, priors().tolist(), strict=True))
    return update_causes(table, STRENGTH, found)


def believed_shares(fleet: Fleet, day: int) -> NDArray[np.float64]:
    """Give the shares after this fleet's repairs, in the order of `CAUSES`; the table's own without any."""
    shifts = learn_beliefs(fleet, day)
    if not any(shift.found for shift in shifts):
        return priors()
    return np.array([shift.after for shift in shifts])
