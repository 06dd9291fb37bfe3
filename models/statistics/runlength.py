"""How long a chart runs before it signals: the number behind every watch and ticket level.

One idea: the mean run length L from a state u solves L(u) = 1 + integral of L over where the next reading may
lead. The integral is replaced by Gauss-Legendre nodes, which turns it into a small linear system.
Readings are independent and normal; correlated ones signal far more often (size those on bootstrapped
residuals).

References
----------
D. Brook, D. A. Evans, Biometrika 59 (1972) 539-549 (from memory): run lengths of CUSUM.
J. M. Lucas, M. S. Saccucci, Technometrics 32 (1990) 1-12: run lengths of EWMA.
"""

import math
from collections.abc import Callable
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, special

from models.errors import OutOfRangeError
from models.statistics.arguments import demand_positive

LEAST_NODES: Final = 60
"""Fewest Gauss-Legendre nodes [1]; chosen by us: the published anchors are met to seven digits."""

NODES_PER_SIGMA: Final = 4.0
"""Nodes for each sigma of a step between the limits [1]; chosen by us: fewer lose the kernel between them."""

DAYS_PER_MONTH: Final = 30.4375
"""Mean length of a month [days]: 365.25 / 12."""

LONGEST_RUN: Final = 1e10
"""Longest mean run length to promise [readings]; chosen by us: double precision leaves five digits there."""


def wanted_run_length(false_per_100_months: float, *, series: int, readings_per_day: float = 1.0) -> float:
    """Turn the owner's number of false tickets into the mean run length of one chart.

    Parameters
    ----------
    false_per_100_months : float
        False tickets that the owner will stand, all series of a vehicle together [per 100 vehicle-months].
    series : int
        Independent charts on one vehicle [1].
    readings_per_day : float
        Readings that one chart sees [1 / day].

    Returns
    -------
    float
        Mean number of readings between false signals of one chart.

    Raises
    ------
    OutOfRangeError
        For a number that is not positive.

    Examples
    --------
    >>> round(wanted_run_length(0.1, series=5))
    152188
    """
    demand_positive(false_per_100_months, "false_per_100_months")
    demand_positive(series, "series")
    demand_positive(readings_per_day, "readings_per_day")
    return 100.0 * DAYS_PER_MONTH * readings_per_day * series / false_per_100_months


def cusum_run_length(
    reference: float, limit: float, shift: float = 0.0, *, two_sided: bool = True, start: float = 0.0
) -> float:
    """Mean run length of a CUSUM of independent normal readings.

    Parameters
    ----------
    reference : float
        Slack k [sigma].
    limit : float
        Decision limit h [sigma].
    shift : float
        Mean of the readings less the target [sigma], present from the first reading on.
    two_sided : bool
        Whether a fall signals too.
    start : float
        Head start of the sums, from 0 to the limit [sigma].

    Returns
    -------
    float
        Readings up to and including the signal.

    Raises
    ------
    OutOfRangeError
        For a negative reference, a limit that is not positive or a head start outside the limit.

    Examples
    --------
    >>> round(cusum_run_length(0.5, 4.0), 2), round(cusum_run_length(0.5, 4.0, 1.0), 2)
    (167.68, 8.38)
    """
    demand_positive(reference, "reference", zero=True)
    demand_positive(limit, "limit")
    if not 0.0 <= start <= limit:
        raise OutOfRangeError("start", f"from 0 to the limit {limit}", start)
    up_zero, up_start = _one_sided_cusum(shift - reference, limit, start)
    if not two_sided:
        return up_start
    down_zero, down_start = _one_sided_cusum(-shift - reference, limit, start)
    # Two sums that share a head start: Lucas and Crosier, Technometrics 24 (1982) 199-205.
    numerator = up_start * down_zero + up_zero * down_start - up_zero * down_zero
    return numerator / (up_zero + down_zero)


def ewma_run_length(weight: float, width: float, shift: float = 0.0) -> float:
    """Mean run length of a two-sided EWMA of independent normal readings with fixed limits.

    Parameters
    ----------
    weight : float
        Share of the newest reading, above 0 and up to 1 [1].
    width : float
        Limit L in standard deviations of the smoothed value [1].
    shift : float
        Mean of the readings less the target [sigma], present from the first reading on.

    Returns
    -------
    float
        Readings up to and including the signal.

    Raises
    ------
    OutOfRangeError
        For a weight outside 0..1 or a width that is not positive.

    Examples
    --------
    >>> round(ewma_run_length(0.25, 3.0, 1.0), 6)
    11.154267
    """
    if not 0.0 < weight <= 1.0:
        raise OutOfRangeError("weight", "above 0 and up to 1", weight)
    reach = demand_positive(width, "width") * math.sqrt(weight / (2.0 - weight))
    node, share = _nodes(-reach, reach, sigma=weight)
    step = (node[np.newaxis, :] - (1.0 - weight) * node[:, np.newaxis]) / weight - shift
    length = np.linalg.solve(np.eye(len(node)) - _density(step) / weight * share, np.ones(len(node)))
    return float(1.0 + np.sum(share * _density(node / weight - shift) / weight * length))


def cusum_limit(reference: float, run_length: float, *, two_sided: bool = True) -> float:
    """Find the limit at which a CUSUM of independent normal readings has a wanted mean run length.

    Parameters
    ----------
    reference : float
        Slack k [sigma], above zero.
    run_length : float
        Wanted mean readings between false signals, above 2.
    two_sided : bool
        Whether a fall signals too.

    Returns
    -------
    float
        h [sigma].

    Raises
    ------
    OutOfRangeError
        When the reference or the run length is out of range, or no limit gives it.

    Examples
    --------
    >>> round(cusum_limit(0.5, 465.44), 3)
    5.0
    """
    demand_positive(reference, "reference")
    return _solve(lambda limit: cusum_run_length(reference, limit, two_sided=two_sided), run_length)


def ewma_width(weight: float, run_length: float) -> float:
    """Find the width at which an EWMA of independent normal readings has a wanted mean run length.

    Parameters
    ----------
    weight : float
        Share of the newest reading, above 0 and up to 1 [1].
    run_length : float
        Wanted mean readings between false signals, above 2.

    Returns
    -------
    float
        L [standard deviations of the smoothed value].

    Raises
    ------
    OutOfRangeError
        When the weight or the run length is out of range, or no width gives it.

    Examples
    --------
    >>> round(ewma_width(0.1, 500.0), 3)
    2.814
    """
    return _solve(lambda width: ewma_run_length(weight, width), run_length)


def _one_sided_cusum(drift: float, limit: float, start: float) -> tuple[float, float]:
    """Solve for the mean run length from zero and from a head start, steps being normal around drift."""
    node, share = _nodes(0.0, limit, sigma=1.0)
    states = np.concatenate([[0.0], node])
    # From any state the sum falls back to zero, or lands on the density over 0..limit, or signals.
    back = special.ndtr(-states - drift)[:, np.newaxis]
    land = _density(node[np.newaxis, :] - states[:, np.newaxis] - drift) * share
    length = np.linalg.solve(np.eye(len(states)) - np.hstack([back, land]), np.ones(len(states)))
    if start == 0.0:
        return float(length[0]), float(length[0])
    ahead = 1.0 + special.ndtr(-start - drift) * length[0]
    ahead += np.sum(share * _density(node - start - drift) * length[1:])
    return float(length[0]), float(ahead)


def _solve(run_length_of: Callable[[float], float], wanted: float) -> float:
    """Find the limit whose run length is the wanted one, on the logarithm of the run length."""
    low = high = 0.01
    least = run_length_of(low)
    if not least < wanted <= LONGEST_RUN:
        raise OutOfRangeError("run_length", f"above {least:.3g} and up to {LONGEST_RUN:.0e} readings", wanted)
    while run_length_of(high) < wanted:
        low, high = high, high * 1.5
    log_wanted = math.log(wanted)
    return float(optimize.brentq(lambda limit: math.log(run_length_of(limit)) - log_wanted, low, high))


def _nodes(low: float, high: float, *, sigma: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Give Gauss-Legendre nodes and weights between two limits, dense enough for steps of one sigma."""
    count = max(LEAST_NODES, math.ceil(NODES_PER_SIGMA * (high - low) / sigma))
    node, share = np.polynomial.legendre.leggauss(count)
    half = 0.5 * (high - low)
    return low + half * (node + 1.0), half * share


def _density(step: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give the standard normal density."""
    return np.asarray(np.exp(-0.5 * step * step) / math.sqrt(2.0 * math.pi))
