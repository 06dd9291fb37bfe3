"""Baseline segments: from which day on each series of each vehicle is held against its own past.

A repair whose cause is told starts a new segment for the series that the cause can move. A repair that does
not say what was repaired starts one only where the data then showed a fault: otherwise a tyre change would
wipe out the memory of a drift, and if it did cure a drift, the readings before it must not count as normal.
The same holds for a repair that nobody wrote down, where a fault stood and its readings fell back to normal.
A new logger starts one everywhere; where a drift stood before it and goes on without a step, that drift is
taken up again.
"""

from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import CAUSES
from models.alarm.switches import hear_switches
from models.causes.table import groups, moved_by_repair
from models.changes.beginnings import LOGGER_DECIDED, MOVED, RETURNED, Beginning
from models.changes.returns import EITHER_SIDE
from models.evidence.kinds import kinds_of
from models.evidence.scan import likelihood_ratios, weigh
from models.learning.breaks import is_untold, touched_by
from models.learning.loggers import LOGGER_CHANGED
from models.series import LEARNED, SERIES, Series
from models.verdict.scene import Scene

UNDONE: Final = 0.6
"""Share of a fault's shift that readings must fall back by to count as repaired; as for a proof of repair."""


def _is_bound(series: Series) -> bool:
    """Say whether fuel, air or altitude of the place where a vehicle lives bear on the series."""
    return "barometer" in series.explained_by


_PLACE_BOUND: Final = np.array([_is_bound(series) for series in SERIES])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Starts:
    """First day of each vehicle's segments, int32 arrays of shape (V, S).

    Parameters
    ----------
    running : int32 array
        What readings are held against.
    settled : int32 array
        The same without changes of logger that are not decided yet.
    drifting : dict of int to bool array of shape (S,)
        Series that a fault moved on the day before a change of logger, by the place of the change.
    """

    running: NDArray[np.int32]
    settled: NDArray[np.int32]
    drifting: Mapping[int, NDArray[np.bool_]]


def first_starts(scene: Scene) -> Starts:
    """Give the segments before any repair: all begin with the first day."""
    start = np.full((len(scene.fleet.vehicles), len(SERIES)), scene.material.first_day, np.int32)
    return Starts(running=start, settled=start, drifting={})


def advance_starts(scene: Scene, starts: Starts, days: tuple[int, int]) -> Starts:
    """Begin new segments at what became known on some days.

    Parameters
    ----------
    scene : Scene
    starts : Starts
        As known before; left as they are.
    days : (after, until)
        What became known after the first and up to the second day is taken in, in order.

    Returns
    -------
    Starts
    """
    after, until = days
    running, settled, drifting = starts.running.copy(), starts.settled.copy(), dict(starts.drifting)
    low, high = (bisect_right(scene.beginnings, day, key=lambda item: item.known) for day in (after, until))
    for item in scene.beginnings[low:high]:
        vehicle = item.vehicle
        if item.reason == LOGGER_DECIDED:
            decided = scene.swaps.decided[item.row] == item.known
            renewed = decided & (scene.swaps.steps[item.row] | ~drifting[item.row])
            settled[vehicle, renewed] = np.maximum(settled[vehicle, renewed], item.first)
            running[vehicle, decided] = settled[vehicle, decided]
            continue
        if item.reason == LOGGER_CHANGED:
            stood = _moved_series(scene, settled, vehicle, item.first - 1, scene.levels.watch)
            drifting[item.row] = stood.may
        moved = _moved(scene, running, item)
        first = np.where(LEARNED, item.first_learned, item.first)
        running[vehicle, moved] = np.maximum(running[vehicle, moved], first[moved])
        if item.reason != LOGGER_CHANGED:
            settled[vehicle, moved] = np.maximum(settled[vehicle, moved], first[moved])
    return Starts(running=running, settled=settled, drifting=drifting)


def _moved(scene: Scene, running: NDArray[np.int32], item: Beginning) -> NDArray[np.bool_]:
    """Say which series begin anew, shape (S,)."""
    if item.reason == LOGGER_CHANGED:
        return np.ones(len(SERIES), dtype=bool)
    if item.reason == RETURNED:
        return _returned(scene, running, item)
    if item.fact is None:
        return _PLACE_BOUND
    if is_untold(item.fact):
        return _moved_series(scene, running, item.vehicle, item.known, scene.levels.watch).may
    return touched_by(item.fact)


def _returned(scene: Scene, running: NDArray[np.int32], item: Beginning) -> NDArray[np.bool_]:
    """Say which series a fault had moved that stood on the day before the readings fell back."""
    series = int(scene.falls.place[item.row, 1])
    none = np.zeros(len(SERIES), dtype=bool)
    if running[item.vehicle, series] >= item.first - EITHER_SIDE:
        return none
    stood = _moved_series(scene, running, item.vehicle, item.first - 1, scene.levels.ticket)
    undone = -scene.falls.jump[item.row] / stood.shift[series] if stood.shift[series] else 0.0
    return stood.may if stood.shown[series] and undone >= UNDONE else none


def returns_found(scene: Scene, starts: Starts) -> tuple[tuple[int, int], ...]:
    """Give vehicle and first day of every segment that a return to normal began."""
    return tuple(
        (item.vehicle, item.first)
        for item in scene.beginnings
        if item.reason == RETURNED
        and starts.running[item.vehicle, int(scene.falls.place[item.row, 1])] == item.first
    )


def segment_reasons(scene: Scene) -> dict[tuple[int, int], str]:
    """Say why segments begin.

    Returns
    -------
    dict of (vehicle place, first day) to str
        `repair`, `battery_replaced`, `logger_changed` or `break_found`; what is not listed begins with the
        first data.
    """
    return {
        (item.vehicle, first): "break_found" if item.reason in (MOVED, RETURNED) else item.reason
        for item in reversed(scene.beginnings)
        if item.reason != LOGGER_DECIDED
        for first in (item.first, item.first_learned)
    }


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Moved:
    """What stood on a day, each array of shape (S,).

    Parameters
    ----------
    may : bool array
        Series that the fault may have moved; none where there is too little evidence.
    shown : bool array
        Those of them that led: only their falling back says that the fault is gone.
    shift : float64 array
        How far each series stood off since the fault's onset [series' unit].
    """

    may: NDArray[np.bool_]
    shown: NDArray[np.bool_]
    shift: NDArray[np.float64]


def _moved_series(scene: Scene, start: NDArray[np.int32], vehicle: int, day: int, level: float) -> _Moved:
    """Say which series a fault moved that stood on a day with so much evidence."""
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
    evidence = hear_switches(evidence, scene.fit.history, scene.runs, day=day, start=start[rows], rows=rows)
    table = scene.tables[int(group[0])]
    template = np.arange(evidence.z.shape[1])
    pairs = np.column_stack((np.zeros_like(template), template))
    ratio = likelihood_ratios(evidence, table, scene.fit.noise.correlation, pairs)
    rare = scene.levels.rarity(ratio, kinds_of(table, template))
    at, best = divmod(int(rare.argmax()), rare.shape[1])
    if rare[at, best] < level:
        nothing = np.zeros(len(SERIES), dtype=bool)
        return _Moved(may=nothing, shown=nothing, shift=np.zeros(len(SERIES)))
    z, root = evidence.z[0, at], evidence.root_information[0, at]
    shift = np.where(root > 0, z / np.where(root > 0, root, 1.0), 0.0)
    shown = table.shift[best] != 0
    clear = ~table.single & (rare[at] >= level)
    lone = bool(table.single[best])
    if lone:
        # One series of several may be the rarest by itself, and yet not have moved alone.
        fits = clear & (table.shift[:, shown] * table.shift[best, shown] > 0).all(axis=1)
        if not fits.any():
            return _Moved(may=shown, shown=shown, shift=shift)
        best = int(np.where(fits, rare[at], -np.inf).argmax())
    group_name = groups()[table.cause[best]]
    alike = np.array([groups()[cause] == group_name for cause in table.cause])
    if not lone:
        shown = shown | (table.shift[alike & clear] != 0).any(axis=0)
    may = np.any([moved_by_repair(CAUSES[cause]) for cause in np.unique(table.cause[alike])], axis=0)
    return _Moved(may=np.asarray(shown | may), shown=np.asarray(shown), shift=shift)
