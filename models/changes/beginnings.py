"""What may begin baseline segments, in the order in which it becomes known."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from models.changes.returns import Falls
from models.changes.swaps import UNDECIDED, Swaps
from models.learning.breaks import RELEARN_DAYS, RENEWING, is_untold
from models.learning.fit import Material
from models.learning.loggers import LOGGER_CHANGED
from models.panel import Fleet, WorkFact, days_of_work

MOVED: Final = "moved"
"""The vehicle came to live at another height."""

RETURNED: Final = "returned"
"""Readings fell back to normal, and no repair is on record."""

LOGGER_DECIDED: Final = "logger_decided"
"""For some series it is known by now what a change of logger means."""

ON_RECORD_DAYS: Final = 14
"""Days around a return to normal within which a recorded repair explains it; chosen by us."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Beginning:
    """One day from which some of a vehicle's series may be held against a new past.

    Parameters
    ----------
    known : int
        Day on which it becomes known.
    vehicle : int
    first : int
        First day of the segment.
    reason : str
        Kind of the work record, `logger_changed`, `LOGGER_DECIDED`, `MOVED` or `RETURNED`.
    fact : WorkFact or None
        The work record.
    row : int
        Place among the changed loggers or, with `RETURNED`, the falls; -1 otherwise.
    """

    known: int
    vehicle: int
    first: int
    reason: str
    fact: WorkFact | None = None
    row: int = -1

    @property
    def first_learned(self) -> int:
        """First day for series that the engine computer may learn anew after a repair."""
        late = self.fact is not None and is_untold(self.fact)
        return self.first + RELEARN_DAYS if late else self.first


def list_beginnings(fleet: Fleet, material: Material, swaps: Swaps, falls: Falls) -> tuple[Beginning, ...]:
    """List moves, repairs, changed loggers, and falls that no recorded repair explains."""
    moves = [
        Beginning(known=known, vehicle=vehicle, first=day, reason=MOVED)
        for vehicle, day, known in material.moves.tolist()
    ]
    told = [
        Beginning(known=fact.day, vehicle=fact.vehicle, first=fact.day + 1, reason=fact.kind, fact=fact)
        for fact in fleet.work
        if fact.kind in RENEWING
    ]
    listed = [*moves, *told, *_swapped(swaps), *_fallen(fleet, falls)]
    return tuple(sorted(listed, key=lambda item: (item.known, item.vehicle, item.first, item.reason)))


def _swapped(swaps: Swaps) -> list[Beginning]:
    """Give every change of logger when it becomes known, and again when some of its series are decided."""
    found = []
    for row, (vehicle, first, known) in enumerate(
        zip(swaps.vehicle.tolist(), swaps.first.tolist(), swaps.known.tolist(), strict=True)
    ):
        found.append(Beginning(known=known, vehicle=vehicle, first=first, reason=LOGGER_CHANGED, row=row))
        found += [
            Beginning(known=day, vehicle=vehicle, first=first, reason=LOGGER_DECIDED, row=row)
            for day in np.unique(swaps.decided[row]).tolist()
            if day != UNDECIDED
        ]
    return found


def _fallen(fleet: Fleet, falls: Falls) -> list[Beginning]:
    repaired = days_of_work(fleet, RENEWING)
    return [
        Beginning(known=known, vehicle=vehicle, first=first, reason=RETURNED, row=row)
        for row, (vehicle, _, first, known) in enumerate(falls.place.tolist())
        if all(abs(first - day) > ON_RECORD_DAYS for day in repaired.get(vehicle, []))
    ]
