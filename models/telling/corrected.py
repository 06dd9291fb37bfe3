"""Daily values as the comparison sees them: less what weather, load switches and like vehicles explain."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.findings import Corrected
from models.series import SERIES
from models.verdict.scene import Scene

KEPT_DAYS: Final = 190
"""Days up to the evaluation day that are kept; chosen by us: what the pictures of half a year show."""

_LOG: Final = np.array([series.log for series in SERIES])
_RELATIVE: Final = np.array([series.name.startswith("ln ") for series in SERIES])
_NAMED: Final = np.array([series.parameter != "" for series in SERIES])


def write_corrected(scene: Scene, day: int) -> tuple[Corrected, ...]:
    """Give the corrected values of every followed series up to a day, by vehicle and series.

    Parameters
    ----------
    scene : Scene
        The fleet under the fit that serves the day.
    day : int
        Evaluation day [days since 1970-01-01].

    Returns
    -------
    tuple of Corrected
        Values in the unit and on the scale of the series' baseline.
    """
    seen = scene.material.seen
    rows = np.flatnonzero((seen.day <= day) & (seen.day > day - KEPT_DAYS) & _NAMED[seen.series])
    if not len(rows):
        return ()
    value = _on_scale(scene, rows)
    series = seen.series[rows].astype(np.int64)
    cell = seen.vehicle[rows].astype(np.int64) * len(SERIES) + series
    bounds = np.append(np.flatnonzero(np.diff(cell, prepend=-1)), len(cell))
    return tuple(
        Corrected(
            vehicle=scene.fleet.vehicles[int(seen.vehicle[rows[start]])],
            series=SERIES[int(series[start])].name,
            day=seen.day[rows[start:stop]].astype(np.int32),
            value=value[start:stop].astype(np.float32),
        )
        for start, stop in zip(bounds[:-1].tolist(), bounds[1:].tolist(), strict=True)
    )


def _on_scale(scene: Scene, rows: NDArray[np.int64]) -> NDArray[np.float64]:
    """Put adjusted values on the scale on which their baseline is told."""
    seen = scene.material.seen
    series = seen.series[rows]
    group = scene.material.group[seen.vehicle[rows]]
    held = scene.fit.adjusted[rows] - np.where(_RELATIVE[series], scene.fit.peers.level[group, series], 0.0)
    shown: NDArray[np.float64] = np.where(_LOG[series], np.exp(np.minimum(held, 1e4) / 100.0), held)
    return shown
