"""How warm the air was where a reading was taken: as the vehicle read it, else as its depot's vehicles did.

Voltages, idle loads and drivers' habits follow the air's temperature. A vehicle that does not report it lives
in the same weather as those it is parked with; left out, its winters and summers would look like its faults.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import COLUMN, STATES
from models.panel import Daily, Fleet
from models.statistics.grouped import medians_within

LEAST_READINGS: Final = 3
"""Readings of a depot's day without which they do not stand in for a vehicle's own; chosen by us."""


def reported_air(daily: Daily) -> NDArray[np.float64]:
    """Give ambient air where the vehicle reports it, else intake air, else NaN; shape (m,) [degC]."""
    ambient, intake = daily.values[:, COLUMN["AAT"]], daily.values[:, COLUMN["IAT"]]
    return np.where(np.isnan(ambient), intake, ambient)


def read_air(fleet: Fleet, daily: Daily) -> NDArray[np.float64]:
    """Give the air temperature of every daily row.

    Ambient air where the vehicle reports it, else intake air, else the median of the depot on that day: in
    the same operating state, because intake air is warmer at idle than on the road, else in any.

    Parameters
    ----------
    fleet : Fleet
    daily : Daily

    Returns
    -------
    float64 array of shape (m,)
        [degC]; NaN where neither the vehicle nor `LEAST_READINGS` of its depot tell.
    """
    air = reported_air(daily)
    told = np.isfinite(air)
    depot = fleet.depot[daily.vehicle]
    if told.all() or not len(air):
        return air
    first = int(daily.day.min())
    day = depot.astype(np.int64) * (int(daily.day.max()) - first + 1) + daily.day - first
    for place in (day * (len(STATES) + 1) + daily.state + 1, day):
        asked = np.flatnonzero(~np.isfinite(air) & (depot >= 0))
        known = told & (depot >= 0)
        places, middle = medians_within(air[known], place[known], least=LEAST_READINGS)
        if not len(places):
            continue
        at = np.minimum(np.searchsorted(places, place[asked]), len(places) - 1)
        found = places[at] == place[asked]
        air[asked[found]] = middle[at[found]]
    return air
