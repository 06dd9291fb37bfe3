"""Which vehicles have something to say on a day, and how loudly.

The numbers only: the best direction and onset of each vehicle. Words and forecasts are made of them in
`models.report`.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import CAUSES
from models.causes import UNKNOWN, Directions
from models.limits import crossings
from models.scan import LAGS, SHAPES, TEMPLATES, Evidence, invert_present, likelihood_ratios, weigh
from models.scene import Scene
from models.series import NAMES, SERIES
from models.switches import stuck_on

TRIM_PENALTY: Final = 4.0
"""Nats taken off directions with learned trims: fuel, weather and habit move trims on sound vehicles, so
equal evidence is false more often than elsewhere; measured on sound fleets."""

IDLE_PENALTY: Final = 1.0
"""Nats taken off directions with idle air, for the same reason; measured on sound fleets."""

YOUNG_DAYS: Final = 14
"""A change of trims younger than this may be one tank of bad fuel; chosen by us."""

YOUNG_PENALTY: Final = 3.0
"""Nats taken off such a change: bad tanks are more frequent than faults; chosen by us."""

FUEL_PENALTY: Final = 4.0
"""Nats taken off on top where both banks move alike on the road too, as bad fuel does; chosen by us."""

UNKNOWN_PENALTY: Final = 3.0
"""Nats taken off a direction nobody described: there are many of them, and few faults; chosen by us."""

_STUCK: Final = CAUSES.index("load_switch_stuck")
_LIKE_FUEL: Final = ("fuel_delivery_low", "fuel_pressure_high", "air_meter_low", "map_sensor_bias")
_TRIMS: Final = np.array([name.startswith("LONGFT") for name in NAMES])
_IDLE_AIR: Final = np.array([series.learned for series in SERIES]) & ~_TRIMS


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Verdict:
    """Evidence of every vehicle on one day.

    Parameters
    ----------
    day : int
    score : float64 array of shape (V,)
        Best log-likelihood ratio over onsets, shapes and directions [nats].
    template, cause : int64 arrays of shape (V,)
        Where it was reached: place in `TEMPLATES`, place in `CAUSES`.
    by_age : float64 array of shape (V, L)
        Best ratio of the best direction's cause for a ramp of each age; -inf where not tried.
    outside : int8 array of shape (V, S)
        1 above, -1 below the sheet's band by the median of comparable readings.
    evidence : Evidence
    start : int32 array of shape (V, S)
    """

    day: int
    score: NDArray[np.float64]
    template: NDArray[np.int64]
    cause: NDArray[np.int64]
    by_age: NDArray[np.float64]
    outside: NDArray[np.int8]
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
        First day of each running baseline segment, see `models.segments`.

    Returns
    -------
    Verdict
        Vehicles whose evidence cannot reach the watch level are not looked at direction by direction;
        their score is 0.
    """
    material, fit = scene.material, scene.fit
    vehicles = len(scene.fleet.vehicles)
    evidence = weigh(
        fit.history,
        day=day,
        start=start,
        noise=fit.noise,
        group=material.group,
        spread=fit.peers.spread[material.group],
        rows=np.arange(vehicles),
    )
    score = np.zeros(vehicles)
    template = np.zeros(vehicles, np.int64)
    cause = np.full(vehicles, UNKNOWN, np.int64)
    by_age = np.full((vehicles, len(LAGS)), -np.inf)
    for group, table in enumerate(scene.tables):
        member = np.flatnonzero(material.group == group)
        rows = _worth_a_look(evidence, member, fit.noise.correlation, scene.levels.watch)
        if len(rows):
            ratio = likelihood_ratios(evidence, table, fit.noise.correlation, rows) - penalties(
                table, rows[:, 1]
            )
            _keep_best(rows, ratio, table.cause, score, template, cause, by_age)
    _hear_switches(scene, day, start, score, template, cause)
    outside = crossings(
        material, fit.history, scene.medians, scene.bands, day=day, start=start, sigma=fit.noise.sigma
    )
    return Verdict(
        day=day,
        score=score,
        template=template,
        cause=cause,
        by_age=by_age,
        outside=outside,
        evidence=evidence,
        start=start,
    )


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
    louder = nats > score
    age = day - begun[louder]
    nearest = np.abs(np.log(np.array(LAGS))[None, :] - np.log(np.maximum(age, 1))[:, None]).argmin(axis=1)
    score[louder] = nats[louder]
    template[louder] = nearest * len(SHAPES) + SHAPES.index("step")
    cause[louder] = _STUCK


def penalties(table: Directions, template: NDArray[np.int64]) -> NDArray[np.float64]:
    """Give the nats that each template and direction must make up for, shape (n, K)."""
    undescribed = table.cause == UNKNOWN
    trims = (table.shift[:, _TRIMS] != 0).any(axis=1)
    idle = (table.shift[:, _IDLE_AIR] != 0).any(axis=1) & ~trims
    alike = trims & (np.array([CAUSES[cause] in _LIKE_FUEL for cause in table.cause]) | undescribed)
    always = UNKNOWN_PENALTY * undescribed + TRIM_PENALTY * trims + IDLE_PENALTY * idle
    suspect = YOUNG_PENALTY * trims + FUEL_PENALTY * alike
    young = np.array([lag < YOUNG_DAYS for lag, _ in TEMPLATES])[template]
    return np.asarray(always[None, :] + young[:, None] * suspect[None, :])


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
    ratio: NDArray[np.float64],
    causes: NDArray[np.int64],
    score: NDArray[np.float64],
    template: NDArray[np.int64],
    cause: NDArray[np.int64],
    by_age: NDArray[np.float64],
) -> None:
    """Write each vehicle's best pair into the given arrays."""
    best = ratio.argmax(axis=1)
    top = ratio[np.arange(len(rows)), best]
    order = np.lexsort((-top, rows[:, 0]))
    first = order[np.flatnonzero(np.diff(rows[order, 0], prepend=-1))]
    vehicle = rows[first, 0]
    score[vehicle], template[vehicle], cause[vehicle] = top[first], rows[first, 1], causes[best[first]]
    for place, (_, shape) in enumerate(TEMPLATES):
        if shape != "ramp":
            continue
        mine = np.flatnonzero(rows[:, 1] == place)
        same = causes[None, :] == cause[rows[mine, 0]][:, None]
        by_age[rows[mine, 0], place // len(SHAPES)] = np.where(same, ratio[mine], -np.inf).max(axis=1)
