"""Load switches that read on more than their drivers would have them on.

A share of readings with a switch on is no level with normal noise, and a compressor that runs on every idle
of a hot month is no fault. So readings are held against the habits of like drivers at such air temperatures
(`models.learning.habits`), the vehicle's own as far as its earlier readings tell it: the evidence of a
stretch of readings is the logarithm of how much better one share of "on", whatever the weather, explains them
than any habit does. "On" in the cold says much; in the heat of a first summer it says next to nothing.

What like vehicles do in the same days counts as well: in a fleet's first heat everybody cools, and no habit
learned before knows it.

A run of "on" without any "off" is weighed for as long as it lasts; one "off" proves that the switch can open.
Stretches of the ages of `models.evidence.scan` stand beside the other series in the directions of the causes.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.causes.table import typical_shift
from models.evidence.history import History
from models.evidence.scan import LAGS, SHAPES, Evidence
from models.learning.fit import Fit, Material
from models.learning.habits import LEAST, MOST, POINTS, PRIOR, Habit, learn_habits, steady_air
from models.series import BOUNDED, SERIES, Observations

TEMPER: Final = 0.85
"""Weight of each reading: a driver's habits hold for days, so readings are worth less; chosen by us."""

BEFORE: Final = 8
"""Readings before a stretch without which the vehicle's own habit is not known; chosen by us."""

LEAST_RUN: Final = 5
"""Readings below which neither a run of "on" nor any other stretch says a thing; chosen by us: a cold spell
with clear windows to keep is three or four idles long."""

TOGETHER_DAYS: Final = 7
"""Days up to a reading in which like vehicles show what is usual now; chosen by us."""

TOGETHER_READINGS: Final = 10.0
"""Readings that the habit is worth beside theirs; chosen by us."""

FRESH_DAYS: Final = 21
"""A run whose newest reading is older than this says nothing of today."""

NEW_DRIVER: Final = 0.005
"""Chance that the vehicle has come to a driver whose habit nobody knows; chosen by us."""

_FAR_APART: Final = 1_000_000
"""More days than any history has: keeps vehicles apart in one sorted key."""

_SWITCHES: Final = np.flatnonzero(BOUNDED)
_ALL_ON: Final = float(np.log(MOST))
_FRESH: Final = np.log(PRIOR) + np.log(NEW_DRIVER)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Runs:
    """Readings of switches against habits; n of them. Sums run over the readings of one vehicle's switch.

    Parameters
    ----------
    row : int64 array of shape (n,)
        Their places among the observations, ascending.
    begun : int64 array of shape (n,)
        Place in `row` of the first reading of the run of "on" that each stands in; one later than its own
        where it is no "on".
    on, usual : float32 arrays of shape (n,)
        Sums of "on" up to and with each reading: as read, and as the mean of like drivers would have it.
    seen, always : float32 arrays of shape (n, points)
        Sums of the log-likelihood under each habit of `POINTS`: of what was read, and had it all been on.
    """

    row: NDArray[np.int64]
    begun: NDArray[np.int64]
    on: NDArray[np.float32]
    usual: NDArray[np.float32]
    seen: NDArray[np.float32]
    always: NDArray[np.float32]


def find_runs(material: Material, fit: Fit) -> Runs:
    """Hold every reading of a switch against the habits that one fit has learned."""
    seen = material.seen
    row = np.flatnonzero(BOUNDED[seen.series])
    part = seen.take(row)
    value, first = part.value, np.diff(part.cell, prepend=-1) != 0
    place = np.arange(len(row))
    start = np.maximum.accumulate(np.where(first, place, 0))
    last_off = np.maximum.accumulate(np.where(value < 1.0, place, np.where(first, place - 1, -1)))
    usual, read, always = _under_habits(material, fit, row, start)
    return Runs(
        row=row,
        begun=last_off + 1,
        on=_sum_within(value[:, None], start)[:, 0],
        usual=usual,
        seen=read,
        always=always,
    )


def _under_habits(
    material: Material, fit: Fit, row: NDArray[np.int64], start: NDArray[np.int64]
) -> tuple[NDArray[np.float32], NDArray[np.float32], NDArray[np.float32]]:
    """Sum what habits say of readings, from the first reading of their switch on: see `Runs`."""
    seen, group = material.seen, material.group
    weather = steady_air(seen, row, len(group))
    habits = learn_habits(seen, row, weather, seen.day[row] <= fit.fit_day, group)
    usual, read = np.empty(len(row), np.float32), np.empty((len(row), len(POINTS)), np.float32)
    always = np.empty_like(read)
    habit = np.empty(len(row))
    for rows in seen.blocks(len(group)):
        low, high = np.searchsorted(row, (rows.start, rows.stop))
        habit[low:high] = _chances(seen, row[low:high], weather[low:high], group, habits) @ PRIOR
    together = _shared_shift(seen.take(row), group, habit)
    for rows in seen.blocks(len(group)):
        low, high = np.searchsorted(row, (rows.start, rows.stop))
        part = row[low:high]
        value = seen.value[part][:, None]
        chance = _chances(seen, part, weather[low:high], group, habits)
        odds = chance / (1.0 - chance) * np.exp(together[low:high])[:, None]
        chance = np.minimum(odds / (1.0 + odds), MOST)
        begin = start[low:high] - low
        usual[low:high] = _sum_within((chance @ PRIOR)[:, None], begin)[:, 0]
        read[low:high] = _sum_within(value * np.log(chance) + (1 - value) * np.log1p(-chance), begin)
        always[low:high] = _sum_within(np.log(chance), begin)
    return usual, read, always


def _chances(
    seen: Observations,
    row: NDArray[np.int64],
    air: NDArray[np.float64],
    group: NDArray[np.int32],
    habits: Mapping[tuple[int, int], Habit],
) -> NDArray[np.float64]:
    """Give the chance of "on" of some readings by each habit of `POINTS`, shape (len(row), points)."""
    chance = np.empty((len(row), len(POINTS)))
    like, series = group[seen.vehicle[row]], seen.series[row]
    for (place, number), habit in habits.items():
        mine = (like == place) & (series == number)
        chance[mine] = habit.chances(air[mine])
    return chance


def _shared_shift(
    part: Observations, group: NDArray[np.int32], usual: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Give how much more than their habits the other like vehicles switch on in the days up to each reading.

    The first heat of a fleet's history is weather in which nobody's habit is known yet. Of n readings of
    switches, shape (n,) [logit]; 0 where they do as usual or less, or where there are none.
    """
    if not len(part):
        return np.empty(0)
    first, days = int(part.day.min()), int(np.ptp(part.day)) + 1
    like = group[part.vehicle].astype(np.int64) * len(SERIES) + part.series
    cells, number = np.unique(like, return_inverse=True)
    place = number * days + part.day - first
    key = part.cell * np.int64(_FAR_APART) + part.day
    begins, ends = (np.searchsorted(key, key - ago, side="right") for ago in (TOGETHER_DAYS, 0))

    def of_others(weight: NDArray[np.float64]) -> NDArray[np.float64]:
        daily = np.bincount(place, weight, minlength=len(cells) * days).reshape(len(cells), days)
        run = np.cumsum(daily, axis=1)
        run[:, TOGETHER_DAYS:] -= run[:, :-TOGETHER_DAYS].copy()
        mine = np.concatenate(([0.0], np.cumsum(weight)))
        return np.asarray(np.maximum(run.ravel()[place] - (mine[ends] - mine[begins]), 0.0))

    count, on, expected = of_others(np.ones(len(part))), of_others(part.value), of_others(usual)
    rest = TOGETHER_READINGS
    share, wont = (np.clip((sum_ + rest * usual) / (count + rest), LEAST, MOST) for sum_ in (on, expected))
    shift = np.log(share / (1.0 - share)) - np.log(wont / (1.0 - wont))
    return np.asarray(np.maximum(shift, 0.0))


def _sum_within(value: NDArray[np.float64], start: NDArray[np.int64]) -> NDArray[np.float32]:
    """Run sums down the rows, each from the row at which its switch starts."""
    running = np.concatenate((np.zeros((1, value.shape[1])), np.cumsum(value, axis=0)))
    return (running[1:] - running[start]).astype(np.float32)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Stretch:
    """Stretches of readings of n vehicles' switches, each array of shape (..., n, switches).

    Parameters
    ----------
    count, before : float64 arrays
        Readings of the stretch, and of the segment before it.
    nats : float64 array
        How much better than habits one share of "on" explains them; 0 where no more is on than usual.
    most : float64 array
        The same had all of them been on.
    """

    count: NDArray[np.float64]
    before: NDArray[np.float64]
    nats: NDArray[np.float64]
    most: NDArray[np.float64]


def _weigh(
    runs: Runs,
    origin: NDArray[np.int64],
    low: NDArray[np.int64],
    now: NDArray[np.int64],
    cell: NDArray[np.int64],
) -> _Stretch:
    """Weigh the readings from place `low` up to, not including, `now`; habits are known from `origin` on.

    Places in `runs.row`; `cell` is that of the switch's very first reading.
    """

    def up_to(sums: NDArray[np.float32], place: NDArray[np.int64]) -> NDArray[np.float64]:
        found: NDArray[np.float64] = sums[np.maximum(place - 1, 0)].astype(np.float64)
        found[place <= cell] = 0.0
        return found

    own = np.log(PRIOR) + up_to(runs.seen, low) - up_to(runs.seen, origin)
    read = up_to(runs.seen, now) - up_to(runs.seen, low)
    always = up_to(runs.always, now) - up_to(runs.always, low)
    count, on = (now - low).astype(np.float64), up_to(runs.on, now) - up_to(runs.on, low)
    usual = up_to(runs.usual, now) - up_to(runs.usual, low)
    share = np.clip(on / np.maximum(count, 1.0), LEAST, MOST)
    likelihood = on * np.log(share) + (count - on) * np.log1p(-share)
    own -= _log_sum(own)[..., None]
    return _Stretch(
        count=count,
        before=(low - origin).astype(np.float64),
        nats=np.where(on > usual, TEMPER * np.maximum(likelihood - _expected(own, read), 0.0), 0.0),
        most=TEMPER * np.maximum(count * _ALL_ON - _expected(own, always), 0.0),
    )


def _expected(own: NDArray[np.float64], fits: NDArray[np.float64]) -> NDArray[np.float64]:
    """Log-likelihood under the vehicle's own habit or that of a driver nobody knows: the larger."""
    better: NDArray[np.float64] = np.maximum(_log_sum(own + fits), _log_sum(_FRESH + fits))
    return better


def _log_sum(x: NDArray[np.float64]) -> NDArray[np.float64]:
    """Logarithm of the sum of exponentials along the last axis; numpy's own is ten times slower."""
    top = x.max(axis=-1)
    found: NDArray[np.float64] = top + np.log(np.exp(x - top[..., None]).sum(axis=-1))
    return found


def stuck_on(
    material: Material, history: History, runs: Runs, *, day: int, start: NDArray[np.int32]
) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
    """Give the evidence of each vehicle's loudest run of "on" on a day and when it began.

    Parameters
    ----------
    start : int32 array of shape (V, S)
        First day of each running segment: a run from before a repair says nothing of after it.

    Returns
    -------
    nats : float64 array of shape (V,)
    begun : int32 array of shape (V,)
    """
    if not len(runs.row):
        return np.zeros(len(start)), np.zeros(len(start), np.int32)
    seen = material.seen
    cell, origin, now = _places(runs, history, start, np.arange(len(start)), day)
    newest = np.maximum(now - 1, 0)
    low = np.where(now > origin, runs.begun[newest], now)
    found = _weigh(runs, origin, low, now, cell)
    speaks = (found.count >= LEAST_RUN) & (low >= origin) & (found.before >= BEFORE)
    speaks &= seen.day[runs.row[newest]] > day - FRESH_DAYS
    nats = np.where(speaks, found.nats, 0.0)
    best = nats.argmax(axis=1)
    row = np.arange(len(nats))
    begun = seen.day[runs.row[np.minimum(low[row, best], len(runs.row) - 1)]]
    return nats[row, best], np.where(nats[row, best] > 0, begun, 0).astype(np.int32)


def _places(
    runs: Runs, history: History, start: NDArray[np.int32], rows: NDArray[np.int64], day: int
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Give places in `runs.row` of the first reading, the segment's first, and one after the newest."""
    cell = history.begins[rows][:, _SWITCHES]
    origin = history.before(start, rows)[:, _SWITCHES]
    now = history.before(day + 1, rows)[:, _SWITCHES]
    return (
        np.searchsorted(runs.row, cell),
        np.searchsorted(runs.row, origin),
        np.searchsorted(runs.row, now),
    )


def hear_switches(
    evidence: Evidence,
    history: History,
    runs: Runs,
    *,
    day: int,
    start: NDArray[np.int32],
    rows: NDArray[np.int64],
    least: int = LEAST_RUN,
) -> Evidence:
    """Put what switches say in its place beside the other series.

    Parameters
    ----------
    evidence : Evidence
        Of the vehicles in `rows`, in which switches are silent.
    day : int
    start : int32 array of shape (n, S)
    rows : int64 array of shape (n,)
    least : int
        Readings below which a stretch says nothing.

    Returns
    -------
    Evidence
        z is the root of twice the nats, root information what it would be had every reading been on.
    """
    if not len(runs.row):
        return evidence
    z, root = evidence.z.copy(), evidence.root_information.copy()
    cell, origin, now = _places(runs, history, start, rows, day)
    ages = np.array(LAGS)[:, None, None]
    first = history.place(rows[None, :, None], _SWITCHES[None, None, :], day - ages + 1)
    low = np.clip(np.searchsorted(runs.row, first), origin, now)
    found = _weigh(runs, origin, low, now, cell)
    speaks = (found.count >= least) & (found.before >= BEFORE)
    size = np.where(speaks, np.sqrt(2.0 * found.nats), 0.0)
    reach = np.where(speaks, np.sqrt(2.0 * found.most), 0.0) / typical_shift()[_SWITCHES]
    for shape in range(len(SHAPES)):
        z[:, shape :: len(SHAPES), _SWITCHES] = size.transpose(1, 0, 2)
        root[:, shape :: len(SHAPES), _SWITCHES] = reach.transpose(1, 0, 2)
    return replace(evidence, z=z, root_information=root)
