"""Baseline segments: from which day on each series of each vehicle is held against its own past.

A repair whose cause is told starts a new segment for the series that the cause bears on. A repair that does not
say what was repaired starts one only where the data then showed a fault: otherwise a tyre change would wipe out
the memory of a drift, and if it did cure a drift, the readings before it must not count as normal.
"""

import numpy as np
from numpy.typing import NDArray

from models.breaks import UNTOLD, touched_by
from models.causes import Directions, groups
from models.fit import Fit, Material
from models.panel import Fleet
from models.scan import likelihood_ratios, weigh
from models.series import SERIES


def baseline_starts(
    fleet: Fleet,
    material: Material,
    fit: Fit,
    tables: tuple[Directions, ...],
    *,
    day: int,
    screen: float,
) -> NDArray[np.int32]:
    """Give the first day of the running baseline segment of every vehicle and series.

    Parameters
    ----------
    tables : tuple of Directions
        By group of like vehicles.
    day : int
        Evaluation day; later records are not known yet.
    screen : float
        Evidence [nats] at which the data are taken to have shown a fault when the repair was done.

    Returns
    -------
    int32 array of shape (V, S)
    """
    start = np.full((len(fleet.vehicles), len(SERIES)), material.first_day, np.int32)
    for fact in fleet.work:
        if fact.day > day or fact.kind not in ("repair", "battery_replaced"):
            continue
        if fact.kind == "repair" and fact.cause in UNTOLD:
            moved = _moved_series(material, fit, tables, start, fact.vehicle, fact.day, screen)
        else:
            moved = touched_by(fact)
        start[fact.vehicle, moved] = np.maximum(start[fact.vehicle, moved], fact.day + 1)
    return start


def _moved_series(
    material: Material,
    fit: Fit,
    tables: tuple[Directions, ...],
    start: NDArray[np.int32],
    vehicle: int,
    day: int,
    screen: float,
) -> NDArray[np.bool_]:
    """Say which series a fault moved that the data showed on the day of an untold repair."""
    rows = np.array([vehicle])
    group = material.group[rows]
    evidence = weigh(
        fit.history,
        day=day,
        start=start[rows],
        noise=fit.noise,
        group=group,
        spread=fit.peers.spread[group],
        rows=rows,
    )
    table = tables[int(group[0])]
    pairs = np.column_stack((np.zeros(evidence.z.shape[1], np.int64), np.arange(evidence.z.shape[1])))
    ratio = likelihood_ratios(evidence, table, fit.noise.correlation, pairs).max(axis=0)
    if ratio.max() < screen:
        return np.zeros(len(SERIES), dtype=bool)
    best = int(ratio.argmax())
    group_name = groups()[table.cause[best]]
    same = [groups()[cause] == group_name != "" for cause in table.cause]
    return np.asarray((table.shift[[best]] != 0).any(axis=0) | (table.shift[same] != 0).any(axis=0))
