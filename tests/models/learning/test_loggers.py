"""Changes of logger found in the rounding of the readings."""

import numpy as np
import pytest

from models.learning.loggers import find_loggers, find_regridded
from tests.models.fleets import FEW, FIRST_DAY, Town

COARSE = {"LONGFT1": 1.0, "IAC": 1.0, "RPM": 10.0, "VPWR": 0.1, "ECT": 2.0}
CHANNELS = (*FEW, ("ECT", "warm_idle", 90.0, 1.5), ("ECT", "cruise", 88.0, 1.5), ("IAT", "cruise", 20.0, 4.0))


def _town(days: int = 150) -> Town:
    """Give a fleet whose trims and temperatures have the standard's steps."""
    town = Town(6, days, channels=CHANNELS)
    town.round_off({"LONGFT1": 0.78125, "ECT": 1.0, "IAT": 1.0, "MAP": 1.0, "RPM": 0.25})
    return town


def _found(town: Town) -> list[tuple[int, int, int]]:
    return [
        (int(vehicle), int(first) - FIRST_DAY, int(known) - FIRST_DAY)
        for vehicle, first, known in find_regridded(town.daily())
    ]


@pytest.mark.parametrize("days", [slice(70, None), slice(None, 70)], ids=["coarser", "finer"])
def test_other_rounding_is_another_logger(days: slice) -> None:
    """Several parameters that begin to be rounded otherwise tell of another logger, to within days."""
    town = _town()
    town.round_off(COARSE, 2, days)

    ((vehicle, first, known),) = _found(town)

    assert vehicle == 2
    assert abs(first - 70) <= 3
    assert 70 < known <= 110


def test_degrees_of_another_scale_alone_are_not_enough() -> None:
    """Temperatures alone may be sent in other degrees by a setting: fewer than four say nothing."""
    town = _town()
    for code, state in (("ECT", "warm_idle"), ("ECT", "cruise"), ("IAT", "cruise")):
        values = town.at(code, state)[2, 70:]
        values[:] = (np.round(values * 1.8 + 32) - 32) / 1.8

    assert _found(town) == []


def test_sound_loggers_change_nothing() -> None:
    """Readings of one logger, coarse or fine, never look like two."""
    town = _town(400)
    town.round_off(COARSE, 1)

    assert _found(town) == []


def test_a_told_change_is_not_found_again() -> None:
    """A device's first day stands; what the rounding shows within days of it is the same change."""
    town = _town()
    town.round_off(COARSE, 2, slice(70, None))
    town.did(2, 70, "logger_changed")

    assert find_loggers(town.fleet(), town.daily()).tolist() == [[2, FIRST_DAY + 70, FIRST_DAY + 70, 0]]


def test_too_few_readings_say_nothing() -> None:
    """Two weeks hold no three blocks of readings."""
    assert _found(_town(14)) == []
