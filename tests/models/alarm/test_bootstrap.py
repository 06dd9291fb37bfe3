"""Histories drawn from a fleet's own sound residuals."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from models.alarm.bootstrap import (
    BLOCK_DAYS,
    BLOCKS,
    FRESH_DAYS,
    FURTHEST,
    HISTORIES,
    LEAST_HISTORY_DAYS,
    NOTHING,
    SETTLED_DAYS,
    Chance,
    draw_chance,
    lay_out,
)
from models.compare import Replay
from models.evidence.history import History
from models.evidence.kinds import KINDS, PLACE
from models.evidence.scan import Evidence
from models.panel import Wish
from models.series import NAMES
from models.statistics.runlength import DAYS_PER_MONTH
from models.verdict.scene import Scene
from models.verdict.segments import first_starts
from models.verdict.sound import CHANCE_EVERY_DAYS, draw
from tests.models.fleets import BARE, FEW, FIRST_DAY, Town

TODAY = next(day for day in range(FIRST_DAY + 240, FIRST_DAY + 400) if day % CHANCE_EVERY_DAYS == 0)
DAYS = TODAY - FIRST_DAY + 1
Most = Callable[[Evidence, NDArray[np.int32]], NDArray[np.float64]]
TRIM = NAMES.index("LONGFT1@warm_idle")


def _scene(town: Town) -> Scene:
    return Replay(town.fleet(), town.daily(), Wish()).scene(TODAY)


def _sound(vehicles: int = 12, seed: int = 1) -> Town:
    return Town(vehicles, DAYS, sheet=BARE, channels=FEW, seed=seed)


def _nothing_shown(_evidence: Evidence, group: NDArray[np.int32]) -> NDArray[np.float64]:
    return np.full((len(group), len(KINDS)), -np.inf)


def _one_shouts(_evidence: Evidence, group: NDArray[np.int32]) -> NDArray[np.float64]:
    shown = np.full((len(group), len(KINDS)), -np.inf)
    shown[0] = 500.0
    return shown


def _draw(scene: Scene, sound: NDArray[np.bool_] | None = None, most: Most = _nothing_shown) -> Chance:
    return draw_chance(
        scene.material,
        scene.fit,
        sound=np.ones(len(scene.material.group), bool) if sound is None else sound,
        start=first_starts(scene).running,
        most=most,
        rng=np.random.default_rng(0),
    )


def test_blocks_are_copied_whole() -> None:
    """A drawn history's readings are its source's, day by day, with all series of a day together."""
    scene = _scene(_sound())
    chosen, begins = np.array([3, 7]), FIRST_DAY + np.array([[0, 50, 100, 3], [20, 20, 90, 60]])

    drawn = lay_out(scene.material, scene.fit, chosen, begins)

    known = scene.fit.history
    for row, vehicle in enumerate(chosen.tolist()):
        for place in range(BLOCKS):
            for into in (0, 17, BLOCK_DAYS - 1):
                mine = drawn.sums(
                    drawn.before(place * BLOCK_DAYS + into, np.array([row])),
                    drawn.before(place * BLOCK_DAYS + into + 1, np.array([row])),
                )
                day = int(begins[row, place]) + into
                theirs = known.sums(
                    known.before(day, np.array([vehicle])), known.before(day + 1, np.array([vehicle]))
                )
                np.testing.assert_array_equal(mine.count, theirs.count)
                np.testing.assert_allclose(mine.value, theirs.value, atol=1e-9)


def test_months_are_those_watched() -> None:
    """What is watched is every drawn history from the day on which it has settled."""
    chance = _draw(_scene(_sound()))

    assert chance.months == pytest.approx(HISTORIES * (BLOCK_DAYS * BLOCKS - SETTLED_DAYS) / DAYS_PER_MONTH)
    np.testing.assert_array_equal(chance.passed, 0)


def test_one_loud_history_does_not_speak_for_the_fleet() -> None:
    """A fault that nobody has seen is drawn, too: it is one passage, its tail no longer than any may be."""
    chance = _draw(_scene(_sound()), most=_one_shouts)

    np.testing.assert_array_equal(chance.passed, 1)
    np.testing.assert_allclose(chance.beyond, FURTHEST)


def test_too_few_sound_vehicles_say_nothing() -> None:
    """Seven sound vehicles are no crowd to draw from."""
    scene = _scene(_sound())

    assert _draw(scene, np.arange(12) < 7) is NOTHING
    assert _draw(scene, np.arange(12) < 8).months > 0


def test_a_young_fleet_says_nothing() -> None:
    """Before there are two blocks older than the freshest weeks the table speaks alone."""
    town = Town(12, LEAST_HISTORY_DAYS + 200, sheet=BARE, channels=FEW)
    replay = Replay(town.fleet(), town.daily(), Wish())
    first = next(day for day in range(FIRST_DAY, FIRST_DAY + 200) if day % CHANCE_EVERY_DAYS == 0)

    assert replay.scene(first).levels.months == 0
    assert replay.scene(FIRST_DAY + LEAST_HISTORY_DAYS + 100).levels.months > 0


def test_the_draw_is_the_same_for_night_and_replay() -> None:
    """A walk through the days and a night that starts from nothing have the same levels."""
    town = _sound()
    fleet, daily = town.fleet(), town.daily()
    walk = Replay(fleet, daily, Wish())
    for day in range(FIRST_DAY, TODAY, 28):
        walk.scene(day)

    np.testing.assert_array_equal(
        walk.scene(TODAY).levels.ratio, Replay(fleet, daily, Wish()).scene(TODAY).levels.ratio
    )


def _wandering(size: float) -> Town:
    town = _sound(24, seed=3)
    rng = np.random.default_rng(5)
    step = rng.normal(0, size, (24, DAYS))
    slow = np.zeros((24, DAYS))
    for day in range(1, DAYS):
        slow[:, day] = 0.96 * slow[:, day - 1] + step[:, day]
    for state in ("warm_idle", "cruise"):
        town.at("LONGFT1", state)[:] += slow
    return town


def test_a_fleet_that_wanders_passes_more_often() -> None:
    """Slow wandering of sound trims is seen in drawn histories; voltages that do not wander stay quiet."""
    calm, restless = draw(_scene(_wandering(0.0))), draw(_scene(_wandering(0.7)))

    trims = [PLACE[name] for name in ("fuel", "trim", "lone trim")]
    assert restless.passed[trims].sum() > 2 * calm.passed[trims].sum() + 10
    assert restless.passed[PLACE["charging"]] <= calm.passed[PLACE["charging"]] + 5


def test_who_shows_a_fault_is_not_drawn_from() -> None:
    """A vehicle far past the watch level does not teach the fleet that its drift is chance."""
    sick = _sound(24, seed=3)
    for vehicle in (2, 5, 9):
        sick.drift("LONGFT1", "warm_idle", vehicle, onset=60, per_week=0.5)

    found, sound = draw(_scene(sick)), draw(_scene(_sound(24, seed=3)))

    assert found.passed.sum() <= sound.passed.sum() + 10


def test_the_freshest_weeks_are_not_drawn_from() -> None:
    """No block reaches into the last weeks, where a fault that nobody has seen yet may lie."""
    town = _sound()
    scene = _scene(town)
    seen: list[float] = []

    def watched(evidence: Evidence, group: NDArray[np.int32]) -> NDArray[np.float64]:
        seen.append(float(np.abs(evidence.z[:, :, TRIM]).max()))
        return _nothing_shown(evidence, group)

    def most_seen(history: History) -> float:
        seen.clear()
        draw_chance(
            scene.material,
            replace(scene.fit, history=history),
            sound=np.ones(12, bool),
            start=first_starts(scene).running,
            most=watched,
            rng=np.random.default_rng(0),
        )
        return max(seen)

    running = scene.fit.history.running.copy()
    late = scene.material.seen.day > TODAY - FRESH_DAYS
    running[1:, 3] += np.cumsum(np.where(late, 1000.0, 0.0))
    spoiled = replace(scene.fit.history, running=running)

    assert most_seen(spoiled) == pytest.approx(most_seen(scene.fit.history), rel=1e-6)
