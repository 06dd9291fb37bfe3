"""Fold believed readings into one row for each vehicle, day and operating state.

This is the first of the two steps of the models' front door. It looks at one vehicle's readings only, so it
can run for touched days alone and in any order.
"""

import warnings
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import CODES, COLUMN, PARAMETERS, STATES
from models.panel import Daily, Readings

_SOAK: Final = STATES.index("koeo_soak")
_KEY_ON: Final = STATES.index("koeo")
_US_PER_HOUR: Final = 3_600_000_000
_LEVELS: Final = np.array([PARAMETERS[code].kind != "code" for code in CODES])
_COUNTS: Final = np.array([PARAMETERS[code].kind == "count" for code in CODES])


def summarise(readings: Readings, soak_hours: NDArray[np.float64]) -> Daily:
    """Give the daily summary of every vehicle-day in the readings.

    Parameters
    ----------
    readings : Readings
        Sorted by vehicle, then time. To judge the soak of a day the readings of the day before must be
        among them; the caller drops that day's rows from the result.
    soak_hours : float64 array of shape (V,)
        How long a soak must be for each vehicle [h]; NaN where the sheet does not say.

    Returns
    -------
    Daily
        Sorted by vehicle, day, state. Values at a sensor's end (`stuck_at`) count as missing.

    Notes
    -----
    Rows of no state keep only their counters, which tell of cleared memory whatever the engine did.

    A claimed soak is demoted to plain key-on when a reading with the engine running is less than
    `soak_hours` older. Without `soak_hours` the claim stands, and checks that need the soak are left to
    the sheet: see `models.series`.

    Examples
    --------
    >>> import numpy as np
    >>> from ingest.parameters import CODES, COLUMN
    >>> values = np.full((2, len(CODES)), np.nan)
    >>> values[:, COLUMN["VPWR"]] = 14.2, 14.4
    >>> day = Readings(vehicle=np.zeros(2, np.int32), taken_us=np.array([0, 60_000_000]),
    ...                day=np.zeros(2, np.int32), state=np.full(2, 4, np.int8), values=values,
    ...                switches=np.full((2, 3), -1, np.int8))
    >>> table = summarise(day, np.array([np.nan]))
    >>> int(table.readings[0]), float(table.values[0, COLUMN["VPWR"]])
    (2, 14.3)
    """
    state = _checked_soak(readings, soak_hours)
    order = np.lexsort((state, readings.day, readings.vehicle))
    vehicle, day, state = readings.vehicle[order], readings.day[order], state[order]
    first = _group_starts(vehicle, day, state)
    count = np.diff(np.append(first, len(order)))
    values = np.where(_LEVELS, readings.values[order], np.nan)
    values[_at_sensor_end(values)] = np.nan
    values[np.ix_(state < 0, ~_COUNTS)] = np.nan
    switches = readings.switches[order].astype(np.float64)
    switches[switches < 0] = np.nan
    return Daily(
        vehicle=vehicle[first].astype(np.int32),
        day=day[first].astype(np.int32),
        state=state[first].astype(np.int8),
        readings=count.astype(np.int32),
        values=_by_group(values, first, count, middle=True),
        switched_on=_by_group(switches, first, count, middle=False),
    )


def _checked_soak(readings: Readings, soak_hours: NDArray[np.float64]) -> NDArray[np.int8]:
    """Demote soaks that the vehicle's own earlier readings refute."""
    rpm = readings.values[:, COLUMN["RPM"]]
    running = np.where(rpm > 0, np.arange(len(rpm)), -1)
    newest = np.maximum.accumulate(running) if len(running) else running
    known = newest >= 0
    known[known] = readings.vehicle[newest[known]] == readings.vehicle[known]
    hours = np.full(len(rpm), np.inf)
    hours[known] = (readings.taken_us[known] - readings.taken_us[newest[known]]) / _US_PER_HOUR
    wanted = soak_hours[readings.vehicle] if len(rpm) else np.empty(0)
    too_short = (readings.state == _SOAK) & (hours < wanted)
    return np.where(too_short, _KEY_ON, readings.state).astype(np.int8)


def _at_sensor_end(values: NDArray[np.float64]) -> NDArray[np.bool_]:
    ends = np.zeros(values.shape, dtype=bool)
    for code in CODES:
        for end in PARAMETERS[code].stuck_at:
            ends[:, COLUMN[code]] |= np.abs(values[:, COLUMN[code]] - end) < 1e-6
    return ends


def _group_starts(
    vehicle: NDArray[np.int32], day: NDArray[np.int32], state: NDArray[np.int8]
) -> NDArray[np.int64]:
    if not len(vehicle):
        return np.empty(0, np.int64)
    change = (np.diff(vehicle) != 0) | (np.diff(day) != 0) | (np.diff(state) != 0)
    return np.concatenate(([0], np.flatnonzero(change) + 1))


def _by_group(
    values: NDArray[np.float64], first: NDArray[np.int64], count: NDArray[np.int64], *, middle: bool
) -> NDArray[np.float64]:
    """Median (`middle`) or mean of each group, NaN left out; groups of one size go together."""
    folded = np.full((len(first), values.shape[1]), np.nan)
    for size in np.unique(count):
        groups = np.flatnonzero(count == size)
        block = values[first[groups][:, None] + np.arange(size)]
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", RuntimeWarning)  # a column nobody reported is all NaN
            if size == 1:
                folded[groups] = block[:, 0]
            elif middle and size > 2:
                folded[groups] = np.nanmedian(block, axis=1)
            else:
                folded[groups] = np.nanmean(block, axis=1)
    return folded
