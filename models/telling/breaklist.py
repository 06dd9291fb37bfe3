"""Every break that is known on a day, recorded and found, for pages and charts."""

from typing import Final

from models.changes.beginnings import MOVED, RETURNED
from models.findings import Break
from models.learning.breaks import RENEWING
from models.learning.loggers import LOGGER_CHANGED
from models.verdict.scene import Scene
from models.verdict.segments import Starts, returns_found

_TOLD_WITHIN: Final = 3
"""Days after a record within which a clearing seen in the data is the same one."""


def list_breaks(scene: Scene, starts: Starts, day: int) -> tuple[Break, ...]:
    """List them by vehicle and day.

    Parameters
    ----------
    scene : Scene
    starts : Starts
        As known on the day.
    day : int
    """
    names = scene.fleet.vehicles
    recorded = [
        Break(vehicle=names[fact.vehicle], day=fact.day, reason=fact.kind, found=False)
        for fact in scene.fleet.work
        if fact.day <= day and fact.kind in (*RENEWING, "memory_cleared", LOGGER_CHANGED)
    ]
    told = {(item.vehicle, item.day) for item in recorded if item.reason != LOGGER_CHANGED}
    cleared = [
        Break(vehicle=names[vehicle], day=when, reason="memory_cleared", found=True)
        for vehicle, when in scene.material.found_resets.tolist()
        if when <= day and not any((names[vehicle], when - back) in told for back in range(_TOLD_WITHIN))
    ]
    moved = [
        Break(vehicle=names[vehicle], day=first, reason=MOVED, found=True)
        for vehicle, first, known in scene.material.moves.tolist()
        if known <= day
    ]
    swapped = [
        Break(vehicle=names[vehicle], day=first, reason=LOGGER_CHANGED, found=True)
        for vehicle, first, known, found in scene.material.loggers.tolist()
        if found and known <= day
    ]
    returned = [
        Break(vehicle=names[vehicle], day=first, reason=RETURNED, found=True)
        for vehicle, first in returns_found(scene, starts)
    ]
    every = {*recorded, *cleared, *moved, *swapped, *returned}
    return tuple(sorted(every, key=lambda item: (item.vehicle, item.day, item.reason)))
