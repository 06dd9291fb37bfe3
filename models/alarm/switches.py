"""A load switch that never reads off: runs of "on" weighed against how often such a switch is on.

A share of readings with a switch on is no level with normal noise. Here every reading of "on" since the
last "off" is worth log(1 / p) nats, where p is the larger of two expectations: what like vehicles do in that
weather, and what the vehicle itself did before the run. One "off" proves that the switch can open, and ends
the run.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.evidence.history import History
from models.learning.fit import Fit, Material
from models.series import SERIES

TEMPER: Final = 0.85
"""Weight of each reading: a driver's habits hold for days, so readings are worth less; chosen by us."""

BEFORE: Final = 8
"""Readings before the run without which the vehicle's own habit is not known; chosen by us."""

FRESH_DAYS: Final = 21
"""A run whose newest reading is older than this says nothing of today."""

_LEAST: Final = 0.02
_MOST: Final = 0.97
_BOUNDED: Final = np.array([series.bounded for series in SERIES])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Runs:
    """Evidence of the run that each reading of a switch stands in; n of them.

    Parameters
    ----------
    row : int64 array of shape (n,)
        Their places among the observations, ascending.
    nats : float64 array of shape (n,)
    begun : int32 array of shape (n,)
        Day of the run's first reading; 0 without evidence.
    """

    row: NDArray[np.int64]
    nats: NDArray[np.float64]
    begun: NDArray[np.int32]


def find_runs(material: Material, fit: Fit) -> Runs:
    """Weigh every run of "on", using only readings up to each observation."""
    seen = material.seen
    row = np.flatnonzero(_BOUNDED[seen.series])
    if not len(row):
        return Runs(row=row, nats=np.empty(0), begun=np.empty(0, np.int32))
    value = seen.value[row]
    expected = _expected(material, fit, row)
    cell = seen.vehicle[row].astype(np.int64) * len(SERIES) + seen.series[row]
    first = np.diff(cell, prepend=-1) != 0
    place = np.arange(len(row))
    start = np.maximum.accumulate(np.where(first, place, 0))
    last_off = np.maximum.accumulate(np.where(value < 1.0, place, np.where(first, place - 1, -1)))
    before = last_off + 1 - start
    on = np.concatenate(([0.0], np.cumsum(value)))
    own = (on[last_off + 1] - on[start] + 1.0) / (before + 2.0)
    worth = np.where(value >= 1.0, TEMPER * np.log(1.0 / np.maximum(expected, np.minimum(own, _MOST))), 0.0)
    total = np.cumsum(worth)
    base = np.where(last_off >= start, total[np.maximum(last_off, 0)], 0.0)
    nats = np.where((before >= BEFORE) & (value >= 1.0), total - base, 0.0)
    begun = np.where(nats > 0, seen.day[row][np.minimum(last_off + 1, len(row) - 1)], 0)
    return Runs(row=row, nats=nats, begun=begun.astype(np.int32))


def _expected(material: Material, fit: Fit, row: NDArray[np.int64]) -> NDArray[np.float64]:
    """Share of "on" that like vehicles show in the weather and season of each reading."""
    seen = material.seen
    like = material.group[seen.vehicle[row]].astype(np.int64) * len(SERIES) + seen.series[row]
    taught = seen.day[row] <= fit.fit_day
    size = material.groups * len(SERIES)
    total = np.bincount(like[taught], fit.adjusted[row][taught], minlength=size)
    mean = total / np.maximum(np.bincount(like[taught], minlength=size), 1)
    return np.asarray(np.clip(seen.value[row] - fit.adjusted[row] + mean[like], _LEAST, _MOST))


def stuck_on(
    material: Material, history: History, runs: Runs, *, day: int, start: NDArray[np.int32]
) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
    """Give the evidence of each vehicle's longest-standing run on a day and when it began.

    Parameters
    ----------
    start : int32 array of shape (V, S)
        First day of each running segment: a run from before a repair says nothing of after it.

    Returns
    -------
    nats : float64 array of shape (V,)
    begun : int32 array of shape (V,)
    """
    if not len(runs.nats):
        return np.zeros(len(start)), np.zeros(len(start), np.int32)
    switches = np.flatnonzero(_BOUNDED)
    newest = history.before(day + 1)[:, switches] - 1
    known = newest >= history.before(start)[:, switches]
    known &= material.seen.day[np.maximum(newest, 0)] > day - FRESH_DAYS
    place = np.where(known, np.searchsorted(runs.row, newest), 0)
    known &= runs.begun[place] >= start[:, switches]
    nats = np.where(known, runs.nats[place], 0.0)
    best = nats.argmax(axis=1)
    row = np.arange(len(nats))
    return nats[row, best], np.where(nats[row, best] > 0, runs.begun[place[row, best]], 0)
