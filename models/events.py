"""Fleet events: what all vehicles of a crowd did at once, reported once instead of as a ticket each."""

from typing import Final

import numpy as np

from models.findings import FleetEvent
from models.fit import Fit
from models.panel import Fleet
from models.series import SERIES

RECENT_DAYS: Final = 7
BEFORE_DAYS: Final = 28
"""The last week is held against the four weeks before it."""

MIN_SHIFT_SIGMA: Final = 1.0
"""Shift worth a notice, in day-to-day sigmas of one vehicle; chosen by us."""

MIN_SUPPORT: Final = 20.0
"""Readings of the crowd in the week without which nothing is said."""


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
        & np.array([not series.bounded for series in SERIES])
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
            )
        )
    return tuple(events)
