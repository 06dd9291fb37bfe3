"""What happens to a vehicle beside driving: work in the shop, resets of memory, new batteries, rests."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tests.bench.strangers.loops.faults import Fault
from tests.bench.strangers.loops.fleet import Vehicle


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """A row of the shop's book; `day` of the history."""

    day: int
    kind: str
    cause: str = ""
    parts: float | None = None
    hours: float | None = None
    notes: str = ""


@dataclass(slots=True, kw_only=True, eq=False)
class Life:
    """A vehicle's history apart from its driving.

    Parameters
    ----------
    cleared : list of int
        Days on whose morning the controllers' memory was empty.
    batteries, cleaned : list of int
        Days of a new battery, and of a cleaned throttle.
    used : array of bool, shape (days,)
        Whether it was driven.
    book : list of Work
        What was written down.
    """

    used: NDArray[np.bool_]
    cleared: list[int] = field(default_factory=list)
    batteries: list[int] = field(default_factory=list)
    cleaned: list[int] = field(default_factory=list)
    book: list[Work] = field(default_factory=list)


OTHER_REPAIRS = (
    "brake pads",
    "front tyres",
    "wiper motor",
    "door lock",
    "rear shock absorbers",
    "exhaust hanger",
)


def _draw_use(rng: np.random.Generator, vehicle: Vehicle, days: int) -> NDArray[np.bool_]:
    weekend = np.isin(np.arange(days) % 7, (5, 6))
    used = rng.random(days) < np.where(weekend, vehicle.weekends, 0.93)
    for start in np.flatnonzero(rng.random(days) < 1 / 160):
        used[start : start + int(rng.integers(3, 19))] = False
    return np.asarray(used, dtype=np.bool_)


def _add_resets(rng: np.random.Generator, life: Life, days: int) -> None:
    for day in np.flatnonzero(rng.random(days) < 1 / 700).tolist():
        life.cleared.append(day)
        if rng.random() < 0.6:
            life.book.append(Work(day=day, kind="memory_cleared", notes="battery lead off for other work"))
    if rng.random() < 0.1:
        day = int(rng.integers(5, days))
        life.batteries.append(day)
        life.cleared.append(day)
        if rng.random() < 0.85:
            life.book.append(
                Work(day=day, kind="battery_replaced", parts=float(rng.integers(85, 190)), hours=0.4)
            )


def _add_shop_days(rng: np.random.Generator, life: Life, days: int) -> None:
    for day in np.flatnonzero(rng.random(days) < 1 / 260).tolist():
        note = str(rng.choice(OTHER_REPAIRS))
        kind = "repair" if rng.random() < 0.35 else "note"
        cause = "unknown" if kind == "repair" else ""
        life.book.append(Work(day=day, kind=kind, cause=cause, hours=1.5, notes=note))
    for day in np.flatnonzero(rng.random(days) < 1 / 900).tolist():
        life.book.append(Work(day=day, kind="no_fault_found", hours=0.7, notes="road test, nothing found"))
    if rng.random() < 0.12:
        day = int(rng.integers(0, days))
        life.cleaned.append(day)
        if rng.random() < 0.7:
            life.book.append(Work(day=day, kind="note", notes="throttle bore wiped at service"))


def _add_repair(rng: np.random.Generator, life: Life, fault: Fault, days: int) -> None:
    if fault.repaired is None:
        return
    if fault.cause == "battery_ageing":
        life.batteries.append(fault.repaired)
    if fault.cause == "throttle_deposits":
        life.cleaned.append(fault.repaired)
    cleared = rng.random() < 0.6 or fault.cause == "battery_ageing"
    if cleared and fault.repaired + 1 < days:
        life.cleared.append(fault.repaired + 1)
        if rng.random() < 0.5:
            life.book.append(Work(day=fault.repaired, kind="memory_cleared"))
    draw = rng.random()
    if draw < 0.05:
        return
    late = int(rng.integers(2, 10)) if rng.random() < 0.12 else 0
    day = min(fault.repaired + late, days - 1)
    parts, hours = float(rng.integers(15, 420)), float(rng.integers(2, 14)) / 4
    if fault.cause == "battery_ageing" and draw < 0.3:
        life.book.append(Work(day=day, kind="battery_replaced", parts=parts, hours=hours))
    elif draw < 0.15:
        life.book.append(Work(day=day, kind="repair", cause="unknown", hours=hours, notes="put right"))
    else:
        life.book.append(Work(day=day, kind="repair", cause=fault.cause, parts=parts, hours=hours))


def live(rng: np.random.Generator, vehicle: Vehicle, fault: Fault | None, days: int) -> Life:
    """Draw a vehicle's life; a faulty one is looked at in vain now and then before its repair."""
    life = Life(used=_draw_use(rng, vehicle, days))
    _add_resets(rng, life, days)
    _add_shop_days(rng, life, days)
    if fault is not None:
        life.book.append(Work(day=fault.complaint, kind="complaint", notes="does not run as it should"))
        if rng.random() < 0.12 and fault.complaint + 1 < (fault.repaired or days - 1):
            life.book.append(Work(day=fault.complaint + 1, kind="no_fault_found", hours=1.0))
        _add_repair(rng, life, fault, days)
    life.cleared.sort()
    return life


def since(days: int, marks: Sequence[int]) -> NDArray[np.float64]:
    """Give days since the last mark, or since the first day; shape (days,).

    Examples
    --------
    >>> since(4, [2]).tolist()
    [0.0, 1.0, 0.0, 1.0]
    """
    day = np.arange(days, dtype=np.float64)
    last = np.zeros(days)
    for mark in sorted(marks):
        last[mark:] = mark
    return np.asarray(day - last, dtype=np.float64)
