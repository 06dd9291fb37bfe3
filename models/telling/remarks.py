"""Circumstances of a finding worth a sentence, each by its own simple method.

A rank test on weekly medians says whether a method without any model sees the drift too. A resting voltage is
read as a band of charge. The charging voltage's slope on air temperature is put beside what published
regulators do. A reading that cannot be right is named on every finding that rests on it. The cause ranked
first says what this fleet's repairs have added to its share.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.causes.beliefs import learn_beliefs
from models.findings import Finding, SeriesReading, Unusable
from models.learning.fit import Material
from models.physics import resting_charge
from models.series import AIR, COVARIATES, PLACE, SERIES
from models.statistics.grouped import medians_within
from models.statistics.proportion import CauseShift
from models.statistics.serial import robust_autocorrelation, without_bias
from models.statistics.trend import fit_line, mann_kendall, sen_trend
from models.verdict.scene import Scene

WEEKS: Final = 13
"""Weekly medians that the rank test looks at; chosen by us: a quarter of a year."""

LEAST_WEEKS: Final = 6
"""Fewer weeks than this and the rank test has nothing to say; chosen by us."""

RANK_LEVEL: Final = 0.05
"""Two-sided p up to which the rank test sees a drift."""

LEAST_PAIRS: Final = 200
"""Readings of one sheet without which no slope on temperature is given; chosen by us."""

WIDEST: Final = 5.0
"""Width of the slope's 95 % interval above which it is not told [mV / degC]; chosen by us."""

MOVED_PERCENT: Final = 1.0
"""Points by which repairs must have moved a cause's share to be worth a word; chosen by us."""

_RESTING: Final = "VPWR@koeo_soak"
_CHARGING: Final = PLACE["VPWR@warm_idle"]


def charging_slopes(material: Material, fit_day: int) -> NDArray[np.float64]:
    """Fit the slope of the charging voltage at idle on air temperature, pooled over like vehicles.

    Parameters
    ----------
    material : Material
    fit_day : int
        Later readings take no part.

    Returns
    -------
    float64 array of shape (G,)
        [mV / degC]; NaN where too few readings say.
    """
    seen = material.seen
    row = np.flatnonzero((seen.series == _CHARGING) & (seen.day <= fit_day))
    air = seen.covariate(row, np.array([AIR]))[:, 0] * COVARIATES["air_temperature"][1]
    row, air = row[np.isfinite(air)], air[np.isfinite(air)]
    vehicle = seen.vehicle[row]
    count = np.maximum(np.bincount(vehicle, minlength=len(material.group)), 1)
    air = air - (np.bincount(vehicle, air, minlength=len(count)) / count)[vehicle]
    volts = seen.value[row] - (np.bincount(vehicle, seen.value[row], minlength=len(count)) / count)[vehicle]
    slopes = np.full(material.groups, np.nan)
    for group in range(material.groups):
        mine = material.group[vehicle] == group
        if mine.sum() < LEAST_PAIRS:
            continue
        line = fit_line(air[mine], volts[mine])
        low, high = line.interval(0.95)
        if 1000.0 * (high - low) <= WIDEST:
            slopes[group] = 1000.0 * line.slope
    return slopes


def remark(
    scene: Scene,
    findings: Sequence[Finding],
    unusable: Sequence[Unusable],
    slopes: NDArray[np.float64],
    day: int,
) -> tuple[Finding, ...]:
    """Add to every finding what is worth a sentence.

    Parameters
    ----------
    scene : Scene
    findings : sequence of Finding
        Of that day.
    unusable : sequence of Unusable
        Series whose readings cannot be right.
    slopes : float64 array of shape (G,)
        See `charging_slopes`.
    day : int
        Evaluation day [days since 1970-01-01].

    Returns
    -------
    tuple of Finding
        In the same order; drifts that may become tickets are put to the rank test.
    """
    place = {vehicle: number for number, vehicle in enumerate(scene.fleet.vehicles)}
    doubts = {(one.vehicle, one.series): one.reason for one in unusable}
    beliefs = {shift.cause: shift for shift in learn_beliefs(scene.fleet, day)}
    drifts = [one for one in findings if one.rule == "drift" and one.tier == "ticket"]
    ranks = dict(zip((one.vehicle for one in drifts), _rank_tests(scene, place, drifts, day), strict=True))
    written = []
    for one in findings:
        notes = [*one.notes, *ranks.get(one.vehicle, [])]
        slope = slopes[scene.material.group[place[one.vehicle]]]
        for reading in one.series:
            notes += _electrical(reading, float(slope))
            if (one.vehicle, reading.series) in doubts:
                notes.append(f"implausible:{reading.series}:{doubts[one.vehicle, reading.series]}")
        notes += _belief(beliefs, one.causes[0][0])
        written.append(replace(one, notes=tuple(notes)))
    return tuple(written)


def _electrical(reading: SeriesReading, slope: float) -> list[str]:
    if reading.series == _RESTING:
        low, _, high = resting_charge(reading.level)
        return [f"resting_charge:{float(low):.0f}:{float(high):.0f}"]
    if reading.series == SERIES[_CHARGING].name and np.isfinite(slope):
        return [f"charging_slope:{slope:.1f}"]
    return []


def _belief(beliefs: Mapping[str, CauseShift], cause: str) -> list[str]:
    shift = beliefs[cause]
    before, after = 100.0 * shift.before, 100.0 * shift.after
    return [f"belief:{cause}:{before:.0f}:{after:.0f}"] if abs(after - before) >= MOVED_PERCENT else []


def _rank_tests(
    scene: Scene, place: Mapping[str, int], drifts: Sequence[Finding], day: int
) -> list[list[str]]:
    """Test the weekly medians of every leading series for a monotone trend, and its sign by Sen's slope."""
    if not drifts:
        return []
    weekly = _weekly_medians(scene, place, drifts, day)
    weeks, count = np.arange(WEEKS, dtype=np.float64), np.isfinite(weekly).sum(axis=1)
    slope = sen_trend(weeks, weekly).slope
    rest = weekly - slope[:, np.newaxis] * weeks
    test = mann_kendall(weeks, weekly, correlation=without_bias(robust_autocorrelation(rest), count))
    upward = np.array([one.lead.direction == "up" for one in drifts])
    said = np.where((slope > 0) == upward, "rank_agrees", "rank_disagrees")
    said[~(test.p <= RANK_LEVEL)] = "rank_undecided"
    return [[str(code)] if enough else [] for code, enough in zip(said, count >= LEAST_WEEKS, strict=True)]


def _weekly_medians(
    scene: Scene, place: Mapping[str, int], drifts: Sequence[Finding], day: int
) -> NDArray[np.float64]:
    """Give the median adjusted value of each leading series in each of the last weeks within its segment.

    Returns
    -------
    float64 array of shape (n, WEEKS)
        NaN for an empty week.
    """
    seen, history = scene.material.seen, scene.fit.history
    begins = day - 7 * WEEKS + 1
    vehicle = np.array([place[one.vehicle] for one in drifts])
    series = np.array([PLACE[one.lead.series] for one in drifts])
    first = np.array([max(begins, one.lead.segment_from) for one in drifts])
    low, high = (history.place(vehicle, series, edge) for edge in (first, day + 1))
    row = np.concatenate([np.arange(one, other) for one, other in zip(low, high, strict=True)])
    owner = np.repeat(np.arange(len(drifts)), high - low)
    keep = scene.material.usable[row]
    row, owner = row[keep], owner[keep]
    week = owner * WEEKS + (seen.day[row] - begins) // 7
    cells, middle = medians_within(scene.fit.adjusted[row], week)
    found = np.full(len(drifts) * WEEKS, np.nan)
    found[cells] = middle
    return found.reshape(len(drifts), WEEKS)
