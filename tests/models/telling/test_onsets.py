"""Changes since each candidate onset, read off with later readings known."""

import numpy as np
import pytest
from numpy.typing import NDArray

from models.compare import Replay
from models.evidence.scan import LAGS, SHAPES
from models.panel import Wish
from models.series import PLACE
from models.telling.forecast import Shifts
from models.telling.onsets import ONSETS, PARTS, read_onsets, refine
from models.verdict.scene import Scene
from tests.models.fleets import FIRST_DAY, Town

TRIM = PLACE["LONGFT1@warm_idle"]
QUIET = (("LONGFT1", "warm_idle", 1.0, 1.2), ("VPWR", "warm_idle", 14.1, 0.1))


def _read(replay: Replay, day: int, vehicle: list[int]) -> tuple[Scene, Shifts, Shifts]:
    scene, verdict = replay.scene(day), replay.verdict(day)
    rows = np.array(vehicle)
    ramps, steps = read_onsets(
        scene,
        day=day,
        start=verdict.start[rows, TRIM],
        vehicle=rows,
        series=np.full(len(rows), TRIM),
    )
    return scene, ramps, steps


def _young_step() -> Town:
    """Give a fleet in which one vehicle's trim jumped by seven, nine readings ago, and stands still."""
    town = Town(16, 120, channels=QUIET)
    town.at("LONGFT1", "warm_idle")[3, -9:] += 7.0
    return town


def test_a_young_step_is_no_ramp() -> None:
    """The watch holds the first readings after a step back and sees a ramp; from both sides it is a step."""
    town = _young_step()
    replay = Replay(town.fleet(), town.daily(), Wish())

    _, ramps, steps = _read(replay, town.last_day, [3])
    watched = replay.verdict(town.last_day).evidence.z[3, :, TRIM]

    assert watched[1 :: len(SHAPES)].max() < watched[:: len(SHAPES)].max()
    assert steps.z.max() > ramps.z.max()
    assert ONSETS[steps.z.argmax()] == pytest.approx(9, rel=0.2)
    best = steps.z.argmax()
    assert steps.z[0, best] / steps.root[0, best] == pytest.approx(7.0, abs=1.2)


def test_the_same_as_the_watch_where_nothing_is_wild() -> None:
    """Without a wild reading both give the same numbers at the ages they share."""
    town = Town(16, 120, channels=QUIET)
    smooth = town.at("LONGFT1", "warm_idle")
    smooth[:] = 1.0 + 0.3 * np.sin(np.arange(16))[:, None] + 0.1 * town.rng.normal(0, 1, smooth.shape)
    town.drift("LONGFT1", "warm_idle", 3, onset=80, per_week=0.2)
    replay = Replay(town.fleet(), town.daily(), Wish())
    scene, ramps, steps = _read(replay, town.last_day, [0, 3, 15])
    evidence = replay.verdict(town.last_day).evidence

    assert scene.fit.noise.sigma[3, TRIM] > 0.3
    for place, shape in enumerate((ramps, steps)):
        np.testing.assert_allclose(shape.z[:, ::PARTS], evidence.z[[0, 3, 15], place::2, TRIM], atol=1e-6)
        root = evidence.root_information[[0, 3, 15], place::2, TRIM]
        np.testing.assert_allclose(shape.root[:, ::PARTS], root, atol=1e-6)


def test_later_days_are_not_looked_at() -> None:
    """What a day says does not change with what comes after it."""
    town = _young_step()
    day = town.last_day - 3
    late = _read(Replay(town.fleet(), town.daily(), Wish()), day, [3, 7])
    town.at("LONGFT1", "warm_idle")[3, -3:] = 60.0
    changed = _read(Replay(town.fleet(), town.daily(), Wish()), day, [3, 7])

    for one, other in zip(late[1:], changed[1:], strict=True):
        np.testing.assert_array_equal(one.z, other.z)


def test_a_silent_series_says_nothing() -> None:
    """A series without readings, or with too few, has no shift at any age."""
    town = Town(16, 120, channels=QUIET)
    town.at("LONGFT1", "warm_idle")[3] = np.nan
    town.at("LONGFT1", "warm_idle")[4, :-4] = np.nan
    replay = Replay(town.fleet(), town.daily(), Wish())

    _, ramps, steps = _read(replay, FIRST_DAY + 119, [3, 4])

    assert not ramps.root.any()
    assert not steps.root.any()
    assert not ramps.z.any()


def _curve(ages: NDArray[np.float64]) -> Shifts:
    root = 2.0 / np.sqrt(ages)
    return Shifts(z=(ages * 0.1 * root)[None], root=root[None])


def test_between_two_ages_of_the_watch() -> None:
    """Shifts of a straight ramp between two ages are those of that age; none is where none was tried."""
    watched = _curve(np.array(LAGS, dtype=np.float64))
    fine = refine(watched)
    np.testing.assert_allclose(fine.z / fine.root, _curve(ONSETS).z / _curve(ONSETS).root, rtol=0.02)

    watched.root[0, 4:], watched.z[0, 4:] = 0.0, 0.0
    fine = refine(watched)
    assert (fine.root[0, : 3 * PARTS + 1] > 0).all()
    assert not fine.root[0, 3 * PARTS + 1 :].any()
