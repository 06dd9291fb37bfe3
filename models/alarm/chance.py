"""How much of what is shown is chance: said of the watch list as a whole and of each finding.

How often sound vehicles pass each amount of evidence is known (`models.alarm.levels`). That gives every
vehicle a p-value, and the p-values of all vehicles together, those that show nothing included, say how many
of the ones shown to expect by chance.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from models.alarm.levels import rate_at
from models.findings import Finding
from models.panel import Wish
from models.statistics.multiple import benjamini_hochberg, expected_false_share


def chance_of(score: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give the chance that a sound vehicle shows so much evidence within a month.

    Parameters
    ----------
    score : float64 array of shape (V,)
        Evidence of each vehicle [nats].

    Returns
    -------
    float64 array of shape (V,)
    """
    per_month: NDArray[np.float64] = np.minimum(1.0, rate_at(score) / 100.0)
    return per_month


def say_chances(
    findings: tuple[Finding, ...], vehicles: tuple[str, ...], chance: NDArray[np.float64]
) -> tuple[Finding, ...]:
    """Note on every drift which share of the findings at least as strong is chance.

    Parameters
    ----------
    findings : tuple of Finding
    vehicles : tuple of str
        The fleet's own numbers.
    chance : float64 array of shape (V,)
        See `chance_of`.

    Returns
    -------
    tuple of Finding
        With the note `chance:SHARE` [%] on drifts; a limit that is left is a fact and has none.
    """
    share = dict(zip(vehicles, benjamini_hochberg(chance).tolist(), strict=True))
    return tuple(
        replace(one, notes=(*one.notes, f"chance:{100.0 * share[one.vehicle]:.0f}"))
        if one.rule == "drift"
        else one
        for one in findings
    )


def sum_up(findings: tuple[Finding, ...], chance: NDArray[np.float64], wish: Wish) -> str:
    """Say how many drifts are shown and about how many of them are chance.

    Returns
    -------
    str
        `chance:SHOWN:CHANCE`, or empty where no drift is shown.
    """
    per_month = min(1.0, wish.false_tickets * wish.watch_factor / 100.0)
    drifts = sum(one.rule == "drift" for one in findings)
    share = expected_false_share(chance, per_month)
    return f"chance:{drifts}:{share * drifts:.0f}" if drifts and np.isfinite(share) else ""
