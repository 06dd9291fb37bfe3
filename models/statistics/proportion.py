"""Shares and rates with honest intervals, and how findings shift what is believed.

References
----------
E. B. Wilson, JASA 22 (1927) 209-212 (from memory).
F. Garwood, Biometrika 28 (1936) 437-442 (from memory): interval of a Poisson mean.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

from models.errors import OutOfRangeError
from models.statistics.arguments import demand_positive, demand_share

CONFIDENCE: Final = 0.95
"""Share of intervals that hold the truth unless asked otherwise [1]; the habit of the trade."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseShift:
    """What findings did to the belief in one cause.

    Parameters
    ----------
    cause : str
        Its code.
    found : float
        Findings that named it [1].
    before, after : float
        Share of this cause among all, before and after the findings [1].
    """

    cause: str
    found: float
    before: float
    after: float


def wilson(successes: int, count: int, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Give Wilson's interval for a share.

    Parameters
    ----------
    successes, count : int
        Successes among trials.
    confidence : float
        Share of such intervals that hold the truth [1].

    Returns
    -------
    tuple of float
        Low and high end [1]; 0 and 1 without a trial.

    Raises
    ------
    OutOfRangeError
        For counts that do not fit or a confidence outside 0..1.

    Examples
    --------
    >>> tuple(round(end, 4) for end in wilson(8, 10))
    (0.4902, 0.9433)
    """
    _demand_counts(successes, count)
    z = NormalDist().inv_cdf(0.5 + 0.5 * demand_share(confidence, "confidence"))
    if count == 0:
        return 0.0, 1.0
    share = successes / count
    centre = (share + z * z / (2 * count)) / (1 + z * z / count)
    half = z / (1 + z * z / count) * math.sqrt(share * (1 - share) / count + (z / (2 * count)) ** 2)
    low = 0.0 if successes == 0 else centre - half
    return low, 1.0 if successes == count else centre + half


def poisson_rate(events: int, exposure: float, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Give the exact interval of a rate from counted events.

    Parameters
    ----------
    events : int
        Events counted.
    exposure : float
        Over how much [any unit], above zero.
    confidence : float
        Least share of such intervals that hold the truth [1].

    Returns
    -------
    tuple of float
        Low and high end [events per unit of exposure].

    Raises
    ------
    OutOfRangeError
        For a negative count, an exposure that is not positive or a confidence outside 0..1.

    Examples
    --------
    >>> tuple(round(end, 3) for end in poisson_rate(0, 100.0)), round(poisson_rate(4, 1.0)[0], 3)
    ((0.0, 0.037), 1.09)
    """
    if events < 0:
        raise OutOfRangeError("events", "zero or above", events)
    demand_positive(exposure, "exposure")
    risk = 0.5 * (1.0 - demand_share(confidence, "confidence"))
    # Here, not above: the process that answers requests says shares, and shall not carry scipy for it.
    from scipy import special

    low = 0.0 if events == 0 else float(special.gammaincinv(events, risk))
    return low / exposure, float(special.gammaincinv(events + 1, 1.0 - risk)) / exposure


def update_causes(
    prior: Mapping[str, float], strength: float, found: Mapping[str, float]
) -> tuple[CauseShift, ...]:
    """Learn how often each cause is the one from what mechanics found (Dirichlet).

    Parameters
    ----------
    prior : mapping of str to float
        Weight of each cause before, above zero; need not sum to 1.
    strength : float
        Findings that the table's weights are worth together [1], above zero.
    found : mapping of str to float
        Findings for each cause; causes left out count zero.

    Returns
    -------
    tuple of CauseShift
        In order of the prior; both shares sum to 1.

    Raises
    ------
    OutOfRangeError
        For a weight or number out of range, or a finding of a cause that the table lacks.

    Examples
    --------
    >>> for shift in update_causes({"deposits": 3.0, "switch": 1.0}, 8.0, {"switch": 8}):
    ...     print(shift.cause, round(shift.before, 3), round(shift.after, 3))
    deposits 0.75 0.375
    switch 0.25 0.625
    """
    if not prior:
        raise OutOfRangeError("prior", "at least one cause", dict(prior))
    demand_positive(strength, "strength")
    for cause, weight in prior.items():
        demand_positive(weight, f"prior[{cause}]")
    for cause, number in found.items():
        if cause not in prior:
            raise OutOfRangeError("found", f"among the causes {', '.join(sorted(prior))}", cause)
        demand_positive(number, f"found[{cause}]", zero=True)
    total = math.fsum(prior.values())
    seen = math.fsum(found.values())
    return tuple(
        CauseShift(
            cause=cause,
            found=float(found.get(cause, 0.0)),
            before=weight / total,
            after=(strength * weight / total + found.get(cause, 0.0)) / (strength + seen),
        )
        for cause, weight in prior.items()
    )


def _demand_counts(successes: int, count: int) -> None:
    """Refuse counts that do not fit each other."""
    if count < 0:
        raise OutOfRangeError("count", "zero or above", count)
    if not 0 <= successes <= count:
        raise OutOfRangeError("successes", f"from 0 to the count of {count}", successes)
