"""Readings of one series as points to draw: which count, which do not and why, which came late."""

import re
from datetime import UTC, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from dashboards.chart import Point
from ingest.parameters import CLOSED_LOOP, CODES, COLUMN, PARAMETERS, STATES
from models.findings import SeriesReading
from models.learning.breaks import RELEARN_DAYS
from models.panel import Daily, Readings
from models.series import Series
from service.store import Circumstances

LATE_AFTER: Final = timedelta(hours=48)
"""A reading that is received later than this after it was taken came late; chosen by us: a logger out of
reach over a weekend's night is no news, one that was silent for days is."""

NEIGHBOURS: Final = 4
"""Readings on either side that one is held against; chosen by us."""

LEAST_NEIGHBOURS: Final = 4
"""Fewer readings beside it tell nothing of one; chosen by us."""

ODD_SPREADS: Final = 8.0
"""How far from them a single odd reading lies, in spreads; chosen by us: no sound sensor's noise does."""

LIKE_SPREADS: Final = 4.0
"""Within so many spreads the next readings must lie: two odd ones in a row are no single one."""

_TRIMS: Final = ("LONGFT1", "LONGFT2", "SHRTFT1", "SHRTFT2")
_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
_WORD: Final = re.compile(r"\w+")


def as_rows(readings: Readings) -> Daily:
    """Take each reading for a day of its own: the formulas of the series then apply to it."""
    switched = np.where(readings.switches < 0, np.nan, readings.switches.astype(np.float64))
    return Daily(
        vehicle=readings.vehicle,
        day=readings.day,
        state=readings.state,
        readings=np.ones(len(readings), dtype=np.int32),
        values=readings.values,
        switched_on=switched,
    )


def points_of(
    series: Series,
    facts: SeriesReading,
    readings: Readings,
    circumstances: Circumstances,
    hours: NDArray[np.float64],
    *,
    resets: tuple[int, ...],
    zone: ZoneInfo,
) -> tuple[Point, ...]:
    """Make the points of one series.

    Parameters
    ----------
    series : Series
        Which quantity in which states.
    facts : SeriesReading
        What the evaluation says of it: where its present baseline segment begins.
    readings : Readings
        Of one vehicle, sorted by time.
    circumstances : Circumstances
        Odometer and time of arrival of the same rows.
    hours : float array of shape (n,)
        Engine hours of the same rows; NaN where they are not told.
    resets : tuple of int
        Days after which the engine computer learns anew [days since 1970-01-01].
    zone : ZoneInfo
        The vehicle's.

    Returns
    -------
    tuple of Point
        Oldest first; values in the series' unit, as its baseline and limits are told.
    """
    rows = as_rows(readings)
    values = series.formula(rows)
    if series.log:
        values = np.exp(values / 100.0)
    wanted = np.isin(rows.state, [STATES.index(state) for state in series.states]) & np.isfinite(values)
    excluded = _excluded(series, facts, readings, resets)
    counted = np.flatnonzero(wanted & (excluded == ""))
    scale = np.abs(values[counted]) / 100.0 if series.log else 1.0
    odd = find_odd(values[counted], np.broadcast_to(facts.noise * scale, len(counted)))
    excluded[counted[odd]] = "single_odd"
    late = came_late(readings.taken_us, circumstances.received_us)
    odometer = circumstances.odometer_km
    return tuple(
        Point(
            at=_moment(int(readings.taken_us[place]), zone),
            value=float(values[place]),
            odometer_km=None if np.isnan(odometer[place]) else float(odometer[place]),
            engine_h=None if np.isnan(hours[place]) else float(hours[place]),
            excluded=str(excluded[place]),
            late=bool(late[place]),
        )
        for place in np.flatnonzero(wanted).tolist()
    )


def find_odd(values: NDArray[np.float64], noise: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Mark single readings far from all beside them; the comparison pulls them in, however far out.

    Parameters
    ----------
    values : float64 array of shape (n,)
        In order of time, none missing.
    noise : float64 array of shape (n,)
        Usual spread of a reading there, in the same unit; NaN where it is not known.

    Returns
    -------
    bool array of shape (n,)

    Examples
    --------
    >>> find_odd(np.array([1.0, 1.2, 0.9, 45.0, 1.1, 1.0]), np.full(6, 0.5)).tolist()
    [False, False, False, True, False, False]
    """
    found = np.zeros(len(values), dtype=bool)
    if len(values) <= LEAST_NEIGHBOURS:
        return found
    edge = np.full(NEIGHBOURS, np.nan)
    around = np.lib.stride_tricks.sliding_window_view(np.r_[edge, values, edge], 2 * NEIGHBOURS + 1).copy()
    next_to = around[:, [NEIGHBOURS - 1, NEIGHBOURS + 1]]
    around[:, NEIGHBOURS] = np.nan
    told = np.flatnonzero(np.isfinite(around).sum(axis=1) >= LEAST_NEIGHBOURS)
    middle = np.nanmedian(around[told], axis=1)
    spread = np.fmax(1.4826 * np.nanmedian(np.abs(around[told] - middle[:, None]), axis=1), noise[told])
    far = (np.abs(values[told] - middle) > ODD_SPREADS * spread) & (spread > 0)
    calm = np.nanmax(np.abs(next_to[told] - middle[:, None]), axis=1) <= LIKE_SPREADS * spread
    found[told] = far & calm
    return found


def came_late(taken_us: NDArray[np.int64], received_us: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Mark readings that were received long after they were taken, bool array of shape (n,).

    Those taken before the first one was received are history that was loaded, not late news.
    """
    if not len(taken_us):
        return np.zeros(0, dtype=bool)
    waited = received_us - taken_us > LATE_AFTER // timedelta(microseconds=1)
    return np.asarray(waited & (taken_us >= received_us.min()))


def loaded_as_history(taken_us: NDArray[np.int64], received_us: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Mark readings that were loaded in bulk from before anything was received, bool array of shape (n,)."""
    if not len(taken_us):
        return np.zeros(0, dtype=bool)
    waited = received_us - taken_us > LATE_AFTER // timedelta(microseconds=1)
    return np.asarray(waited & (taken_us < received_us.min()))


def _moment(taken_us: int, zone: ZoneInfo) -> datetime:
    return (_EPOCH + timedelta(microseconds=taken_us)).astimezone(zone)


def _excluded(
    series: Series, facts: SeriesReading, readings: Readings, resets: tuple[int, ...]
) -> NDArray[np.object_]:
    """Say which readings the comparison leaves out, and why; empty where it joins them."""
    found = np.full(len(readings), "", dtype=object)
    if series.parameter in _TRIMS:
        found[_is_open_loop(readings)] = "open_loop"
    if series.learned:
        found[_is_relearning(readings.day, resets)] = "relearning"
    found[_is_stuck(series, readings)] = "stuck"
    found[readings.day < facts.segment_from] = "before_repair"
    return found


def _is_open_loop(readings: Readings) -> NDArray[np.bool_]:
    status = readings.values[:, COLUMN["FUELSYS1"]]
    found: NDArray[np.bool_] = np.isfinite(status) & (status != CLOSED_LOOP)
    return found


def _is_relearning(day: NDArray[np.int32], resets: tuple[int, ...]) -> NDArray[np.bool_]:
    found = np.zeros(len(day), dtype=bool)
    for reset in resets:
        found |= (day >= reset) & (day <= reset + RELEARN_DAYS)
    return found


def _is_stuck(series: Series, readings: Readings) -> NDArray[np.bool_]:
    """Tell where a parameter of the formula stands at an end of its sensor, which says nothing."""
    found = np.zeros(len(readings), dtype=bool)
    for code in {word for word in _WORD.findall(series.name.partition("@")[0]) if word in CODES}:
        found |= np.isin(readings.values[:, COLUMN[code]], PARAMETERS[code].stuck_at)
    return found
