"""How well each vehicle can be judged: silence is not good news and never counts as steady."""

from dataclasses import dataclass
from typing import Any, Final

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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Presence:
    """What each vehicle has sent up to each day, counted once for all days.

    Parameters
    ----------
    first_day : int
        Day of the first column [days since 1970-01-01].
    readings, usable, warm, days : int64 arrays of shape (V, D + 1)
        Running counts before each day: snapshots, vehicle-day-states that reached a state, warm idles, and
        days with anything.
    last, begun : int64 arrays of shape (V, D)
        Newest day with anything up to each day, -1 before the first; and the first such day.
    """

    first_day: int
    readings: NDArray[np.int64]
    usable: NDArray[np.int64]
    warm: NDArray[np.int64]
    days: NDArray[np.int64]
    last: NDArray[np.int64]
    begun: NDArray[np.int64]


def count_presence(daily: Daily, vehicles: int) -> Presence:
    """Count what every vehicle has sent."""
    first = int(daily.day.min()) if len(daily) else 0
    length = int(daily.day.max()) - first + 1 if len(daily) else 1
    shape = (vehicles, length)
    cell = daily.vehicle.astype(np.int64) * length + (daily.day - first)
    readings = np.bincount(cell, daily.readings, minlength=vehicles * length).reshape(shape)
    usable = np.bincount(cell[daily.state >= 0], minlength=vehicles * length).reshape(shape)
    warm = np.bincount(cell[daily.state == _WARM], minlength=vehicles * length).reshape(shape)
    present = readings > 0
    day = np.where(present, np.arange(length)[None, :] + first, -1)
    begun = np.where(present.any(axis=1), first + present.argmax(axis=1), -1)
    return Presence(
        first_day=first,
        readings=_running(readings),
        usable=_running(usable),
        warm=_running(warm),
        days=_running(present),
        last=np.maximum.accumulate(day, axis=1),
        begun=np.broadcast_to(begun[:, None], shape),
    )


def _running(counts: NDArray[Any]) -> NDArray[np.int64]:
    start = np.zeros((len(counts), 1), np.int64)
    return np.concatenate((start, np.cumsum(counts, axis=1).astype(np.int64)), axis=1)


def vehicle_states(
    fleet: Fleet, presence: Presence, day: int, findings: tuple[Finding, ...] = ()
) -> tuple[VehicleState, ...]:
    """Say of every vehicle whether it can be judged, and why not.

    Parameters
    ----------
    fleet : Fleet
    presence : Presence
        Counts of days after `day` are not looked at.
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
    length = presence.last.shape[1]
    now = int(np.clip(day - presence.first_day + 1, 0, length))
    before = int(np.clip(day - presence.first_day + 1 - WINDOW_DAYS, 0, length))
    last = presence.last[:, now - 1] if now else np.full(len(fleet.vehicles), -1)
    count = presence.days[:, now]
    usual = np.where(count > 1, (last - presence.begun[:, 0]) / np.maximum(count - 1, 1), 1.0)
    readings = presence.readings[:, now] - presence.readings[:, before]
    usable = presence.usable[:, now] - presence.usable[:, before]
    warm = presence.warm[:, now] - presence.warm[:, before]
    watched = {finding.vehicle for finding in findings}
    states = []
    for place, vehicle in enumerate(fleet.vehicles):
        word, reason = _word(
            last_age=day - int(last[place]) if last[place] >= 0 else None,
            silent_after=max(SILENT_FACTOR * float(usual[place]), SILENT_AT_LEAST_DAYS),
            usable=int(usable[place]),
            warm_recent=int(warm[place]),
            warm_ever=int(presence.warm[place, now]),
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
