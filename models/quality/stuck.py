"""A sensor that says the same day after day: it, or the logger, is at fault, not the engine.

Only quantities that no sound vehicle holds still are judged: temperatures, pressure, air flow and voltages.
Trims may rest at what was learned, idle speed at its target, a closed throttle at its stop, a load input at
off: these are left alone. How often two days in a row agree by chance depends on the sensor's step and on
how a logger rounds; that is counted on each vehicle's own earlier days: coarse steps need longer runs.

A sensor that stood still from the first reading on has no earlier days. The fleet stands in for them: what
the coarsest loggers beside it show in that state. And it must say the same in every other state too: a true
quantity differs between a cold and a warm engine, at idle and under way, whatever a logger rounds to, while
what is stuck is stuck in all. Read in a single state only, none but the temperatures after a soak are
judged: they follow the weather.

A finding that such a series leads is held back, unless it blames the sensor.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import log
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import COLUMN, STATES
from models.findings import Finding, Unusable
from models.panel import Daily, Fleet
from models.series import SERIES

JUDGED: Final = ("ECT", "IAT", "AAT", "MAP", "MAF", "VPWR", "CRANK_VMIN")
"""Parameters that never stand still on a sound vehicle; chosen by us, see above."""

LEAST_RUN: Final = 20
"""Days in a row with the same value; chosen by us: a month of ordinary driving."""

LEAST_PAIRS: Final = 20
"""Earlier pairs of days that tell how often two agree by chance; chosen by us."""

COARSE_SHARE: Final = 0.95
"""The share of agreeing days that one in twenty vehicles passes stands for a coarse logger; chosen by us."""

LEAST_PEERS: Final = 8
"""Other vehicles that tell how coarse loggers are; chosen by us, as of like vehicles."""

LEAST_ELSEWHERE: Final = 5
"""Days with the same value in another state, without which nothing is said of one that never moved; chosen
by us: no single reading condemns a sensor."""

RAREST: Final = 1e-9
"""Chance of such a run on a sound vehicle; chosen by us: 5,000 vehicles give some million runs a year."""

FRESH_DAYS: Final = 28
"""A run whose newest day is older says nothing of today; chosen by us."""

WEATHERED: Final = frozenset((COLUMN[code], STATES.index("koeo_soak")) for code in ("ECT", "IAT", "AAT"))
"""What follows the weather, by parameter and state: it needs no other state beside it."""

SENSORS: Final = frozenset(
    ("coolant_sensor_bias", "air_sensor_bias", "map_sensor_bias", "air_meter_low", "oxygen_sensor_slow")
)
"""Causes that blame a sensor."""

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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Lines:
    """Daily values of one parameter, n of them by cell (vehicle and state) and day.

    Parameters
    ----------
    column : int
        Place of the parameter.
    cell, day, value : arrays of shape (n,)
        `cell` is vehicle times the number of states plus state.
    pairs : int64 array of shape (n,)
        Pairs of days before the run that a row belongs to.
    share : float64 array of shape (n,)
        Share of those that agreed, one agreeing and one other pair added.
    run : int64 array of shape (n,)
        Length of the run up to each row.
    """

    column: int
    cell: NDArray[np.int64]
    day: NDArray[np.int64]
    value: NDArray[np.float64]
    pairs: NDArray[np.int64]
    share: NDArray[np.float64]
    run: NDArray[np.int64]


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
    too_long |= _never_moved(
        _Lines(column=column, cell=cell, day=day, value=value, pairs=pairs, share=share, run=run)
    )
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


def _never_moved(lines: _Lines) -> NDArray[np.bool_]:
    """Tell which rows end a run that has lasted since the first readings and is too long for chance."""
    found = np.zeros(len(lines.cell), dtype=np.bool_)
    coarse: dict[tuple[int, int], float] = {}
    for row in np.flatnonzero((lines.run >= LEAST_RUN) & (lines.pairs < LEAST_PAIRS)).tolist():
        state, day = int(lines.cell[row]) % len(STATES), int(lines.day[row])
        if not _stands_elsewhere(lines, row):
            continue
        if (state, day) not in coarse:
            coarse[state, day] = _coarse_share(lines, state, day)
        share = max(coarse[state, day], float(lines.share[row]) if lines.pairs[row] else 0.0)
        found[row] = (lines.run[row] - 1) * np.log(share) < log(RAREST)
    return found


def _stands_elsewhere(lines: _Lines, row: int) -> bool:
    """Tell whether the vehicle's other states say the same too, as long as the run lasts."""
    vehicle, day = lines.cell[row] // len(STATES), lines.day[row]
    begun = lines.day[row - lines.run[row] + 1]
    own = slice(*np.searchsorted(lines.cell, (vehicle * len(STATES), (vehicle + 1) * len(STATES))))
    beside = (lines.cell[own] != lines.cell[row]) & (lines.day[own] >= begun) & (lines.day[own] <= day)
    enough = int(beside.sum()) >= LEAST_ELSEWHERE
    alone = not beside.any() and (lines.column, int(lines.cell[row]) % len(STATES)) in WEATHERED
    return alone or (enough and bool((lines.value[own][beside] == lines.value[row]).all()))


def _coarse_share(lines: _Lines, state: int, day: int) -> float:
    """Give the share of agreeing days of coarse loggers in a state by a day; NaN where too few tell."""
    here = np.flatnonzero((lines.cell % len(STATES) == state) & (lines.day <= day))
    last = here[np.r_[lines.cell[here][1:] != lines.cell[here][:-1], True][: len(here)]]
    told = lines.share[last[lines.pairs[last] >= LEAST_PAIRS]]
    return float(np.quantile(told, COARSE_SHARE)) if len(told) >= LEAST_PEERS else np.nan


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


def hold_back(findings: Iterable[Finding], unusable: Iterable[Unusable]) -> tuple[Finding, ...]:
    """Hold back what a series that stands still says of the engine; what blames a sensor may speak.

    Parameters
    ----------
    findings : iterable of Finding
    unusable : iterable of Unusable
        Those with the reason `unchanged` count.

    Returns
    -------
    tuple of Finding
        In the same order.
    """
    still = {(one.vehicle, one.series) for one in unusable if one.reason == REASON}
    return tuple(
        replace(one, held_back=REASON)
        if (one.vehicle, one.lead.series) in still and one.causes[0][0] not in SENSORS and not one.held_back
        else one
        for one in findings
    )


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
