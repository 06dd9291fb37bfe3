"""Readings that cannot be right are named; odd engines are not."""

from dataclasses import replace

import numpy as np
import pytest

from models.compare import compare
from models.findings import Unusable
from models.panel import Daily, Fleet, Wish
from models.physics import absolute_load, speed_density_flow
from models.quality.plausible import bands, implausible, read_checks
from tests.models.fleets import FIRST_DAY, SHEET, Town

SPEED, PRESSURE, AIR, LITRES = 750.0, 35.0, 30.0, 2.4


def _town(flow: float, load: float | None = None, outside: float = 98.0) -> Town:
    channels = (
        ("MAF", "warm_idle", flow, 0.01),
        ("MAP", "warm_idle", PRESSURE, 0.1),
        ("IAT", "warm_idle", AIR, 0.1),
        ("RPM", "warm_idle", SPEED, 1.0),
        ("LOAD_ABS", "warm_idle", float(absolute_load(flow, SPEED, LITRES)) if load is None else load, 0.1),
        ("BARO", "koeo", outside, 0.1),
    )
    return Town(2, 40, channels=channels)


def _told(town: Town, day: int = 35) -> list[tuple[str, str]]:
    fleet, daily = town.fleet(), town.daily()
    found = implausible(fleet, read_checks(fleet, daily), FIRST_DAY + day)
    return [(one.series, one.reason) for one in found if one.vehicle == "V-0000"]


SOUND_FLOW = float(speed_density_flow(PRESSURE, AIR, SPEED, LITRES, 0.6))


def test_a_sound_engine_is_believed() -> None:
    """The flow that a filling of 0.6 gives, its own absolute load and plain air are all plausible."""
    assert _told(_town(SOUND_FLOW)) == []


def test_a_meter_a_fifth_low_is_a_fault_not_a_wrong_scale() -> None:
    """What the drift detector should find stays believable here."""
    assert _told(_town(0.8 * SOUND_FLOW)) == []


def test_a_flow_in_the_wrong_unit_is_told() -> None:
    """A flow 3.6 times too high (kg/h for g/s) breathes more than any engine can."""
    assert _told(_town(3.6 * SOUND_FLOW)) == [
        ("MAF@warm_idle", "flow_against_pressure"),
        ("ln MAF/MAP@warm_idle", "flow_against_pressure"),
    ]


def test_a_load_by_one_cylinder_is_told() -> None:
    """Absolute load four times off, one cylinder's air over the whole engine, disagrees with flow."""
    load = float(absolute_load(SOUND_FLOW, SPEED, LITRES)) * 4

    assert _told(_town(SOUND_FLOW, load)) == [("LOAD_ABS@warm_idle", "load_against_flow")]


@pytest.mark.parametrize(("outside", "wrong"), [(55.0, False), (103.5, False), (40.0, True), (130.0, True)])
def test_outside_pressure_is_that_of_some_road(outside: float, *, wrong: bool) -> None:
    """Mountain towns and high pressure are believed; a pressure of no inhabited place is not."""
    assert (("MAP-BARO@koeo", "pressure_range") in _told(_town(SOUND_FLOW, outside=outside))) is wrong


def test_pressure_bounds_follow_the_standard_atmosphere() -> None:
    """The bounds are 5,100 m and a shore 430 m below the sea, give or take the weather."""
    assert bands()[2] == pytest.approx((53.3 - 6.0, 106.6 + 6.0), abs=0.2)


def test_one_wild_day_condemns_nothing() -> None:
    """The median of four weeks is judged."""
    town = _town(SOUND_FLOW)
    town.at("MAF", "warm_idle")[0, 20] *= 40

    assert _told(town) == []


def test_few_days_say_nothing() -> None:
    """Four days of impossible readings are not enough."""
    assert _told(_town(3.6 * SOUND_FLOW), day=3) == []


def test_without_displacement_flow_is_not_checked() -> None:
    """A sheet that does not say how large the engine is, and a missing sheet, judge nothing."""
    unsaid = _town(3.6 * SOUND_FLOW)
    unsaid.sheets = (replace(SHEET, displacement_l=None),)
    bare = _town(3.6 * SOUND_FLOW)
    bare.sheets, bare.sheet = (), np.full(2, -1, np.int32)

    assert _told(unsaid) == _told(bare) == []


def test_later_readings_play_no_part() -> None:
    """A scale that went wrong after the evaluation day is not known on it."""
    town = _town(SOUND_FLOW)
    town.at("MAF", "warm_idle")[:, 20:] *= 5

    assert _told(town, day=19) == []


def test_the_assessment_names_them() -> None:
    """What cannot be right is part of the day's assessment."""
    town = _town(3.6 * SOUND_FLOW)
    fleet: Fleet = town.fleet()
    daily: Daily = town.daily()

    said = compare(fleet, daily, FIRST_DAY + 35, Wish()).unusable

    assert Unusable(vehicle="V-0001", series="MAF@warm_idle", reason="flow_against_pressure") in said
