"""Vehicles that live elsewhere than the register says."""

import numpy as np
import pytest

from models.compare import Replay, compare
from models.panel import Wish
from tests.models.fleets import BARE, FIRST_DAY, Town

TRIMS = (
    ("LONGFT1", "warm_idle", 1.0, 1.2),
    ("LONGFT1", "cruise", 0.5, 1.4),
    ("VPWR", "warm_idle", 14.1, 0.10),
)
CHANGED = 100


def _town(*, days: int = 150) -> Town:
    """Give two depots of fifteen; one changes to fuel that moves trims up, the other down."""
    town = Town(30, days, channels=TRIMS, sheet=BARE, depots=2)
    for state in ("warm_idle", "cruise"):
        town.at("LONGFT1", state)[::2, CHANGED:] += 3.0
        town.at("LONGFT1", state)[1::2, CHANGED:] -= 3.0
    return town


def _elsewhere(until: int, days: int = 150) -> Town:
    """Let vehicle 4, on the register of the first depot, burn the second one's fuel up to a day."""
    town = _town(days=days)
    for state in ("warm_idle", "cruise"):
        town.at("LONGFT1", state)[4, CHANGED:until] -= 6.0
    return town


def _named(town: Town, *days: int) -> list[str]:
    replay = Replay(town.fleet(), town.daily(), Wish())
    return sorted({one.vehicle for day in days for one in replay.at(FIRST_DAY + day).findings})


@pytest.mark.parametrize("until", [150, 120])
def test_another_depots_fuel_is_no_fault(until: int) -> None:
    """Who follows the other depot, to this day or until it moved, shows no fault on any day."""
    assert _named(_elsewhere(until), *range(CHANGED, 150, 3)) == []


def test_the_same_movement_with_nobody_to_follow_is_one() -> None:
    """A vehicle that moves alone, and as far, is found: no depot explains it."""
    town = _town()
    for state in ("warm_idle", "cruise"):
        town.at("LONGFT1", state)[4, CHANGED - 25 :] -= 6.0

    assert _named(town, CHANGED - 6) == ["V-0004"]


def test_a_fault_on_a_vehicle_that_lives_elsewhere_is_found() -> None:
    """Another depot's fuel explains its own part and no more."""
    town = _elsewhere(150)
    town.drift("LONGFT1", "cruise", 4, onset=110, per_week=2.0)
    town.drift("LONGFT1", "warm_idle", 4, onset=110, per_week=1.6)

    assert _named(town, 149) == ["V-0004"]


def test_a_walk_gives_what_a_single_day_gives() -> None:
    """Nothing of it is carried from day to day."""
    town = _elsewhere(120)
    replay = Replay(town.fleet(), town.daily(), Wish())

    for day in (105, 119, 131):
        alone = compare(town.fleet(), town.daily(), FIRST_DAY + day, Wish())
        np.testing.assert_equal(replay.at(FIRST_DAY + day).findings, alone.findings)
