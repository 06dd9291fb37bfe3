"""Falls of a series back towards its past."""

import numpy as np
import pytest

from models.changes.returns import Falls, find_falls
from models.compare import Replay
from models.panel import Wish
from models.series import NAMES
from tests.models.fleets import BARE, FIRST_DAY, Town


def _falls(town: Town) -> Falls:
    scene = Replay(town.fleet(), town.daily(), Wish()).scene(town.last_day)
    return find_falls(scene.material, scene.fit)


def _mended(day: int = 110) -> Town:
    """Give a fleet in which one drifting trim falls back to where it was."""
    town = Town(16, 160, sheet=BARE)
    town.drift("LONGFT1", "warm_idle", 3, onset=50, per_week=1.2)
    town.at("LONGFT1", "warm_idle")[3, day:] -= 1.2 / 7 * (np.arange(day, 160) - 50)
    return town


def _of(falls: Falls, vehicle: int = 3) -> list[tuple[str, int, float]]:
    return [
        (NAMES[series], first - FIRST_DAY, float(jump))
        for (owner, series, first, _), jump in zip(falls.place.tolist(), falls.jump, strict=True)
        if owner == vehicle
    ]


def test_a_fall_is_found_once_with_its_size() -> None:
    """One fall, its first reading that clipping leaves alone, and about the drift's height."""
    ((series, first, jump),) = _of(_falls(_mended()))

    assert series == "LONGFT1@warm_idle"
    assert 110 <= first <= 117
    assert jump == pytest.approx(-1.2 / 7 * 55, rel=0.35)


def test_leaving_the_past_is_no_fall() -> None:
    """A jump away from where the series stood may be a fault that begins."""
    town = Town(16, 160, sheet=BARE)
    town.at("LONGFT1", "warm_idle")[3, 110:] += 9.0

    assert _of(_falls(town)) == []


def test_a_fleet_of_a_week_has_none() -> None:
    """Too few readings say nothing."""
    assert len(_falls(Town(4, 7)).place) == 0
