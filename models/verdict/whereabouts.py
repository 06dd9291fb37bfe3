"""Vehicles that burn another depot's fuel than the register says.

A register names one depot for each vehicle. One that still lives elsewhere, or came later than was written
down, has the wrong common movement taken off its trims, and looks faulty when two depots change their fuel at
different times. Before such a vehicle is called faulty, its trims are held against what they would be had it
followed another depot: always, or until a day on which it came to its own. Where that explains them far
better, it is judged so.
"""

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.evidence.history import build_history
from models.evidence.scan import Evidence, weigh
from models.series import BOUNDED, TRIMS
from models.verdict.scene import Scene

LEAST_GAIN: Final = 6.0
"""Nats by which another depot must explain the trims better; chosen by us: odds of four hundred to one."""

APART_SIGMA: Final = 1.0
"""Difference of two depots' movements below which nobody could tell them apart [sigma of one reading]."""

CAME_EVERY: Final = 3
"""Days between the days of arrival that are tried."""

_TRIMS: Final = np.flatnonzero(TRIMS)
_SLOW: Final = -1


def elsewhere(
    scene: Scene, day: int, start: NDArray[np.int32], rows: NDArray[np.int64]
) -> tuple[NDArray[np.int64], Evidence | None]:
    """Weigh anew the vehicles that another depot's fuel explains.

    Parameters
    ----------
    scene : Scene
    day : int
        Evaluation day.
    start : int32 array of shape (V, S)
        First day of each running baseline segment.
    rows : int64 array of shape (n,)
        Vehicles whose trims say that something is wrong.

    Returns
    -------
    moved : int64 array of shape (m,)
        Those of them that are explained so.
    evidence : Evidence or None
        Of these, had they followed that depot; None where there are none.
    """
    common = scene.fit.common
    rows = rows[common.crowd[rows] >= 0]
    if not len(rows) or len(common.shift) < 2:
        return rows[:0], None
    history = scene.fit.history
    changes: dict[int, tuple[NDArray[np.int64], NDArray[np.float64]]] = {}
    for vehicle in rows.tolist():
        found = _better_path(scene, day, start[vehicle], vehicle)
        if found is not None:
            changes[vehicle] = found
    if not changes:
        return rows[:0], None
    moved = np.array(sorted(changes), dtype=np.int64)
    seen = scene.material.seen
    low, high = (np.searchsorted(seen.vehicle, (moved + side).astype(np.int32)) for side in (0, 1))
    keep = np.concatenate([np.arange(*span) for span in zip(low, high, strict=True)])
    residual = history.values(keep)
    for place, shift in changes.values():
        residual[np.searchsorted(keep, place)] += shift
    own = seen.take(keep)
    own = replace(own, vehicle=np.searchsorted(moved, own.vehicle).astype(np.int32))
    evidence = weigh(
        build_history(
            own,
            residual,
            scene.material.usable[keep] & ~BOUNDED[own.series],
            vehicles=len(moved),
            days=(history.first_day, history.first_day + history.days - 1),
        ),
        day=day,
        start=start[moved],
        noise=replace(scene.fit.noise, sigma=scene.fit.noise.sigma[moved]),
        group=scene.material.group[moved],
        spread=scene.fit.peers.spread[scene.material.group[moved]],
        rows=np.arange(len(moved)),
    )
    return moved, evidence


def _better_path(
    scene: Scene, day: int, start: NDArray[np.int32], vehicle: int
) -> tuple[NDArray[np.int64], NDArray[np.float64]] | None:
    """Give places of the trims and what another depot adds to each residual; None if none helps."""
    seen, history, common = scene.material.seen, scene.fit.history, scene.fit.common
    low = history.before(start[None, :], np.array([vehicle]))[0]
    high = history.before(day + 1, np.array([vehicle]))[0]
    place = np.concatenate([np.arange(low[series], high[series]) for series in _TRIMS])
    place = place[scene.material.usable[place]]
    if not len(place):
        return None
    series, when = seen.series[place], seen.day[place]
    residual = history.values(place)
    noise, group = scene.fit.noise, scene.material.group[vehicle]
    sigma = noise.sigma[vehicle, series]
    weight = 1.0 / (2.0 * sigma**2 * noise.inflation[group, series, _SLOW])
    owner = np.searchsorted(_TRIMS, series)
    at = common.shift[:, series, when - common.first_day]
    arrivals = np.append(np.arange(int(when.min()), day, CAME_EVERY)[1:], day + 1)
    away = when[None, :] < arrivals[:, None]
    stays = _misfit(residual[None, :], weight, owner)[0]
    best, chosen = LEAST_GAIN, None
    for crowd in range(len(at)):
        apart = at[common.crowd[vehicle]] - at[crowd]
        if np.abs(apart / sigma).max() < APART_SIGMA:
            continue
        added = np.where(away, apart[None, :], 0.0)
        gain = stays - _misfit(residual[None, :] + added, weight, owner)
        if gain.max() > best:
            best, chosen = float(gain.max()), added[int(gain.argmax())]
    return None if chosen is None else (place, chosen)


def _misfit(
    residual: NDArray[np.float64], weight: NDArray[np.float64], owner: NDArray[np.int64]
) -> NDArray[np.float64]:
    """Weigh squared distances from each series' own mean, one row a path: shape (n,) [nats]."""
    total = np.zeros(len(residual))
    for place in np.unique(owner):
        mine = owner == place
        away = residual[:, mine] - residual[:, mine].mean(axis=1, keepdims=True)
        total += away**2 @ weight[mine]
    return total


def trims_lead(evidence: Evidence, template: NDArray[np.int64], rows: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Say of some vehicles whether a trim speaks loudest at their onset, shape (n,)."""
    z = np.abs(evidence.z[rows, template[rows]])
    return np.asarray(TRIMS[z.argmax(axis=1)]) if len(rows) else np.zeros(0, dtype=bool)
