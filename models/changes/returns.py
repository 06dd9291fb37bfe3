"""Returns to normal: days on which a series falls back by more than chance does, for no reason on record.

A drift that somebody ended without writing it down would otherwise stay in the baseline, and the vehicle's
own normal would look like a fault in the other direction. Here only the days are found, from the readings
alone; whether a fault stood there that day, and which series it had moved, `models.verdict.segments` asks.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.evidence.history import CLIP_READINGS
from models.evidence.noise import BLOCKS
from models.learning.fit import Fit, Material
from models.series import SERIES

EITHER_SIDE: Final = 7
"""Readings on either side whose medians are compared; chosen by us: they outvote three wild ones."""

FALL: Final = 4.5
"""Standard errors that a fall must have: chance alone shows that in no series of a fleet within a year."""

PULLED: Final = CLIP_READINGS // 2
"""Readings after a jump that clipping pulls towards the level before it."""

LEAST_SIGMA: Final = 2.0
"""Fall below which no fault ended [sigma of one reading]; chosen by us."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Falls:
    """Days on which a series came back towards its own past; f of them.

    Parameters
    ----------
    place : int64 array of shape (f, 4)
        Vehicle place, series, first day whose reading is not pulled towards the old level, and day on which
        it is known.
    jump : float64 array of shape (f,)
        New level less old [series' unit].
    """

    place: NDArray[np.int64]
    jump: NDArray[np.float64]


def find_falls(material: Material, fit: Fit) -> Falls:
    """Find where the level of a series jumps back towards its past and stays for `EITHER_SIDE` readings.

    Returns
    -------
    Falls
        Of neighbouring days only the largest jump, by vehicle, series and day.
    """
    parts = [
        _falls_among(material, fit, rows.start + np.flatnonzero(material.usable[rows]))
        for rows in material.seen.blocks(len(material.group))
    ]
    return Falls(
        place=np.concatenate([np.empty((0, 4), np.int64), *(part.place for part in parts)]),
        jump=np.concatenate([np.empty(0), *(part.jump for part in parts)]),
    )


def _falls_among(material: Material, fit: Fit, keep: NDArray[np.int64]) -> Falls:
    """Find the falls among some usable observations, whole vehicles."""
    seen, noise = material.seen, fit.noise
    cell = seen.vehicle[keep].astype(np.int64) * len(SERIES) + seen.series[keep]
    at = np.arange(EITHER_SIDE, len(keep) - EITHER_SIDE + 1)
    at = at[cell[at - EITHER_SIDE] == cell[at + EITHER_SIDE - 1]]
    value = fit.adjusted[keep]
    running = np.concatenate(([0.0], np.cumsum(value)))
    begin = np.searchsorted(cell, cell[at])
    old = (running[at] - running[at - EITHER_SIDE]) / EITHER_SIDE
    new = (running[at + EITHER_SIDE] - running[at]) / EITHER_SIDE
    past = (running[at - EITHER_SIDE] - running[begin]) / np.maximum(at - EITHER_SIDE - begin, 1)
    vehicle, series = seen.vehicle[keep][at].astype(np.int64), seen.series[keep][at].astype(np.int64)
    sigma = noise.sigma[vehicle, series]
    block = min(int(np.log2(EITHER_SIDE)) + 1, len(BLOCKS) - 1)
    error = sigma * np.sqrt(2.0 / EITHER_SIDE * noise.inflation[material.group[vehicle], series, block])
    wanted = np.maximum(FALL * error, LEAST_SIGMA * sigma)
    away = np.sign(old - new) * (old - past)
    near = (away >= 0.5 * np.abs(new - old)) & (np.abs(new - old) >= 0.5 * wanted)
    at, wanted, where = at[near], wanted[near], cell[at[near]]
    around = value[at[:, None] + np.arange(-EITHER_SIDE, EITHER_SIDE)[None, :]]
    jump = np.median(around[:, EITHER_SIDE:], axis=1) - np.median(around[:, :EITHER_SIDE], axis=1)
    best = _peaks(at, where, np.where(np.abs(jump) >= wanted, np.abs(jump) / wanted, 0.0))
    day = seen.day[keep].astype(np.int64)
    vehicle, series = np.divmod(where[best], len(SERIES))
    return Falls(
        place=np.column_stack((vehicle, series, day[at[best] + PULLED], day[at[best] + EITHER_SIDE - 1])),
        jump=jump[best],
    )


def _peaks(at: NDArray[np.int64], cell: NDArray[np.int64], size: NDArray[np.float64]) -> NDArray[np.int64]:
    """Give the largest of each run of neighbours in one series, leaving out those of size 0."""
    order = np.argsort(-size, kind="stable")
    order = order[size[order] > 0]
    taken: dict[int, list[int]] = {}
    best = []
    for row in order.tolist():
        others = taken.setdefault(int(cell[row]), [])
        if all(abs(int(at[row]) - other) >= EITHER_SIDE for other in others):
            others.append(int(at[row]))
            best.append(row)
    return np.array(sorted(best), dtype=np.int64)
