"""How well each vehicle can be judged: silence is not good news and never counts as steady."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import STATES
from models.findings import Finding, VehicleState
from models.panel import Daily, Fleet

WINDOW_DAYS: Final = 28
"""Days looked back for what a vehicle has been sending."""

SILENT_FACTOR: Final = 2.0
"""A vehicle is silent after this many of its usual gaps without a reading."""

SILENT_AT_LEAST_DAYS: Final = 7
"""Shorter silences are weekends and holidays; chosen by us."""

LEARNING_DAYS: Final = 20
"""Days with warm-idle readings until a vehicle's own normal is called learned; chosen by us."""

_WARM: Final = STATES.index("warm_idle")


def vehicle_states(
    fleet: Fleet, daily: Daily, day: int, findings: tuple[Finding, ...] = ()
) -> tuple[VehicleState, ...]:
    """Say of every vehicle whether it can be judged, and why not.

    Parameters
    ----------
    fleet : Fleet
    daily : Daily
        Rows after `day` are ignored.
    day : int
        Evaluation day [days since 1970-01-01].
    findings : tuple of Finding
        Findings of that day: their vehicles are under watch.

    Returns
    -------
    tuple of VehicleState
        In the order of `fleet.vehicles`. Reasons: `no_data`, `silent`, `no_usable_state`, `no_warm_idle`,
        `learning`, `finding`.
    """
    vehicles = len(fleet.vehicles)
    known = daily.day <= day
    recent = known & (daily.day > day - WINDOW_DAYS)
    last = _latest(daily, known, vehicles)
    usual = _usual_gap(daily, known, vehicles)
    readings = np.bincount(daily.vehicle[recent], daily.readings[recent], minlength=vehicles)
    usable = np.bincount(daily.vehicle[recent & (daily.state >= 0)], minlength=vehicles)
    warm_recent = np.bincount(daily.vehicle[recent & (daily.state == _WARM)], minlength=vehicles)
    warm_ever = np.bincount(daily.vehicle[known & (daily.state == _WARM)], minlength=vehicles)
    watched = {finding.vehicle for finding in findings}
    states = []
    for place, vehicle in enumerate(fleet.vehicles):
        word, reason = _word(
            last_age=day - int(last[place]) if last[place] >= 0 else None,
            silent_after=max(SILENT_FACTOR * float(usual[place]), SILENT_AT_LEAST_DAYS),
            usable=int(usable[place]),
            warm_recent=int(warm_recent[place]),
            warm_ever=int(warm_ever[place]),
            watched=vehicle in watched,
        )
        states.append(
            VehicleState(
                vehicle=vehicle,
                word=word,
                reason=reason,
                last_day=int(last[place]) if last[place] >= 0 else None,
                readings=int(readings[place]),
            )
        )
    return tuple(states)


def _latest(daily: Daily, known: NDArray[np.bool_], vehicles: int) -> NDArray[np.int64]:
    last = np.full(vehicles, -1, np.int64)
    np.maximum.at(last, daily.vehicle[known], daily.day[known])
    return last


def _usual_gap(daily: Daily, known: NDArray[np.bool_], vehicles: int) -> NDArray[np.float64]:
    """Mean days between days with readings, over the vehicle's whole history; 1 where there is one day."""
    key = np.unique(daily.vehicle[known].astype(np.int64) * 1_000_000 + daily.day[known])
    vehicle, day = key // 1_000_000, key % 1_000_000
    count = np.bincount(vehicle, minlength=vehicles)
    first = np.full(vehicles, np.iinfo(np.int64).max)
    last = np.full(vehicles, -1, np.int64)
    np.minimum.at(first, vehicle, day)
    np.maximum.at(last, vehicle, day)
    return np.where(count > 1, (last - first) / np.maximum(count - 1, 1), 1.0)


def _word(
    *,
    last_age: int | None,
    silent_after: float,
    usable: int,
    warm_recent: int,
    warm_ever: int,
    watched: bool,
) -> tuple[str, str]:
    tests = (
        (last_age is None, "cannot_say", "no_data"),
        (last_age is not None and last_age > silent_after, "cannot_say", "silent"),
        (not usable, "cannot_say", "no_usable_state"),
        (watched, "watch", "finding"),
        (not warm_recent, "cannot_say", "no_warm_idle"),
        (warm_ever < LEARNING_DAYS, "learning", "learning"),
    )
    return next(((word, reason) for true, word, reason in tests if true), ("steady", ""))
