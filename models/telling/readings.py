"""Describe followed series on a day: baseline, level, slope, limit, like vehicles; many at once."""

from dataclasses import dataclass
from math import exp
from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.causes.table import typical_shift
from models.evidence.scan import SHAPES, TEMPLATES
from models.findings import SeriesReading
from models.series import SERIES
from models.telling.forecast import (
    HORIZON_DAYS,
    USUAL_DAYS,
    Outlook,
    Shifts,
    days_to_limit,
    imagine,
    weighted_points,
    with_quiet,
)
from models.telling.onsets import ONSETS, read_onsets, refine
from models.verdict.judge import Verdict
from models.verdict.scene import Scene
from models.verdict.segments import segment_reasons

_RELATIVE: Final = np.array([series.name.startswith("ln ") for series in SERIES])
_TEMPLATE_AGE: Final = np.array([lag for lag, _ in TEMPLATES])
_TEMPLATE_IS_RAMP: Final = np.array([shape == "ramp" for _, shape in TEMPLATES])
_PEERS_AT_LEAST: Final = 8

MOVED: Final = 2.5
"""Standard errors from which a change, rather than the side of the band it stands on, gives the direction."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chosen:
    """Series to describe; n of them, each array of shape (n,).

    Parameters
    ----------
    vehicle, series, template : int64 arrays
        Places of vehicle, series, and of the onset at which the change is read off.
    z, root : float64 arrays
        Standardised change and root information there; 0 where nothing changed.
    """

    vehicle: NDArray[np.int64]
    series: NDArray[np.int64]
    template: NDArray[np.int64]
    z: NDArray[np.float64]
    root: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Described:
    """Numbers of n series.

    Parameters
    ----------
    baseline, shift, low, high : float64 arrays of shape (n,)
        Own normal before the onset, change since, and the sheet's band [series' unit]; NaN where none.
    outlook : Outlook
        Slopes and shifts, n rows.
    days : float64 array of shape (n, M)
        Days until the limit ahead for each sample of the outlook.
    upward : bool array of shape (n,)
    before, since : int64 arrays of shape (n,)
        Readings before and since the onset within the running segment.
    newest : int64 array of shape (n,)
        Day of the newest reading.
    """

    baseline: NDArray[np.float64]
    shift: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    outlook: Outlook
    days: NDArray[np.float64]
    upward: NDArray[np.bool_]
    before: NDArray[np.int64]
    since: NDArray[np.int64]
    newest: NDArray[np.int64]


def watched_shapes(verdict: Verdict, chosen: Chosen) -> tuple[Shifts, Shifts]:
    """Give ramps and steps of n series at `ONSETS` as the watch over the whole fleet saw them."""
    ramps, steps = (
        refine(
            Shifts(
                z=verdict.evidence.z[chosen.vehicle, place :: len(SHAPES), chosen.series],
                root=verdict.evidence.root_information[chosen.vehicle, place :: len(SHAPES), chosen.series],
            )
        )
        for place in range(len(SHAPES))
    )
    return ramps, steps


def told_shapes(scene: Scene, verdict: Verdict, chosen: Chosen) -> tuple[Shifts, Shifts]:
    """Give ramps and steps of n series at `ONSETS`, each reading held against those on both sides.

    Vehicles that follow another depot's fuel than the registered one are left as the watch saw them: only
    its evidence is on that depot's path.
    """
    read = read_onsets(
        scene,
        day=verdict.day,
        start=verdict.start[chosen.vehicle, chosen.series],
        vehicle=chosen.vehicle,
        series=chosen.series,
    )
    away = verdict.elsewhere[chosen.vehicle][:, None]
    ramps, steps = (
        Shifts(z=np.where(away, seen.z, own.z), root=np.where(away, seen.root, own.root))
        for seen, own in zip(watched_shapes(verdict, chosen), read, strict=True)
    )
    return ramps, steps


def describe(
    scene: Scene,
    verdict: Verdict,
    chosen: Chosen,
    shapes: tuple[Shifts, Shifts],
    quiet: NDArray[np.float64] | None = None,
) -> Described:
    """Work the numbers out.

    Parameters
    ----------
    shapes : tuple of (Shifts, Shifts)
        Ramps and steps at `ONSETS`, of n rows: what slopes and their weights are read off.
    quiet : float64 array of shape (n,), optional
        Chance that nothing changed, a candidate beside every onset; 0 by default. The level of a series
        inside its band is then the expected one, and of as many series as a vehicle has most are quiet: a
        few readings do not move one.
    """
    vehicle, series = chosen.vehicle, chosen.series
    group = scene.material.group[vehicle]
    onset = verdict.day - _TEMPLATE_AGE[chosen.template]
    mean, before, since = _own_means(scene, verdict, vehicle, series, onset)
    level = np.where(_RELATIVE[series], 0.0, scene.fit.peers.level[group, series])
    shift = np.where(chosen.root > 0, chosen.z / np.where(chosen.root > 0, chosen.root, 1.0), 0.0)
    outlook = imagine(*shapes, ONSETS, typical_shift()[series] / USUAL_DAYS)
    if quiet is not None:
        outlook = with_quiet(outlook, quiet)
    low, high = scene.bands.low[group, series], scene.bands.high[group, series]
    side = verdict.outside[vehicle, series]
    place = _newest_places(scene, verdict, vehicle, series)
    newest = scene.material.seen.day[place].astype(np.int64)
    shift = shift * _grown_by(newest, onset, chosen.template)
    shift = np.where((side != 0) & (shift == 0), scene.medians.value[place] - level - mean, shift)
    if quiet is not None:
        still = len(SERIES) * quiet / (len(SERIES) * quiet + 1.0 - quiet)
        shift = np.where(side == 0, shift * (1.0 - still), shift)
    upward = np.where((side != 0) & (np.abs(chosen.z) < MOVED), side > 0, shift >= 0)
    baseline = level + mean
    days = days_to_limit(outlook, baseline, low, high, upward)
    return Described(
        baseline=baseline,
        shift=shift,
        low=low,
        high=high,
        outlook=outlook,
        days=np.where((side != 0)[:, None], 0.0, days),
        upward=upward,
        before=before,
        since=since,
        newest=newest,
    )


def _grown_by(
    newest: NDArray[np.int64], onset: NDArray[np.int64], template: NDArray[np.int64]
) -> NDArray[np.float64]:
    """Share of a ramp's shift that the newest reading has seen: silence is not drawn on into the future."""
    share = np.clip((newest - onset) / _TEMPLATE_AGE[template], 0.0, 1.0)
    return np.where(_TEMPLATE_IS_RAMP[template], share, 1.0)


def _newest_places(
    scene: Scene, verdict: Verdict, vehicle: NDArray[np.int64], series: NDArray[np.int64]
) -> NDArray[np.int64]:
    """Place of the newest observation of each series up to the day."""
    newest = scene.fit.history.place(vehicle, series, verdict.day + 1) - 1
    return np.asarray(np.maximum(newest, 0))


def _own_means(
    scene: Scene,
    verdict: Verdict,
    vehicle: NDArray[np.int64],
    series: NDArray[np.int64],
    onset: NDArray[np.int64],
) -> tuple[NDArray[np.float64], NDArray[np.int64], NDArray[np.int64]]:
    """Mean residual before the onset in the running segment, its count, and the count since."""
    history = scene.fit.history
    bounds = (verdict.start[vehicle, series], onset + 1, verdict.day + 1)
    origin, middle, now = (history.place(vehicle, series, bound) for bound in bounds)
    middle = np.maximum(middle, origin)
    count = history.running[middle, 0] - history.running[origin, 0]
    total = history.running[middle, 3] - history.running[origin, 3]
    since = history.running[now, 0] - history.running[middle, 0]
    return total / np.maximum(count, 1), count.astype(np.int64), since.astype(np.int64)


def write_readings(
    scene: Scene, verdict: Verdict, chosen: Chosen, described: Described
) -> tuple[SeriesReading, ...]:
    """Turn the numbers into readings, in the order of `chosen`."""
    outlook = described.outlook
    slope = weighted_points(outlook.slope * 7.0, outlook.weight, (0.1, 0.5, 0.9))
    reach = weighted_points(described.days, outlook.weight, (0.1, 0.5, 0.9))
    peers = scene.fit.peers
    group = scene.material.group[chosen.vehicle]
    offset = np.where(_RELATIVE[chosen.series], peers.level[group, chosen.series], 0.0)
    crowd = peers.count[group, chosen.series]
    peers_low = peers.low[group, chosen.series] - offset
    peers_high = peers.high[group, chosen.series] - offset
    reasons = segment_reasons(scene)
    written = []
    for row, (vehicle, place) in enumerate(zip(chosen.vehicle.tolist(), chosen.series.tolist(), strict=True)):
        series = SERIES[place]
        start = int(verdict.start[vehicle, place])
        onset = verdict.day - int(_TEMPLATE_AGE[chosen.template[row]])
        enough = bool(crowd[row] >= _PEERS_AT_LEAST)
        shown = _Shown(series.log, float(described.baseline[row]))
        margin = verdict.margin[vehicle, place]
        written.append(
            SeriesReading(
                series=series.name,
                parameter=series.parameter,
                state=series.states[0],
                unit=series.unit,
                direction="up" if described.upward[row] else "down",
                baseline=shown.value(described.baseline[row]),
                level=shown.value(described.baseline[row] + described.shift[row]),
                baseline_from=start,
                baseline_to=max(onset, start),
                baseline_days=int(described.before[row]),
                recent_days=int(described.since[row]),
                recent_to=int(described.newest[row]),
                noise=shown.change(scene.fit.noise.sigma[vehicle, place]),
                drift_per_week=shown.change(slope[row, 1]),
                drift_low=shown.change(slope[row, 0]),
                drift_high=shown.change(slope[row, 2]),
                strength=round(float(chosen.z[row]), 3),
                limit_low=None if np.isnan(described.low[row]) else shown.value(described.low[row]),
                limit_high=None if np.isnan(described.high[row]) else shown.value(described.high[row]),
                limit_margin=None if np.isnan(margin) else shown.change(margin),
                outside=bool(verdict.outside[vehicle, place] != 0),
                reaches_limit_on=_day(verdict.day, reach[row, 1]),
                reaches_limit_low=_day(verdict.day, np.floor(reach[row, 0])),
                reaches_limit_high=_day(verdict.day, reach[row, 2]),
                peers_low=shown.value(peers_low[row]) if enough else None,
                peers_high=shown.value(peers_high[row]) if enough else None,
                peers=int(crowd[row]),
                segment_from=start,
                segment_reason=reasons.get((vehicle, start), "first_data"),
            )
        )
    return tuple(written)


@dataclass(frozen=True, slots=True)
class _Shown:
    """Turns what the models hold into the unit as shown, rounded; a change is one at the baseline."""

    log: bool
    baseline: float

    def value(self, held: np.float64) -> float:
        return round(exp(float(held) / 100.0) if self.log else float(held), 4)

    def change(self, held: np.float64) -> float:
        return round(float(held) * exp(self.baseline / 100.0) / 100.0 if self.log else float(held), 4)


def _day(today: int, ahead: np.float64) -> int | None:
    return today + int(np.ceil(ahead)) if ahead <= HORIZON_DAYS else None
