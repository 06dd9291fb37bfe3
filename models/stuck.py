"""A sensor that says the same day after day: it, or the logger, is at fault, not the engine.

Only quantities that no sound vehicle holds still are judged: temperatures, pressure, air flow and voltages.
Trims may rest at what was learned, idle speed at its target, a closed throttle at its stop, a load input at
off: these are left alone. How often two days in a row agree by chance depends on the sensor's step and on
how a logger rounds; that is counted on each vehicle's own earlier days: coarse steps need longer runs.
A sensor that never moved since the first reading has no earlier days, and is not found here.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from math import log
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import COLUMN, STATES
from models.findings import Unusable
from models.panel import Daily, Fleet
from models.series import SERIES

JUDGED: Final = ("ECT", "IAT", "AAT", "MAP", "MAF", "VPWR", "CRANK_VMIN")
"""Parameters that never stand still on a sound vehicle; chosen by us, see above."""

LEAST_RUN: Final = 20
"""Days in a row with the same value; chosen by us: a month of ordinary driving."""

LEAST_PAIRS: Final = 20
"""Earlier pairs of days that tell how often two agree by chance; chosen by us."""

RAREST: Final = 1e-9
"""Chance of such a run on a sound vehicle; chosen by us: 5,000 vehicles give some million runs a year."""

FRESH_DAYS: Final = 28
"""A run whose newest day is older says nothing of today; chosen by us."""

REASON: Final = "unchanged"
"""Code of what is found."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Runs:
    """Runs of equal daily values that are too long for chance; n of them.

    Parameters
    ----------
    vehicle, state, column : int64 arrays of shape (n,)
        Places in `fleet.vehicles`, `parameters.STATES` and `parameters.CODES`.
    since : int64 array of shape (n,)
        Day on which the run had become too long.
    last, changed : int64 arrays of shape (n,)
        Newest day of the run, and the day of the first other value; the latter far ahead where none came.
    """

    vehicle: NDArray[np.int64]
    state: NDArray[np.int64]
    column: NDArray[np.int64]
    since: NDArray[np.int64]
    last: NDArray[np.int64]
    changed: NDArray[np.int64]


def find_stuck(daily: Daily) -> Runs:
    """Find the runs, once for all days; what is said of a day rests on values up to it only.

    Parameters
    ----------
    daily : Daily
        Missing values end no run.

    Returns
    -------
    Runs
    """
    found = [_runs_of(daily, COLUMN[code]) for code in JUDGED]
    return Runs(**{name: np.concatenate([getattr(one, name) for one in found]) for name in Runs.__slots__})


def _runs_of(daily: Daily, column: int) -> Runs:
    row = np.flatnonzero(np.isfinite(daily.values[:, column]))
    cell = daily.vehicle[row].astype(np.int64) * len(STATES) + daily.state[row]
    row = row[np.lexsort((daily.day[row], cell))]
    cell = daily.vehicle[row].astype(np.int64) * len(STATES) + daily.state[row]
    value, day = daily.values[row, column], daily.day[row].astype(np.int64)
    place = np.arange(len(row))
    new_cell = np.r_[True, cell[1:] != cell[:-1]][: len(row)]
    equal = np.r_[False, value[1:] == value[:-1]][: len(row)] & ~new_cell
    begins = np.maximum.accumulate(np.where(new_cell, place, 0)) if len(row) else place
    starts = np.maximum.accumulate(np.where(equal, 0, place)) if len(row) else place
    agreed = np.cumsum(equal)
    pairs = starts - begins
    # One agreeing and one other pair are added, so that no share is 0 or 1.
    share = (agreed[starts] - agreed[begins] + 1.0) / (pairs + 2.0) if len(row) else np.empty(0)
    run = place - starts + 1
    too_long = (run >= LEAST_RUN) & (pairs >= LEAST_PAIRS) & ((run - 1) * np.log(share) < log(RAREST))
    first = np.flatnonzero(too_long & ~(np.r_[False, too_long[:-1]][: len(row)] & equal))
    ends = np.flatnonzero(np.r_[~equal[1:], True][: len(row)])
    end = ends[np.searchsorted(ends, first)]
    after = np.minimum(end + 1, max(len(row) - 1, 0))
    ended = (end + 1 < len(row)) & (cell[after] == cell[end])
    return Runs(
        vehicle=cell[first] // len(STATES),
        state=cell[first] % len(STATES),
        column=np.full(len(first), column),
        since=day[first],
        last=day[end],
        changed=np.where(ended, day[after], np.iinfo(np.int64).max),
    )


def unchanged(fleet: Fleet, runs: Runs, day: int) -> tuple[Unusable, ...]:
    """Say which series rest on a value that has stood still for too long.

    Parameters
    ----------
    fleet : Fleet
    runs : Runs
        Of its daily values.
    day : int
        Evaluation day [days since 1970-01-01].

    Returns
    -------
    tuple of Unusable
        By vehicle and series, with the reason `unchanged`.
    """
    now = (runs.since <= day) & (day < runs.changed) & (day <= runs.last + FRESH_DAYS)
    found = {
        (fleet.vehicles[runs.vehicle[place]], series)
        for place in np.flatnonzero(now).tolist()
        for series in _series_of(int(runs.column[place]), int(runs.state[place]))
    }
    return tuple(Unusable(vehicle=vehicle, series=series, reason=REASON) for vehicle, series in sorted(found))


def _series_of(column: int, state: int) -> Sequence[str]:
    return _SERIES.get((column, state), ())


def _by_parameter() -> dict[tuple[int, int], list[str]]:
    found: dict[tuple[int, int], list[str]] = defaultdict(list)
    for series in SERIES:
        formula = series.name.rpartition("@")[0]
        for code in JUDGED:
            if code in formula.replace("ln ", "").replace("/", "-").split("-"):
                for state in series.states:
                    found[COLUMN[code], STATES.index(state)].append(series.name)
    return dict(found)


_SERIES: Final = _by_parameter()
"""Series in whose formula a parameter stands, by its place and the state's."""
