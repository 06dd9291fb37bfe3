"""From numbers to findings: which series speak, what caused it, when the limit is reached."""

from dataclasses import dataclass
from math import exp
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import CAUSES
from models.causes import UNKNOWN, Directions, groups, priors, typical_shift
from models.findings import Finding, SeriesReading
from models.fit import Fit, Material
from models.forecast import HORIZON_DAYS, days_to_limit, imagine, weighted_points
from models.judge import Verdict
from models.levels import Levels
from models.limits import Bands
from models.panel import Fleet, Wish
from models.rank import rank_causes
from models.scan import LAGS, TEMPLATES
from models.series import NAMES, SERIES

METHOD: Final = "direction likelihood ratio 1"
"""Name and version of the method, on every finding."""

SPEAKS: Final = 2.5
"""Standard errors beyond which a series is listed as moved."""

QUIET: Final = 2.0
"""Standard errors below which a series is listed as looked at and quiet."""

FAULTS_PER_100_MONTHS: Final = 0.29
"""Real faults per 100 vehicle-months, about one in 350; sets how far a ticket at its level is believed."""

_MOST_CERTAIN: Final = 0.98
_ALONE: Final = 0.8
_GROUP_OF_PARAMETER: Final = {
    "LONGFT1": "mixture", "LONGFT2": "mixture", "SHRTFT1": "mixture", "SHRTFT2": "mixture", "MAF": "mixture",
    "LOAD_ABS": "mixture", "INJ_PW": "mixture", "IAC": "idle", "IAC_COUNTS": "idle", "TAC_PCT": "idle",
    "TP": "idle", "RPM": "idle", "MAP": "idle", "VPWR": "charging", "CRANK_VMIN": "charging",
    "ECT": "temperature", "IAT": "temperature",
}  # fmt: skip
_IDLE_AIR: Final = ("IAC@warm_idle", "IAC_COUNTS@warm_idle", "TAC_PCT@warm_idle", "TP@warm_idle")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Case:
    """One vehicle worth a finding: its place, template, evidence rows and cause probabilities."""

    vehicle: int
    template: int
    z: NDArray[np.float64]
    root: NDArray[np.float64]
    causes: NDArray[np.float64]
    rule: str


def report(
    fleet: Fleet,
    material: Material,
    fit: Fit,
    verdict: Verdict,
    tables: tuple[Directions, ...],
    bands: Bands,
    levels: Levels,
    wish: Wish,
) -> tuple[Finding, ...]:
    """Write a finding for every vehicle past the watch level or outside its sheet's band, by vehicle."""
    cases = _open_cases(material, fit, verdict, tables, levels)
    return tuple(_finding(fleet, material, fit, verdict, bands, levels, wish, case) for case in cases)


def _open_cases(
    material: Material, fit: Fit, verdict: Verdict, tables: tuple[Directions, ...], levels: Levels
) -> list[Case]:
    crossed = (verdict.outside != 0).any(axis=1)
    chosen = np.flatnonzero((verdict.score >= levels.watch) | crossed)
    drift = verdict.score[chosen] >= levels.watch
    z = np.where(drift[:, None], verdict.evidence.z[chosen, verdict.template[chosen]], 0.0)
    root = np.where(drift[:, None], verdict.evidence.root_information[chosen, verdict.template[chosen]], 0.0)
    for row in np.flatnonzero(~drift):
        z[row], root[row] = _against_peers(material, fit, verdict, int(chosen[row]))
    causes = np.zeros((len(chosen), len(CAUSES)))
    for group, table in enumerate(tables):
        mine = np.flatnonzero(material.group[chosen] == group)
        if len(mine):
            causes[mine] = rank_causes(z[mine], root[mine], table, priors())
    return [
        Case(
            vehicle=int(vehicle),
            template=int(verdict.template[vehicle]),
            z=z[row],
            root=root[row],
            causes=causes[row],
            rule="drift" if drift[row] else "limit",
        )
        for row, vehicle in enumerate(chosen)
    ]


def _against_peers(
    material: Material, fit: Fit, verdict: Verdict, vehicle: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Standardise the level since the segment began against like vehicles, where nothing drifted."""
    now = fit.history.before(verdict.day + 1)[vehicle]
    origin = fit.history.before(verdict.start)[vehicle]
    count = fit.history.running[0, now] - fit.history.running[0, origin]
    total = fit.history.running[3, now] - fit.history.running[3, origin]
    mean = np.where(count > 0, total / np.maximum(count, 1), 0.0)
    spread = fit.peers.spread[material.group[vehicle]]
    root = np.where((count >= 7) & np.isfinite(spread), 1.0 / np.where(np.isfinite(spread), spread, 1.0), 0.0)
    return mean * root, root


def _finding(
    fleet: Fleet,
    material: Material,
    fit: Fit,
    verdict: Verdict,
    bands: Bands,
    levels: Levels,
    wish: Wish,
    case: Case,
) -> Finding:
    order = np.argsort(-case.causes, kind="stable")
    top = int(order[0]) if order[0] != UNKNOWN else int(order[1])
    named = case.causes[order[0]] > 0 and order[0] != UNKNOWN
    places = _speaking(case, verdict.outside[case.vehicle])
    readings = tuple(_reading(fleet, material, fit, verdict, bands, case, place) for place in places)
    lead = readings[0]
    group = groups()[top] if named else _GROUP_OF_PARAMETER.get(lead.parameter, "unknown")
    crossed = bool((verdict.outside[case.vehicle] != 0).any())
    score = float(verdict.score[case.vehicle])
    passed = score >= levels.ticket or crossed
    fault = _probability_fault(score, levels, wish, crossed)
    crossing = (
        _probability_crossing(material, fit, verdict, bands, case, places, wish) if not crossed else 0.95
    )
    grown = _probability_grown(verdict, case, places[0], wish)
    return Finding(
        vehicle=fleet.vehicles[case.vehicle],
        group=group,
        tier="ticket" if passed else "watch",
        rule="limit" if crossed and score < levels.ticket else "drift",
        method=METHOD,
        score=round(score, 4),
        ticket_level=levels.ticket,
        watch_level=levels.watch,
        onset_day=verdict.day - TEMPLATES[case.template][0],
        causes=tuple((CAUSES[place], round(float(case.causes[place]), 4)) for place in order),
        lead=lead,
        series=readings,
        quiet=tuple(
            NAMES[place]
            for place in range(len(SERIES))
            if case.root[place] > 0 and abs(case.z[place]) < QUIET and place not in places
        ),
        probability_30d=round(min(fault * max(crossing, grown), _MOST_CERTAIN), 4),
        probability_crossing=round(crossing, 4),
        probability_fault=round(fault, 4),
    )


def _speaking(case: Case, outside: NDArray[np.int8]) -> list[int]:
    """Order the series that moved, loudest first; the first one can stand in an export by its parameter."""
    loudness = np.abs(case.z) * np.where([series.limited for series in SERIES], 1.0, _ALONE)
    loudness = np.where(outside != 0, loudness + SPEAKS, loudness)
    order = [int(place) for place in np.argsort(-loudness, kind="stable")]
    spoken = [place for place in order if loudness[place] >= SPEAKS and _usable_lead(case, outside, place)]
    leads = [place for place in spoken if SERIES[place].parameter]
    if not leads:
        followed = [NAMES.index(name) for name in _IDLE_AIR if case.root[NAMES.index(name)] > 0]
        leads = followed or [place for place in order if SERIES[place].parameter]
    return [leads[0], *(place for place in spoken if place != leads[0] and SERIES[place].parameter)]


def _usable_lead(case: Case, outside: NDArray[np.int8], place: int) -> bool:
    return bool(case.root[place] > 0 or outside[place] != 0)


def _probability_fault(score: float, levels: Levels, wish: Wish, crossed: bool) -> float:
    odds = FAULTS_PER_100_MONTHS / wish.false_tickets * exp(min(score - levels.ticket, 20.0))
    probability = odds / (1.0 + odds)
    return min(max(probability, 0.6) if crossed else probability, _MOST_CERTAIN)


def _outlook(verdict: Verdict, vehicle: int, place: int):  # type: ignore[no-untyped-def]
    ramps = verdict.evidence.z[vehicle, ::2, place][None, :]
    roots = verdict.evidence.root_information[vehicle, ::2, place][None, :]
    ratio = verdict.by_age[vehicle][None, :]
    ratio = np.where(np.isfinite(ratio), ratio, 0.0)
    return imagine(ramps, roots, np.array(LAGS, dtype=np.float64), ratio)


def _own_baseline(fit: Fit, verdict: Verdict, vehicle: int, place: int, onset: int) -> tuple[float, int, int]:
    """Mean residual before the onset in the running segment, its count and the count since."""
    history = fit.history
    cell = np.array([vehicle * len(SERIES) + place]) * history.days
    bounds = [int(verdict.start[vehicle, place]), onset + 1, verdict.day + 1]
    pointer = [
        int(history.pointer[cell + min(max(bound - history.first_day, 0), history.days)][0])
        for bound in bounds
    ]
    pointer[1] = max(pointer[1], pointer[0])
    count = history.running[0, pointer[1]] - history.running[0, pointer[0]]
    total = history.running[3, pointer[1]] - history.running[3, pointer[0]]
    since = history.running[0, pointer[2]] - history.running[0, pointer[1]]
    return (float(total / count) if count else 0.0, int(count), int(since))


def _reading(
    fleet: Fleet, material: Material, fit: Fit, verdict: Verdict, bands: Bands, case: Case, place: int
) -> SeriesReading:
    vehicle, group = case.vehicle, int(material.group[case.vehicle])
    series = SERIES[place]
    onset = verdict.day - TEMPLATES[case.template][0]
    mean, before, since = _own_baseline(fit, verdict, vehicle, place, onset)
    relative = series.name.startswith("ln ")
    origin = 0.0 if relative else float(fit.peers.level[group, place])
    root = float(case.root[place])
    shift = float(case.z[place]) / root if root > 0 and case.rule == "drift" else 0.0
    baseline = origin + mean
    outlook = _outlook(verdict, vehicle, place)
    slope = weighted_points(outlook.slope * 7.0, outlook.weight, (0.1, 0.5, 0.9))[0]
    low, high = float(bands.low[group, place]), float(bands.high[group, place])
    upward = shift > 0 if shift else verdict.outside[vehicle, place] >= 0
    days = days_to_limit(
        outlook, np.array([baseline]), np.array([low]), np.array([high]), np.array([bool(upward)])
    )
    reach = weighted_points(days, outlook.weight, (0.1, 0.5, 0.9))[0]
    peers = bool(fit.peers.count[group, place] >= 8)
    offset = float(fit.peers.level[group, place]) if relative else 0.0
    return SeriesReading(
        series=series.name,
        parameter=series.parameter,
        state=series.states[0],
        unit=series.unit,
        direction="up" if upward else "down",
        baseline=round(baseline, 4),
        level=round(baseline + shift, 4),
        baseline_from=int(verdict.start[vehicle, place]),
        baseline_to=max(onset, int(verdict.start[vehicle, place])),
        baseline_days=before,
        recent_days=since,
        noise=round(float(fit.noise.sigma[vehicle, place]), 4),
        drift_per_week=round(float(slope[1]), 4),
        drift_low=round(float(slope[0]), 4),
        drift_high=round(float(slope[2]), 4),
        strength=round(float(case.z[place]), 3),
        limit_low=_or_none(low),
        limit_high=_or_none(high),
        outside=bool(verdict.outside[vehicle, place] != 0),
        reaches_limit_on=_day(verdict.day, reach[1]),
        reaches_limit_low=_day(verdict.day, reach[0]),
        reaches_limit_high=_day(verdict.day, reach[2]),
        peers_low=round(float(fit.peers.low[group, place]) - offset, 4) if peers else None,
        peers_high=round(float(fit.peers.high[group, place]) - offset, 4) if peers else None,
        peers=int(fit.peers.count[group, place]),
        segment_from=int(verdict.start[vehicle, place]),
        segment_reason="first_data" if verdict.start[vehicle, place] == material.first_day else "repair",
    )


def _or_none(value: float) -> float | None:
    return None if np.isnan(value) else value


def _day(today: int, ahead: float) -> int | None:
    return today + int(np.ceil(ahead)) if ahead <= HORIZON_DAYS else None


def _probability_crossing(
    material: Material,
    fit: Fit,
    verdict: Verdict,
    bands: Bands,
    case: Case,
    places: list[int],
    wish: Wish,
) -> float:
    """Chance that one of the moved series leaves its band within the horizon: that of the likeliest."""
    group = int(material.group[case.vehicle])
    best = 0.0
    for place in places:
        low, high = bands.low[group, place], bands.high[group, place]
        if np.isnan(low) and np.isnan(high):
            continue
        onset = verdict.day - TEMPLATES[case.template][0]
        mean, _, _ = _own_baseline(fit, verdict, case.vehicle, place, onset)
        outlook = _outlook(verdict, case.vehicle, place)
        upward = np.array([case.z[place] > 0])
        days = days_to_limit(
            outlook,
            np.array([mean + fit.peers.level[group, place]]),
            np.array([low]),
            np.array([high]),
            upward,
        )
        best = max(best, float((outlook.weight * (days <= wish.horizon_days)).sum()))
    return best


def _probability_grown(verdict: Verdict, case: Case, place: int, wish: Wish) -> float:
    """Chance that the fault grows to the size at which drivers complain within the horizon.

    Drivers differ: the size that bothers one is spread by about a third around the table's.
    """
    outlook = _outlook(verdict, case.vehicle, place)
    ahead = np.abs(outlook.shift + outlook.slope * wish.horizon_days) / typical_shift()[place]
    share = 1.0 / (1.0 + np.exp(-(np.log(np.maximum(ahead, 1e-6))) / 0.2))
    return float((outlook.weight * share).sum())
