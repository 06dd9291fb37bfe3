"""Whose history is sound enough to say what chance shows, and what it shows."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from models.alarm.bootstrap import Chance, draw_chance
from models.causes.table import Directions
from models.evidence.kinds import KINDS, OFTEN
from models.evidence.scan import Evidence
from models.verdict.judge import judge, look
from models.verdict.scene import Scene
from models.verdict.segments import advance_starts, first_starts

CHANCE_EVERY_DAYS: Final = 84
"""Days between two draws; every third fit."""


def draw(scene: Scene) -> Chance:
    """Draw sound histories on the scene's fit day.

    Sound is who shows less than the watch level and stands inside the sheet's limits on that day; what lies
    before a repair or a move is not drawn from.

    Parameters
    ----------
    scene : Scene
        Of that day's fit.

    Returns
    -------
    Chance
        The same for the same scene: the draw is seeded by its day.
    """
    day, first = scene.fit.fit_day, scene.material.first_day
    start = advance_starts(scene, first_starts(scene), (first - 1, day)).running
    verdict = judge(scene, day=day, start=start)
    sound = (verdict.score < scene.levels.watch) & (verdict.outside == 0).all(axis=1)

    def most(evidence: Evidence, group: NDArray[np.int32]) -> NDArray[np.float64]:
        return most_by_kind(evidence, scene.tables, scene.fit.noise.correlation, group)

    return draw_chance(
        scene.material, scene.fit, sound=sound, start=start, most=most, rng=np.random.default_rng(day)
    )


def most_by_kind(
    evidence: Evidence,
    tables: tuple[Directions, ...],
    correlation: NDArray[np.float64],
    group: NDArray[np.int32],
) -> NDArray[np.float64]:
    """Give the best log-likelihood ratio of each kind [nats], shape (n, len(KINDS)); -inf where none is.

    Pairs that cannot reach the lowest of the kinds' levels are not tried.
    """
    best = np.full((len(group), len(KINDS)), -np.inf)
    least = float(OFTEN.min())
    for _, rows, ratio, kind in look(evidence, tables, correlation, group, least):
        vehicle = np.broadcast_to(rows[:, [0]], ratio.shape)
        np.maximum.at(best, (vehicle.ravel(), kind.ravel()), ratio.ravel())
    return best
