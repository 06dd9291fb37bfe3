"""A sensor that says the same for weeks."""

from dataclasses import replace

import numpy as np
import pytest

from models.compare import compare
from models.panel import Wish
from models.quality.stuck import LEAST_RUN, find_stuck, unchanged
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


def _freeze(town: Town, code: str, value: float, *, start: int = 0) -> None:
    for parameter, state, *_ in SOUND:
        if parameter == code:
            town.at(code, state)[3, start:] = value


@pytest.mark.parametrize(("code", "value"), [("VPWR", 12.9), ("ECT", 60.0), ("IAT", 14.0)])
@pytest.mark.parametrize("start", [0, 5])
def test_a_sensor_stuck_from_the_first_reading_on_is_told(code: str, value: float, start: int) -> None:
    """Without days of its own it is held against the other vehicles; nobody else is told of."""
    town = Town(16, 120, channels=SOUND)
    _freeze(town, code, value, start=start)

    said = _said(town, 119)

    assert {vehicle for vehicle, _ in said} == {"V-0003"}
    assert said
    assert all(code in series for _, series in said)
    assert _said(town, start + LEAST_RUN - 2) == []


def test_a_value_that_differs_between_states_only_is_coarse() -> None:
    """A logger in whole volts reads 14 at idle and 13 after a soak, always: it rounds, nothing is stuck."""
    town = Town(16, 120, channels=SOUND)
    for state, value in (("warm_idle", 14.0), ("cruise", 14.0), ("koeo_soak", 13.0)):
        town.at("VPWR", state)[3] = value

    assert _said(town, 119) == []


def test_a_single_state_is_not_enough_for_a_voltage() -> None:
    """A charging voltage that never moved and was read at idle only may be a regulator and a coarse step."""
    town = Town(16, 120, channels=SOUND)
    for state in ("cruise", "koeo_soak"):
        town.at("VPWR", state)[3] = np.nan
    town.at("VPWR", "warm_idle")[3] = 14.0

    assert _said(town, 119) == []


def test_where_loggers_are_coarse_it_takes_longer() -> None:
    """Where most days of many vehicles agree, twenty equal days from the first on say nothing yet."""
    town = Town(16, 120, channels=SOUND)
    for state in ("warm_idle", "cruise", "koeo_soak"):
        values = town.at("VPWR", state)
        values[:] = np.round(values * 2) / 2
    _freeze(town, "VPWR", 13.0)

    assert _said(town, 50) == []


def test_too_few_others_tell_nothing() -> None:
    """Six vehicles do not tell how coarse loggers are."""
    town = Town(6, 120, channels=SOUND)
    _freeze(town, "VPWR", 12.9)

    assert _said(town, 119) == []


@pytest.mark.parametrize("start", [0, 90])
def test_what_stands_still_blames_no_engine(start: int) -> None:
    """A voltage stuck below its limit is no weak charging: that finding is held back."""
    town = Town(16, 120, channels=SOUND)
    _freeze(town, "VPWR", 12.9, start=start)

    said = compare(town.fleet(), town.daily(), town.last_day, Wish())

    ours = [one for one in said.findings if one.vehicle == "V-0003"]
    assert ours
    assert {one.held_back for one in ours} == {"unchanged"}
    assert {one.vehicle for one in said.findings} == {"V-0003"}


def test_what_stands_still_may_blame_its_sensor() -> None:
    """A coolant temperature that froze is a sensor's finding, and speaks."""
    town = Town(16, 120, channels=SOUND)
    _freeze(town, "ECT", 70.0, start=90)

    said = compare(town.fleet(), town.daily(), town.last_day, Wish())

    (ours,) = (one for one in said.findings if one.vehicle == "V-0003")
    assert (ours.causes[0][0], ours.held_back) == ("coolant_sensor_bias", "")


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
