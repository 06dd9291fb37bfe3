"""Baseline segments: from which day on each series of each vehicle is held against its own past.

A repair whose cause is told starts a new segment for the series that the cause bears on. A repair that does
not say what was repaired starts one only where the data then showed a fault: otherwise a tyre change would
wipe out the memory of a drift, and if it did cure a drift, the readings before it must not count as normal.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.breaks import RENEWING, UNTOLD, touched_by
from models.causes import groups
from models.kinds import kinds_of
from models.panel import WorkFact
from models.scan import likelihood_ratios, weigh
from models.scene import Scene
from models.series import SERIES, Series


def _is_bound(series: Series) -> bool:
    """Say whether fuel, air or altitude of the place where a vehicle lives bear on the series."""
    return "barometer" in series.explained_by


def first_starts(scene: Scene) -> NDArray[np.int32]:
    """Give the segments before any repair, shape (V, S): all begin with the first day."""
    return np.full((len(scene.fleet.vehicles), len(SERIES)), scene.material.first_day, np.int32)


def advance_starts(scene: Scene, start: NDArray[np.int32], days: tuple[int, int]) -> NDArray[np.int32]:
    """Begin new segments at the repairs of some days.

    Parameters
    ----------
    scene : Scene
    start : int32 array of shape (V, S)
        First day of each segment as known before; left as it is.
    days : (after, until)
        Repairs done after the first and up to the second day are taken in, in order.

    Returns
    -------
    int32 array of shape (V, S)
    """
    after, until = days
    start = start.copy()
    for when, vehicle, first, fact in _beginnings(scene):
        if not after < when <= until:
            continue
        if fact is None:
            moved = _PLACE_BOUND
        elif fact.kind == "repair" and fact.cause in UNTOLD:
            moved = _moved_series(scene, start, vehicle, when)
        else:
            moved = touched_by(fact)
        start[vehicle, moved] = np.maximum(start[vehicle, moved], first)
    return start


_PLACE_BOUND: Final = np.array([_is_bound(series) for series in SERIES])


def _beginnings(scene: Scene) -> list[tuple[int, int, int, WorkFact | None]]:
    """List what may begin segments in the order in which it became known.

    Each is the day on which it was known, the vehicle, the first day of the new segment, and the fact. Moves
    to another altitude have none.
    """
    moves = [(known, vehicle, day, None) for vehicle, day, known in scene.material.moves.tolist()]
    told = [
        (fact.day, fact.vehicle, fact.day if fact.kind == "logger_changed" else fact.day + 1, fact)
        for fact in scene.fleet.work
        if fact.kind in RENEWING
    ]
    return sorted([*moves, *told], key=lambda item: item[:3])


def segment_reasons(scene: Scene) -> dict[tuple[int, int], str]:
    """Say why segments begin.

    Returns
    -------
    dict of (vehicle place, first day) to str
        `repair`, `battery_replaced`, `logger_changed` or `break_found`; what is not listed begins with the
        first data.
    """
    return {
        (vehicle, first): "break_found" if fact is None else fact.kind
        for _, vehicle, first, fact in _beginnings(scene)
    }


def _moved_series(scene: Scene, start: NDArray[np.int32], vehicle: int, day: int) -> NDArray[np.bool_]:
    """Say which series a fault moved that the data showed on the day of an untold repair."""
    rows = np.array([vehicle])
    group = scene.material.group[rows]
    evidence = weigh(
        scene.fit.history,
        day=day,
        start=start[rows],
        noise=scene.fit.noise,
        group=group,
        spread=scene.fit.peers.spread[group],
        rows=rows,
    )
    table = scene.tables[int(group[0])]
    template = np.arange(evidence.z.shape[1])
    pairs = np.column_stack((np.zeros_like(template), template))
    ratio = likelihood_ratios(evidence, table, scene.fit.noise.correlation, pairs)
    best_by_direction = scene.levels.rarity(ratio, kinds_of(table, template)).max(axis=0)
    if best_by_direction.max() < scene.levels.watch:
        return np.zeros(len(SERIES), dtype=bool)
    best = int(best_by_direction.argmax())
    group_name = groups()[table.cause[best]]
    same = [groups()[cause] == group_name != "" for cause in table.cause]
    return np.asarray((table.shift[[best]] != 0).any(axis=0) | (table.shift[same] != 0).any(axis=0))
