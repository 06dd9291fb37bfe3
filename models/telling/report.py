"""From numbers to findings: which series speak, what caused it, what may come of it."""

from dataclasses import dataclass
from math import exp, log
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import CAUSES
from models.causes.beliefs import believed_shares
from models.causes.rank import rank_causes
from models.causes.table import groups, typical_shift
from models.evidence.scan import TEMPLATES
from models.findings import Finding, SeriesReading
from models.series import NAMES, PLACE, SERIES
from models.telling.readings import Chosen, Described, describe, told_shapes, write_readings
from models.verdict.judge import Verdict, listen
from models.verdict.scene import Scene

METHOD: Final = "direction likelihood ratio 1"
"""Name and version of the method, on every finding."""

SPEAKS: Final = 2.5
"""Standard errors beyond which a series is listed as moved."""

QUIET: Final = 2.0
"""Standard errors below which a series is listed as looked at and quiet."""

FEW_ON: Final = 3
"""Readings from which a stretch of a switch takes part in naming: the onset at which the pattern is read may
lie within the run that raised the ticket; chosen by us."""

FEW: Final = (1, 1)
"""Days with readings since the onset, and before it, that suffice to speak for one cause against another."""

FAULTS_PER_100_MONTHS: Final = 0.29
"""Real faults per 100 vehicle-months, about one in 350; sets how far a ticket at its level is believed."""

TASTE_SPREAD: Final = 0.2
"""Scale of the logistic spread, in log size, of what bothers a driver; chosen by us: about a third."""

NOTICED: Final = 0.3
"""Chance that a driver notices a fault within the horizon however small it looks; chosen by us."""

CURVE_OFFSET: Final = -0.5
CURVE_SLOPE: Final = 0.87
"""Two-parameter calibration of the stated probability, rounded: measured on 782 statements of tuning seeds 1
to 4, half the weight on faults at their usual pace (alone 0.06 and 0.78), half on the same at half of it
(-1.0 and 0.87)."""

_MOST_CERTAIN: Final = 0.98
_CROSSED: Final = 0.95
_CROSSED_IS_FAULT: Final = 0.6
_UNLIMITED: Final = 0.8
_GROUP_OF_PARAMETER: Final = {
    "LONGFT1": "mixture", "LONGFT2": "mixture", "SHRTFT1": "mixture", "SHRTFT2": "mixture", "MAF": "mixture",
    "LOAD_ABS": "mixture", "INJ_PW": "mixture", "IAC": "idle", "IAC_COUNTS": "idle", "TAC_PCT": "idle",
    "TP": "idle", "RPM": "idle", "MAP": "idle", "VPWR": "charging", "CRANK_VMIN": "charging",
    "ECT": "temperature", "IAT": "temperature",
}  # fmt: skip
_IDLE_AIR: Final = [
    PLACE[f"{code}@warm_idle"] for code in ("IAC", "IAC_COUNTS", "TAC_PCT", "TP", "MAP", "RPM")
]
_LIMITED: Final = np.array([series.limited for series in SERIES])
_NAMED: Final = np.array([series.parameter != "" for series in SERIES])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Cases:
    """Vehicles worth a finding; n of them."""

    vehicle: NDArray[np.int64]
    drifts: NDArray[np.bool_]
    z: NDArray[np.float64]
    root: NDArray[np.float64]
    causes: NDArray[np.float64]


def report(scene: Scene, verdict: Verdict) -> tuple[Finding, ...]:
    """Write a finding for every vehicle past the watch level or outside its sheet's band, by vehicle."""
    cases = _open_cases(scene, verdict)
    if not len(cases.vehicle):
        return ()
    spoken = [_speaking(verdict, cases, row) for row in range(len(cases.vehicle))]
    row_of = np.repeat(np.arange(len(spoken)), [len(places) for places in spoken])
    place = np.concatenate([np.array(places, np.int64) for places in spoken])
    chosen = Chosen(
        vehicle=cases.vehicle[row_of],
        series=place,
        template=verdict.template[cases.vehicle[row_of]],
        z=np.where(cases.drifts[row_of], cases.z[row_of, place], 0.0),
        root=np.where(cases.drifts[row_of], cases.root[row_of, place], 0.0),
    )
    described = describe(scene, verdict, chosen, told_shapes(scene, verdict, chosen))
    readings = write_readings(scene, verdict, chosen, described)
    crossing = _crossing(described, scene.wish.horizon_days)
    grown = _grown(described, place, scene.wish.horizon_days)
    first = np.flatnonzero(np.diff(row_of, prepend=-1))
    return tuple(
        _finding(
            scene,
            verdict,
            cases,
            row,
            readings[start : start + len(spoken[row])],
            crossing=float(crossing[start : start + len(spoken[row])].max()),
            grown=float(grown[start]),
            spoken=spoken[row],
        )
        for row, start in enumerate(first.tolist())
    )


def _open_cases(scene: Scene, verdict: Verdict) -> _Cases:
    crossed = (verdict.outside != 0).any(axis=1)
    chosen = np.flatnonzero((verdict.score >= scene.levels.watch) | crossed)
    drifts = verdict.score[chosen] >= scene.levels.watch
    z = np.where(drifts[:, None], verdict.evidence.z[chosen, verdict.template[chosen]], 0.0)
    root = np.where(drifts[:, None], verdict.evidence.root_information[chosen, verdict.template[chosen]], 0.0)
    against = _against_peers(scene, verdict, chosen[~drifts])
    z[~drifts], root[~drifts] = against
    causes = np.zeros((len(chosen), len(CAUSES)))
    prior = believed_shares(scene.fleet, verdict.day)
    all_z, all_root = _with_few_readings(scene, verdict, chosen, drifts, z, root)
    for group, table in enumerate(scene.naming):
        mine = np.flatnonzero(scene.material.group[chosen] == group)
        if len(mine):
            causes[mine] = rank_causes(all_z[mine], all_root[mine], table, prior)
    return _Cases(vehicle=chosen, drifts=drifts, z=z, root=root, causes=causes)


def _with_few_readings(
    scene: Scene,
    verdict: Verdict,
    vehicle: NDArray[np.int64],
    drifts: NDArray[np.bool_],
    z: NDArray[np.float64],
    root: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Let series speak whose few readings raise no ticket: between causes even one reading may decide.

    Vehicles without a drift, and those on another depot's path, keep what was weighed for the verdict.
    """
    rows = np.flatnonzero(drifts & ~verdict.elsewhere[vehicle])
    if not len(rows):
        return z, root
    who = vehicle[rows]
    heard = listen(scene, day=verdict.day, start=verdict.start, rows=who, least=FEW, run=FEW_ON)
    place, template = np.arange(len(who)), verdict.template[who]
    z, root = z.copy(), root.copy()
    z[rows], root[rows] = heard.z[place, template], heard.root_information[place, template]
    return z, root


def _against_peers(
    scene: Scene, verdict: Verdict, vehicle: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Standardise the level since the segment began against like vehicles, where nothing drifted."""
    history = scene.fit.history
    now = history.before(verdict.day + 1, vehicle)
    origin = history.before(verdict.start[vehicle], vehicle)
    count = history.running[now, 0] - history.running[origin, 0]
    total = history.running[now, 3] - history.running[origin, 3]
    spread = scene.fit.peers.spread[scene.material.group[vehicle]]
    known = (count >= 7) & np.isfinite(spread)
    root = np.where(known, 1.0 / np.where(np.isfinite(spread), spread, 1.0), 0.0)
    return total / np.maximum(count, 1) * root, root


def _speaking(verdict: Verdict, cases: _Cases, row: int) -> list[int]:
    """Order the series that moved, loudest first; the first one can stand in an export by its parameter."""
    z, root = cases.z[row], cases.root[row]
    outside = verdict.outside[cases.vehicle[row]]
    loudness = np.abs(z) * np.where(_LIMITED, 1.0, _UNLIMITED) + np.where(outside != 0, SPEAKS, 0.0)
    loudness = np.where(_NAMED & ((root > 0) | (outside != 0)), loudness, -1.0)
    order = np.argsort(-loudness, kind="stable")
    moved = [int(place) for place in order if loudness[place] >= SPEAKS]
    if moved:
        return moved
    switched = [place for place in _IDLE_AIR if root[place] > 0]
    return [switched[0] if switched else int(order[0])]


def _finding(
    scene: Scene,
    verdict: Verdict,
    cases: _Cases,
    row: int,
    readings: tuple[SeriesReading, ...],
    *,
    crossing: float,
    grown: float,
    spoken: list[int],
) -> Finding:
    vehicle = int(cases.vehicle[row])
    shares = cases.causes[row]
    order = [int(place) for place in np.argsort(-shares, kind="stable")]
    crossed = bool((verdict.outside[vehicle] != 0).any())
    score = float(verdict.score[vehicle])
    strong = score >= scene.levels.ticket
    fault = _probability_fault(score, scene, crossed=crossed)
    crossing = _CROSSED if crossed else crossing
    return Finding(
        vehicle=scene.fleet.vehicles[vehicle],
        group=groups()[order[0]] or _GROUP_OF_PARAMETER.get(readings[0].parameter, "unknown"),
        tier="ticket" if strong or crossed else "watch",
        rule="limit" if crossed and not strong else "drift",
        method=METHOD,
        score=round(score, 4),
        ticket_level=round(scene.levels.ticket, 4),
        watch_level=round(scene.levels.watch, 4),
        onset_day=verdict.day - TEMPLATES[int(verdict.template[vehicle])][0],
        causes=tuple((CAUSES[place], round(float(shares[place]), 4)) for place in order),
        lead=readings[0],
        series=readings,
        quiet=tuple(
            NAMES[place]
            for place in np.flatnonzero((cases.root[row] > 0) & (np.abs(cases.z[row]) < QUIET))
            if int(place) not in spoken
        ),
        probability_30d=round(_calibrated(min(fault * max(crossing, grown, NOTICED), _MOST_CERTAIN)), 4),
        probability_crossing=round(crossing, 4),
        probability_fault=round(fault, 4),
    )


def _calibrated(probability: float) -> float:
    """Bring a stated probability in line with what happened on tuning fleets: a line in log-odds."""
    odds = max(probability, 1e-6) / (1.0 - min(probability, _MOST_CERTAIN))
    return 1.0 / (1.0 + exp(-(CURVE_OFFSET + CURVE_SLOPE * log(odds))))


def _probability_fault(score: float, scene: Scene, *, crossed: bool) -> float:
    """Odds of a fault: how much rarer false tickets are than faults, times the evidence past the level."""
    odds = FAULTS_PER_100_MONTHS / scene.wish.false_tickets * exp(min(score - scene.levels.ticket, 20.0))
    probability = odds / (1.0 + odds)
    return min(max(probability, _CROSSED_IS_FAULT) if crossed else probability, _MOST_CERTAIN)


def _crossing(described: Described, horizon_days: int) -> NDArray[np.float64]:
    """Chance of each series to leave its band within the horizon; 0 without a band."""
    share: NDArray[np.float64] = (described.outlook.weight * (described.days <= horizon_days)).sum(axis=1)
    return share


def _grown(described: Described, place: NDArray[np.int64], horizon_days: int) -> NDArray[np.float64]:
    """Chance that each series grows within the horizon to the shift at which its driver complains."""
    outlook = described.outlook
    ahead = (
        np.abs(outlook.shift + outlook.slope * outlook.pace * horizon_days) / typical_shift()[place][:, None]
    )
    share = 1.0 / (1.0 + np.exp(-np.log(np.maximum(ahead, 1e-6)) / TASTE_SPREAD))
    total: NDArray[np.float64] = (outlook.weight * share).sum(axis=1)
    return total
