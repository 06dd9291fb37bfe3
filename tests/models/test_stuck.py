"""A sensor that says the same for weeks."""

from dataclasses import replace

import numpy as np
import pytest

from models.compare import compare
from models.panel import Wish
from models.stuck import LEAST_RUN, find_stuck, unchanged
from tests.models.fleets import FEW, FIRST_DAY, SOUND, Town

FROZEN = ["ECT-IAT@koeo_soak", "IAT-AAT@koeo_soak"]


def _town() -> Town:
    return Town(8, 120, channels=SOUND)


def _said(town: Town, day: int) -> list[tuple[str, str]]:
    found = unchanged(town.fleet(), find_stuck(town.daily()), FIRST_DAY + day)
    return [(one.vehicle, one.series) for one in found]


def test_a_frozen_sensor_is_told_with_its_series() -> None:
    """Intake air that reads the same for twenty days is told, from the twentieth on, until it moves."""
    town = _town()
    town.at("IAT", "koeo_soak")[3, 60:100] = 14.0

    assert _said(town, 60 + LEAST_RUN - 2) == []
    assert _said(town, 60 + LEAST_RUN - 1) == [("V-0003", name) for name in FROZEN]
    assert _said(town, 99) == [("V-0003", name) for name in FROZEN]
    assert _said(town, 100) == []


def test_later_readings_change_nothing_said_before() -> None:
    """What is said of a day rests on the readings up to it."""
    town = _town()
    town.at("IAT", "koeo_soak")[3, 60:] = 14.0
    whole = _said(town, 85)
    town.days = 86
    town._values = town._values[:, :, :86]
    town._switches = town._switches[:, :, :86]

    assert _said(town, 85) == whole != []


def test_coarse_steps_need_longer_runs() -> None:
    """A logger that rounds so that most days agree is not told after twenty equal days."""
    town = _town()
    values = town.at("VPWR", "koeo_soak")
    values[:] = np.round(values * 4) / 4
    values[3, 90:112] = 12.5

    assert _said(town, 111) == []


def test_what_may_stand_still_is_not_judged() -> None:
    """A trim, an idle speed or an idle valve that rests at one value is no finding."""
    town = Town(8, 120, channels=FEW)
    for code in ("LONGFT1", "RPM", "IAC"):
        town.at(code, "warm_idle")[3, 60:] = 5.0

    assert _said(town, 119) == []


@pytest.mark.parametrize("reached", [60 + LEAST_RUN + 27, 119])
def test_silence_says_nothing(reached: int) -> None:
    """A frozen sensor whose newest reading is older than four weeks is not told any more."""
    town = _town()
    town.at("IAT", "koeo_soak")[3, 60:] = 14.0
    town.at("IAT", "koeo_soak")[3, 60 + LEAST_RUN :] = np.nan

    assert bool(_said(town, reached)) == (reached <= 60 + LEAST_RUN - 1 + 28)


def test_no_rows() -> None:
    """Without readings nothing is stuck."""
    town = _town()
    daily = town.daily()
    nothing = replace(
        daily,
        **{
            name: getattr(daily, name)[:0]
            for name in ("vehicle", "day", "state", "readings", "values", "switched_on")
        },
    )

    assert unchanged(town.fleet(), find_stuck(nothing), FIRST_DAY + 5) == ()


def test_it_is_part_of_the_assessment_and_no_engine_finding() -> None:
    """The day's assessment says that the sensor stands still, and raises nothing about the engine."""
    town = _town()
    town.at("IAT", "koeo_soak")[3, 90:] = 15.0

    said = compare(town.fleet(), town.daily(), town.last_day, Wish())

    assert {(one.vehicle, one.reason) for one in said.unusable} == {("V-0003", "unchanged")}
    assert said.findings == ()
