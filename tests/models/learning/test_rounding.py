"""Steps of loggers, found in their readings."""

import numpy as np
import pytest
from numpy.typing import NDArray

from models.compare import Replay
from models.learning.loggers import find_loggers
from models.learning.rounding import LATELY_DAYS, LATELY_LEAST, rounding_steps
from models.panel import Wish
from models.series import PLACE, SERIES, observe
from tests.models.fleets import FEW, FIRST_DAY, SOUND, Town

COARSE = {"LONGFT1": 1.0, "IAC": 1.0, "RPM": 10.0, "VPWR": 0.1, "ECT": 2.0}
CHANNELS = (*FEW, ("ECT", "warm_idle", 90.0, 1.5), ("ECT", "cruise", 88.0, 1.5))


def _town(days: int = 150) -> Town:
    """Give a fleet whose trims and temperatures have the standard's steps."""
    town = Town(6, days, channels=CHANNELS)
    town.round_off({"LONGFT1": 0.78125, "ECT": 1.0})
    return town


def _steps(town: Town, day: int = 149) -> NDArray[np.float64]:
    seen = observe(town.fleet(), town.daily())
    loggers = find_loggers(town.fleet(), town.daily())
    return rounding_steps(seen, seen.day <= FIRST_DAY + day, loggers, town.vehicles, FIRST_DAY + day)


def test_steps_are_those_of_the_readings() -> None:
    """A coarse logger's steps are found in all states of a parameter; what lies on no grid has none."""
    town = _town()
    town.round_off(COARSE, 2)

    steps = _steps(town)

    for code, step in COARSE.items():
        for place in [number for number, series in enumerate(SERIES) if series.scale == code]:
            if SERIES[place].states[0] in ("warm_idle", "cruise"):
                assert steps[2, place] == pytest.approx(step), SERIES[place].name
    assert steps[1, PLACE["VPWR@cruise"]] == 0.0
    assert steps[1, PLACE["ECT@cruise"]] == pytest.approx(1.0)
    assert steps[2, PLACE["ac@warm_idle"]] == 0.0


def test_steps_need_readings_and_follow_a_change() -> None:
    """Fewer readings than the least say nothing; after a told change only the new logger's count."""
    town = _town()
    town.round_off(COARSE, 2, slice(70, None))
    town.did(2, 70, "logger_changed")
    volts = PLACE["VPWR@warm_idle"]

    assert _steps(town, LATELY_LEAST // 2 - 1)[2, volts] == 0.0
    assert _steps(town, 69)[2, volts] == 0.0
    assert _steps(town, 70 + LATELY_LEAST)[2, volts] == pytest.approx(0.1)


def test_steps_of_long_ago_do_not_count() -> None:
    """A vehicle that has not reported for longer than that has no steps."""
    town = _town()
    town.round_off(COARSE, 2)
    for code, state, _, _ in CHANNELS:
        town.at(code, state)[2, 149 - LATELY_DAYS :] = np.nan

    assert not _steps(town)[2].any()


def _whole_volts(level: float) -> Town:
    """Give a fleet in which one logger reads whole volts; its vehicle charges at a level from day 110 on."""
    town = Town(16, 150, channels=FEW)
    for state in ("warm_idle", "cruise"):
        volts = town.at("VPWR", state)
        volts += 13.54 - volts.mean(axis=1, keepdims=True)
        volts[3, 110:] += level - 13.54
    town.round_off({"VPWR": 1.0}, 3)
    return town


@pytest.mark.parametrize(("level", "told"), [(13.44, False), (11.9, True)])
def test_one_step_of_a_coarse_logger_is_no_fault(level: float, *, told: bool) -> None:
    """A tenth of a volt over an edge of rounding reads as a whole one and is no ticket; two volts are one."""
    town = _whole_volts(level)

    findings = Replay(town.fleet(), town.daily(), Wish()).at(town.last_day).findings

    assert [one.vehicle for one in findings if one.tier == "ticket"] == (
        [town.fleet().vehicles[3]] if told else []
    )


def test_differences_have_the_steps_of_what_they_are_made_from() -> None:
    """Two temperatures in steps of 5 degC differ in steps of 5 degC."""
    town = Town(6, 150, channels=SOUND)
    for code in ("ECT", "IAT"):
        values = town.at(code, "koeo_soak")
        values += town.rng.normal(0.0, 6.0, values.shape)
        values[2] = np.round(values[2] / 5.0) * 5.0

    steps = _steps(town)

    assert steps[2, PLACE["ECT-IAT@koeo_soak"]] == pytest.approx(5.0)
    assert steps[1, PLACE["ECT-IAT@koeo_soak"]] == 0.0
