"""Habits with load switches, by weather and driver."""

import numpy as np
import pytest

from models.learning.habits import LEAST, MOST, POINTS, Habit, learn_habits, steady_air
from models.series import PLACE, observe
from tests.models.fleets import BARE, Town

AC = PLACE["ac@warm_idle"]
ORDINARY = len(POINTS) // 2


def _learned(town: Town, until: int | None = None) -> Habit:
    seen = observe(town.fleet(), town.daily())
    rows = np.flatnonzero(seen.series == AC)
    taught = np.ones(len(rows), dtype=bool) if until is None else seen.day[rows] < seen.day.min() + until
    group = np.zeros(town.vehicles, np.int32)
    return learn_habits(seen, rows, steady_air(seen, rows, town.vehicles), taught, group)[0, AC]


def _town(own: float = 0.0, *, days: int = 200) -> Town:
    """Give drivers of whom half cool at 25 degC, with some spread between drivers; from frost to heat."""
    town = Town(30, days, channels=(("IAT", "warm_idle", 0.0, 1.0),), sheet=BARE)
    air = town.at("IAT", "warm_idle")
    air += np.linspace(-5.0, 40.0, days)
    logit = (air - 25.0) / 3.0 + own * town.rng.normal(0, 1, (30, 1))
    town.switch("ac")[:] = town.rng.random(air.shape) < 1 / (1 + np.exp(-logit))
    return town


def test_the_share_follows_the_weather() -> None:
    """Nobody cools in the cold, half do at 25 degC, nearly all in the heat; never none, never all."""
    chance = _learned(_town()).chances(np.array([0.0, 2.5, 4.0]))

    assert chance[:, ORDINARY] == pytest.approx([LEAST, 0.5, MOST], abs=0.08)
    assert chance.min() >= LEAST
    assert chance.max() <= MOST


@pytest.mark.parametrize(("own", "low", "high"), [(0.0, 0.4, 0.7), (1.5, 0.9, 2.0)])
def test_the_spread_between_drivers_is_learned(own: float, low: float, high: float) -> None:
    """Drivers that differ are found to."""
    assert low < _learned(_town(own)).spread < high


def test_weather_not_met_is_uncertain() -> None:
    """What was learned in the cold leaves the heat open: from hardly ever to nearly always."""
    heat = _learned(_town(), until=60).chances(np.array([3.0]))[0]
    known = _learned(_town()).chances(np.array([3.0]))[0]

    assert heat[-1] - heat[0] > 0.8
    assert known[-1] - known[0] < 0.5


def test_without_any_temperature_one_share_remains() -> None:
    """Vehicles that report no temperature have a habit for all weathers."""
    town = Town(12, 100, channels=(("RPM", "warm_idle", 720.0, 8.0),), sheet=BARE)
    town.switch("ac")[:] = town.rng.random((12, 100)) < 0.3

    assert _learned(town).chances(np.array([np.nan, 3.0]))[:, ORDINARY] == pytest.approx([0.3, 0.3], abs=0.05)


def test_a_temperature_not_read_is_that_of_the_reading_before() -> None:
    """Where no depot tells, gaps are filled from before; wild readings are pulled in; each its own."""
    town = _town(days=60)
    town.depot[0] = -1
    air = town.at("IAT", "warm_idle")
    town.at("RPM", "warm_idle")[:] = 720.0
    air[0, 20], air[1, 30] = np.nan, -40.0
    seen = observe(town.fleet(), town.daily())
    rows = np.flatnonzero(seen.series == AC)

    read = steady_air(seen, rows, town.vehicles).reshape(30, 60)

    assert read[0, 20] == pytest.approx(read[0, 19])
    assert read[1, 30] == pytest.approx(np.median(air[1, 20:31]) / 10.0 - 1.5)
    assert read[2] == pytest.approx(air[2] / 10.0)
