"""Which vehicles have something to say on a day, and how loudly.

The numbers only: the best direction and onset of each vehicle. Words and forecasts are made of them in
`models.telling.report`.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import CAUSES
from models.alarm.levels import Levels
from models.alarm.limits import stand
from models.alarm.switches import LEAST_RUN, hear_switches, stuck_on
from models.causes.table import UNKNOWN, Directions
from models.evidence.kinds import SWITCH, kinds_of
from models.evidence.loads import doubt_loads
from models.evidence.scan import (
    LAGS,
    MIN_BEFORE,
    MIN_DAYS,
    SHAPES,
    Evidence,
    invert_present,
    likelihood_ratios,
    weigh,
)
from models.verdict.scene import Scene
from models.verdict.whereabouts import elsewhere, trims_lead

SILENT: Final = -10.0
"""Rarity of a vehicle that has nothing to say."""

_STUCK: Final = CAUSES.index("load_switch_stuck")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Verdict:
    """Evidence of every vehicle on one day.

    Parameters
    ----------
    day : int
    score : float64 array of shape (V,)
        Rarity of the rarest log-likelihood ratio over onsets, shapes and directions, see `Levels.rarity`;
        `SILENT` where nothing comes near the watch level.
    template, cause : int64 arrays of shape (V,)
        Where it was reached: place in `TEMPLATES`, place in `CAUSES`.
    elsewhere : bool array of shape (V,)
        Whose evidence is on another depot's path than the registered one, see `models.verdict.whereabouts`.
    outside : int8 array of shape (V, S)
        1 above, -1 below the sheet's band by the median of comparable readings.
    margin : float64 array of shape (V, S)
        How far beyond a limit that median must lie; NaN where there is none.
    evidence : Evidence
    start : int32 array of shape (V, S)
    """

    day: int
    score: NDArray[np.float64]
    template: NDArray[np.int64]
    cause: NDArray[np.int64]
    elsewhere: NDArray[np.bool_]
    outside: NDArray[np.int8]
    margin: NDArray[np.float64]
    evidence: Evidence
    start: NDArray[np.int32]


def judge(scene: Scene, *, day: int, start: NDArray[np.int32]) -> Verdict:
    """Weigh every vehicle on one day.

    Parameters
    ----------
    scene : Scene
    day : int
        Evaluation day [days since 1970-01-01].
    start : int32 array of shape (V, S)
        First day of each running baseline segment, see `models.verdict.segments`.

    Returns
    -------
    Verdict
        Vehicles whose evidence cannot reach the watch level are not looked at direction by direction.
    """
    material, fit = scene.material, scene.fit
    evidence = listen(scene, day=day, start=start, rows=np.arange(len(material.group)))
    score, template, cause = loudest(
        evidence, scene.tables, fit.noise.correlation, material.group, scene.levels
    )
    suspects = np.flatnonzero(score >= scene.levels.watch)
    suspects = suspects[trims_lead(evidence, template, suspects)]
    away = np.zeros(len(score), dtype=bool)
    moved, anew = elsewhere(scene, day, start, suspects)
    if anew is not None:
        anew = _with_loads(scene, anew, day=day, start=start, rows=moved)
        evidence.z[moved], evidence.root_information[moved] = anew.z, anew.root_information
        away[moved] = True
        score[moved], template[moved], cause[moved] = loudest(
            anew, scene.tables, fit.noise.correlation, material.group[moved], scene.levels
        )
    _hear_switches(scene, day, start, score, template, cause)
    standing = stand(material, fit.history, scene.medians, scene.bands, day=day, start=start, noise=fit.noise)
    return Verdict(
        day=day,
        score=score,
        template=template,
        cause=cause,
        elsewhere=away,
        outside=standing.outside,
        margin=standing.margin,
        evidence=evidence,
        start=start,
    )


def listen(
    scene: Scene,
    *,
    day: int,
    start: NDArray[np.int32],
    rows: NDArray[np.int64],
    least: tuple[int, int] = (MIN_DAYS, MIN_BEFORE),
    run: int = LEAST_RUN,
) -> Evidence:
    """Weigh some vehicles on one day, with what is doubted and with their switches.

    Parameters
    ----------
    scene, day, start
        As for `judge`.
    rows : int64 array of shape (n,)
        Vehicles.
    least : tuple of int
        As for `weigh`.
    run : int
        Readings of a switch below which a stretch says nothing.

    Returns
    -------
    Evidence
        Of n vehicles.
    """
    group, fit = scene.material.group[rows], scene.fit
    evidence = weigh(
        fit.history,
        day=day,
        start=start[rows],
        noise=fit.noise,
        group=group,
        spread=fit.peers.spread[group],
        rows=rows,
        least=least,
    )
    return _with_loads(scene, evidence, day=day, start=start, rows=rows, run=run)


def _with_loads(
    scene: Scene,
    evidence: Evidence,
    *,
    day: int,
    start: NDArray[np.int32],
    rows: NDArray[np.int64],
    run: int = LEAST_RUN,
) -> Evidence:
    """Doubt what hidden loads and coarse loggers may have done, and let switches speak."""
    fit = scene.fit
    evidence = evidence.doubted(fit.noise.rounding_of_change[rows][:, None, :])
    share = fit.hidden.share(rows, day=day, ages=np.array(LAGS))
    evidence = doubt_loads(evidence, share, fit.noise.sigma[rows])
    return hear_switches(evidence, fit.history, scene.runs, day=day, start=start[rows], rows=rows, least=run)


def loudest(
    evidence: Evidence,
    tables: tuple[Directions, ...],
    correlation: NDArray[np.float64],
    group: NDArray[np.int32],
    levels: Levels,
) -> tuple[NDArray[np.float64], NDArray[np.int64], NDArray[np.int64]]:
    """Give each vehicle's rarest direction and onset.

    Parameters
    ----------
    evidence : Evidence
        Of n vehicles.
    tables : tuple of Directions
        By like vehicles.
    correlation : float64 array of shape (S, S)
    group : int32 array of shape (n,)
        Like vehicles of each.
    levels : Levels

    Returns
    -------
    score, template, cause
        As in `Verdict`.
    """
    score = np.full(len(group), SILENT)
    template = np.zeros(len(group), np.int64)
    cause = np.full(len(group), UNKNOWN, np.int64)
    for table, rows, ratio, kind in look(evidence, tables, correlation, group, levels.least_nats):
        rare = levels.rarity(ratio, kind)
        _keep_best(rows, rare, table.cause, score, template, cause)
    return score, template, cause


def look(
    evidence: Evidence,
    tables: tuple[Directions, ...],
    correlation: NDArray[np.float64],
    group: NDArray[np.int32],
    least: float,
) -> Iterator[tuple[Directions, NDArray[np.int64], NDArray[np.float64], NDArray[np.int64]]]:
    """Look direction by direction at vehicles and onsets that may reach some evidence.

    Parameters
    ----------
    evidence, tables, correlation, group
        As for `loudest`.
    least : float
        Pairs that cannot reach this are left out [nats].

    Yields
    ------
    table, rows, ratio, kind
        For like vehicles with anything to look at: their directions, the pairs of vehicle and template, shape
        (n, 2), and of each pair and direction the log-likelihood ratio [nats] and the kind, shape (n, K).
    """
    for place, table in enumerate(tables):
        rows = _worth_a_look(evidence, np.flatnonzero(group == place), correlation, least)
        if len(rows):
            ratio = likelihood_ratios(evidence, table, correlation, rows)
            yield table, rows, ratio, kinds_of(table, rows[:, 1])


def _hear_switches(
    scene: Scene,
    day: int,
    start: NDArray[np.int32],
    score: NDArray[np.float64],
    template: NDArray[np.int64],
    cause: NDArray[np.int64],
) -> None:
    """Let a switch that never reads off speak where it is the loudest; writes into the given arrays."""
    nats, begun = stuck_on(scene.material, scene.fit.history, scene.runs, day=day, start=start)
    rare = np.where(nats > 0, scene.levels.rarity(nats, np.full(len(nats), SWITCH)), SILENT)
    louder = rare > score
    age = day - begun[louder]
    nearest = np.abs(np.log(np.array(LAGS))[None, :] - np.log(np.maximum(age, 1))[:, None]).argmin(axis=1)
    score[louder] = rare[louder]
    template[louder] = nearest * len(SHAPES) + SHAPES.index("step")
    cause[louder] = _STUCK


def _worth_a_look(
    evidence: Evidence, member: NDArray[np.int64], correlation: NDArray[np.float64], screen: float
) -> NDArray[np.int64]:
    """Give vehicle-template pairs in which some direction may reach the screen.

    No direction exceeds the full quadratic form, and none of one series its own square.
    """
    z = evidence.z[member]
    inverse = invert_present(
        correlation, np.asarray((evidence.root_information[member] > 0).any(axis=(0, 1)))
    )
    bound = np.maximum((z @ inverse * z).sum(axis=2), (z**2).max(axis=2)) / 2.0
    vehicle, template = np.nonzero(bound >= screen)
    return np.column_stack((member[vehicle], template))


def _keep_best(
    rows: NDArray[np.int64],
    rare: NDArray[np.float64],
    causes: NDArray[np.int64],
    score: NDArray[np.float64],
    template: NDArray[np.int64],
    cause: NDArray[np.int64],
) -> None:
    """Write each vehicle's best pair into the given arrays."""
    best = rare.argmax(axis=1)
    top = rare[np.arange(len(rows)), best]
    order = np.lexsort((-top, rows[:, 0]))
    first = order[np.flatnonzero(np.diff(rows[order, 0], prepend=-1))]
    vehicle = rows[first, 0]
    score[vehicle], template[vehicle], cause[vehicle] = top[first], rows[first, 1], causes[best[first]]
