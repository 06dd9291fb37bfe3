"""Fleet events: what all vehicles of a crowd did at once, reported once instead of as a ticket each."""

from functools import cache
from itertools import permutations
from math import sqrt
from typing import Final

import numpy as np

from models.findings import FleetEvent
from models.learning.fit import Fit
from models.panel import Fleet
from models.series import BOUNDED, SERIES
from models.telling.mixture import blend_trim_shift

RECENT_DAYS: Final = 7
BEFORE_DAYS: Final = 28
"""The last week is held against the four weeks before it."""

MIN_SHIFT_SIGMA: Final = 1.0
"""Shift worth a notice, in day-to-day sigmas of one vehicle; chosen by us."""

MIN_SUPPORT: Final = 20.0
"""Readings of the crowd in the week without which nothing is said."""

BLENDS: Final = (0, 5, 10, 20, 85)
"""Shares of ethanol in fuels that are sold, by volume [%]."""

_TRIM: Final = "LONGFT"
_ERRORS: Final = 2.0


def fleet_events(fleet: Fleet, fit: Fit, day: int) -> tuple[FleetEvent, ...]:
    """Say which series shifted together in the week up to a day, by crowd and series.

    Returns
    -------
    tuple of FleetEvent
        Scope names the depot, or `fleet` for vehicles of small depots together.
    """
    common = fit.common
    now = day - common.first_day
    if now < RECENT_DAYS + BEFORE_DAYS or now >= common.shift.shape[2]:
        return ()
    before = np.median(
        common.shift[:, :, now - RECENT_DAYS - BEFORE_DAYS + 1 : now - RECENT_DAYS + 1], axis=2
    )
    shift = common.shift[:, :, now] - before
    loud = (
        (np.abs(shift) >= MIN_SHIFT_SIGMA * np.nan_to_num(fit.noise.pooled, nan=np.inf))
        & (common.support[:, :, now] >= MIN_SUPPORT)
        & ~BOUNDED
    )
    events = []
    for crowd, place in np.argwhere(loud):
        members = np.flatnonzero(common.crowd == crowd)
        depots = set(fleet.depot[members].tolist())
        scope = fleet.depots[depots.pop()] if len(depots) == 1 and min(depots) >= 0 else "fleet"
        events.append(
            FleetEvent(
                day=day,
                scope=scope,
                series=SERIES[place].name,
                unit=SERIES[place].unit,
                shift=round(float(shift[crowd, place]), 4),
                vehicles=len(members),
                hint=fuel_hint(
                    SERIES[place].name,
                    float(shift[crowd, place]),
                    float(fit.noise.pooled[place]) / sqrt(float(common.support[crowd, place, now])),
                ),
            )
        )
    return tuple(events)


def fuel_hint(series: str, shift: float, error: float) -> str:
    """Say whether a shared shift of learned trims has the size of a change of fuel.

    Parameters
    ----------
    series : str
        Name of the series; only learned trims answer to fuel alone.
    shift : float
        What the crowd did together [%].
    error : float
        Standard error of that shift [%].

    Returns
    -------
    str
        `blend:FROM:TO` with the shares of ethanol [%] of the change that fits best, or empty. A step of equal
        size between other blends fits as well: the hint gives a size, not the fuel.

    Examples
    --------
    >>> fuel_hint("LONGFT1@warm_idle", 4.0, 0.1), fuel_hint("LONGFT1@warm_idle", 12.0, 0.1)
    ('blend:0:10', '')
    """
    if not series.startswith(_TRIM):
        return ""
    fitting = [
        (abs(shift - (low + high) / 2.0), one, other)
        for one, other, low, high in _blend_bands()
        if low - _ERRORS * error <= shift <= high + _ERRORS * error
    ]
    if not fitting:
        return ""
    _, one, other = min(fitting)
    return f"blend:{one}:{other}"


@cache
def _blend_bands() -> tuple[tuple[int, int, float, float], ...]:
    """Give, for every change of blend, the least and greatest shift over the ways to meter fuel [%]."""
    found = []
    for one, other in permutations(BLENDS, 2):
        shifts = [
            float(blend_trim_shift(one / 100.0, other / 100.0, way)) for way in ("mass", "orifice", "volume")
        ]
        found.append((one, other, min(shifts), max(shifts)))
    return tuple(found)
