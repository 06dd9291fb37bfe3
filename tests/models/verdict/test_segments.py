"""From which day on a series is held against its own past."""

import numpy as np
import pytest

from models.compare import Replay, compare
from models.findings import SeriesReading
from models.learning.breaks import RELEARN_DAYS
from models.learning.fit import fit_day_of
from models.panel import Wish
from models.series import NAMES, PLACE
from models.verdict.judge import Verdict
from tests.models.fleets import BARE, FEW, FIRST_DAY, SOUND, Town

TRIM = PLACE["LONGFT1@warm_idle"]


def _verdict(town: Town, day: int | None = None) -> Verdict:
    today = town.last_day if day is None else FIRST_DAY + day
    return Replay(town.fleet(), town.daily(), Wish()).verdict(today)


def _begun(town: Town, vehicle: int = 3, day: int | None = None) -> dict[str, int]:
    """Give the series of a vehicle whose segment began later than the history, and when."""
    start = _verdict(town, day).start[vehicle] - FIRST_DAY
    return {NAMES[place]: int(start[place]) for place in np.flatnonzero(start)}


def _readings(town: Town, vehicle: int = 3) -> dict[str, SeriesReading]:
    trends = Replay(town.fleet(), town.daily(), Wish()).trends(town.last_day)
    return {trend.reading.series: trend.reading for trend in trends if trend.vehicle == f"V-{vehicle:04d}"}


def test_without_work_all_begin_with_the_first_day() -> None:
    """Nothing done, nothing begun anew."""
    assert _begun(Town(8, 60)) == {}


def test_a_told_repair_begins_its_series_only() -> None:
    """A thermostat begins the coolant temperatures anew from the day after, on that vehicle alone."""
    town = Town(8, 100, channels=SOUND)
    town.did(3, 60, "repair", "thermostat_open")

    assert _begun(town) == {"ECT@cruise": 61, "ECT@warm_idle": 61}
    assert _begun(town, 4) == {}


def test_a_told_repair_begins_what_is_computed_from_its_series() -> None:
    """A load input at rest again lets idle speed and pressure fall back: no new fault, and trims stay."""
    town = Town(8, 100, channels=SOUND)
    town.did(3, 60, "repair", "load_switch_stuck")

    begun = _begun(town)

    assert {"IAC@warm_idle", "RPM@warm_idle", "MAP@warm_idle"} <= set(begun)
    assert not any(name.startswith(("LONGFT", "VPWR", "ECT")) for name in begun)


def test_a_repair_in_the_future_is_not_known() -> None:
    """A repair counts from its day on, not before."""
    town = Town(8, 100, channels=SOUND)
    town.did(3, 60, "repair", "thermostat_open")

    assert _begun(town, day=59) == {}
    assert _begun(town, day=60) != {}


@pytest.mark.parametrize("kind", ["memory_cleared", "complaint", "no_fault_found", "note"])
def test_other_records_begin_nothing(kind: str) -> None:
    """Cleared memory, complaints and inspections leave the vehicle's own normal as it was."""
    town = Town(8, 100)
    town.did(3, 60, kind)

    assert _begun(town) == {}


def test_a_new_battery_begins_voltages_and_no_trim() -> None:
    """A new battery begins resting, cranking and running voltages anew; trims are only relearned."""
    town = Town(8, 100, channels=SOUND)
    town.did(3, 60, "battery_replaced")

    begun = _begun(town)

    assert set(begun.values()) == {61}
    assert {"VPWR@koeo_soak", "CRANK_VMIN@crank", "VPWR@warm_idle"} <= set(begun)
    assert not any(name.startswith("LONGFT") for name in begun)


def test_a_new_logger_begins_everything_that_day() -> None:
    """Another logger may read everything differently: all series begin anew with its first day."""
    town = Town(8, 100)
    town.did(3, 60, "logger_changed")

    assert _begun(town) == dict.fromkeys(NAMES, 60)


def _swapped(*, step: float = 0.0, told: bool = True) -> Town:
    """Give a fleet in which one drifting vehicle gets another logger on day 90, which reads higher."""
    town = Town(16, 150, sheet=BARE)
    town.drift("LONGFT1", "warm_idle", 3, onset=40, per_week=0.8)
    town.at("LONGFT1", "warm_idle")[3, 90:] += step
    if told:
        town.did(3, 90, "logger_changed")
    return town


def test_a_new_logger_does_not_make_a_drift_normal() -> None:
    """A drift that goes on through a change of logger is taken up again once the readings show that."""
    begun = _begun(_swapped())

    assert _begun(_swapped(), day=91) == dict.fromkeys(NAMES, 90)
    assert "LONGFT1@warm_idle" not in begun
    assert begun["VPWR@warm_idle"] == 90
    said = compare(_swapped().fleet(), _swapped().daily(), FIRST_DAY + 120, Wish())
    assert [finding.vehicle for finding in said.findings] == ["V-0003"]


def test_a_logger_that_reads_otherwise_begins_anew() -> None:
    """A step at the change is the logger's: what came before is not held against it."""
    assert _begun(_swapped(step=-9.0))["LONGFT1@warm_idle"] == 90


def test_a_walk_over_a_change_of_logger_gives_what_each_day_gives() -> None:
    """Day by day or at once, the segments are the same."""
    town = _swapped()
    replay = Replay(town.fleet(), town.daily(), Wish())

    for day in (89, 90, 94, 97, 99, 111):
        walked = replay.verdict(FIRST_DAY + day)
        np.testing.assert_array_equal(walked.start, _verdict(town, day).start)


def test_the_later_of_two_repairs_counts() -> None:
    """Two repairs of the same series: the newest begins it, in whatever order they were loaded."""
    town = Town(8, 100, channels=SOUND)
    town.did(3, 70, "repair", "thermostat_open")
    town.did(3, 40, "repair", "coolant_sensor_bias")

    begun = _begun(town)

    assert begun["ECT@cruise"] == 71
    assert begun["ECT-IAT@koeo_soak"] == 41


def _faulty(*, repaired: int, cause: str = "", cured: bool = True) -> Town:
    """Give a fleet with one drifting trim, repaired on a day."""
    town = Town(16, 160, sheet=BARE)
    town.drift("LONGFT1", "warm_idle", 3, onset=50, per_week=1.2)
    if cured:
        town.at("LONGFT1", "warm_idle")[3, repaired + 1 :] -= 1.2 / 7 * (np.arange(repaired + 1, 160) - 50)
    town.did(3, repaired, "repair", cause)
    return town


@pytest.mark.parametrize("cause", ["", "unknown"])
def test_an_untold_repair_begins_what_the_data_showed(cause: str) -> None:
    """A repair that says nothing begins the faulty mixture anew, and leaves the voltage alone."""
    begun = _begun(_faulty(repaired=110, cause=cause))

    assert begun["LONGFT1@warm_idle"] == 111 + RELEARN_DAYS
    assert "VPWR@warm_idle" not in begun
    assert _begun(_faulty(repaired=110, cause=cause), 4) == {}


def test_an_untold_repair_begins_all_that_one_fault_moved() -> None:
    """A trim that speaks loudest by itself takes the others of its fault along."""
    town = Town(16, 160, sheet=BARE)
    for state, per_week in (("warm_idle", 0.3), ("cruise", 2.4)):
        town.drift("LONGFT1", state, 3, onset=50, per_week=per_week)
        town.at("LONGFT1", state)[3, 111:] -= per_week / 7 * (np.arange(111, 160) - 50)
    town.did(3, 110, "repair")

    begun = _begun(town)

    assert begun["LONGFT1@cruise"] == begun["LONGFT1@warm_idle"] == 111 + RELEARN_DAYS
    assert "VPWR@warm_idle" not in begun


def test_an_untold_repair_where_nothing_was_wrong_begins_nothing() -> None:
    """A tyre change on a vehicle that showed nothing wipes out no memory."""
    town = _faulty(repaired=110)
    town.did(7, 100, "repair")

    assert _begun(town, 7) == {}


def test_a_tyre_change_does_not_hide_a_slow_drift() -> None:
    """An untold repair before the drift shows leaves the baseline, and the drift is found later."""
    town = _faulty(repaired=52, cured=False)

    said = compare(town.fleet(), town.daily(), town.last_day, Wish())

    assert [finding.vehicle for finding in said.findings] == ["V-0003"]


@pytest.mark.parametrize("cause", ["", "unmetered_air"])
def test_a_cure_is_not_a_new_fault(cause: str) -> None:
    """Trims that come back after the repair raise nothing in the other direction."""
    town = _faulty(repaired=110, cause=cause)

    said = compare(town.fleet(), town.daily(), town.last_day, Wish())

    assert said.findings == ()


def test_a_repair_that_nobody_wrote_down_begins_what_it_cured() -> None:
    """Readings that fall back from a fault begin anew; its days must not count as normal."""
    town = _faulty(repaired=110)
    town.work.clear()

    begun = _begun(town)

    assert 111 <= begun["LONGFT1@warm_idle"] <= 117
    assert "VPWR@warm_idle" not in begun
    assert _begun(town, day=112) == {}
    assert _begun(town, 4) == {}
    said = compare(town.fleet(), town.daily(), town.last_day, Wish())
    assert said.findings == ()
    assert [(item.vehicle, item.reason, item.found) for item in said.breaks] == [("V-0003", "returned", True)]


def test_a_bad_tank_begins_nothing() -> None:
    """A trim that is off for a week and comes back is no fault that somebody repaired."""
    town = Town(16, 160, sheet=BARE)
    town.at("LONGFT1", "warm_idle")[3, 100:107] += 4.0

    assert _begun(town) == {}


def test_another_series_that_falls_back_is_no_return() -> None:
    """Idle speed that comes down says nothing of a trim that goes on drifting: its memory stays."""
    town = _faulty(repaired=110, cured=False)
    town.work.clear()
    town.at("RPM", "warm_idle")[3, 60:111] += 80.0

    assert "LONGFT1@warm_idle" not in _begun(town)


def test_falling_short_is_no_return() -> None:
    """A fault that eases by a third stands: its days stay in the record."""
    town = _faulty(repaired=110, cured=False)
    town.work.clear()
    town.at("LONGFT1", "warm_idle")[3, 111:] = town.at("LONGFT1", "warm_idle")[3, 111:] - 3.5

    assert _begun(town) == {}


@pytest.mark.parametrize(
    ("kind", "cause", "series", "reason"),
    [
        ("repair", "unmetered_air", "LONGFT1@warm_idle", "repair"),
        ("battery_replaced", "", "VPWR@warm_idle", "battery_replaced"),
        ("logger_changed", "", "RPM@warm_idle", "logger_changed"),
        ("memory_cleared", "", "LONGFT1@warm_idle", "first_data"),
    ],
)
def test_readings_say_why_their_segment_began(kind: str, cause: str, series: str, reason: str) -> None:
    """Every reading names the reason of its segment; what was not begun anew says first data."""
    town = Town(10, 120)
    town.did(3, 60, kind, cause)

    readings = _readings(town)

    assert readings[series].segment_reason == reason
    assert readings[series].segment_from == FIRST_DAY + (0 if reason == "first_data" else 60) + (
        reason in ("repair", "battery_replaced")
    )


def _moved(*, back: bool = False) -> Town:
    """Give a fleet in which one vehicle goes to live 1,500 m higher on day 80."""
    town = Town(10, 140, channels=(*FEW, ("BARO", "warm_idle", 100.0, 0.4)))
    town.at("BARO", "warm_idle")[3, 80:] -= 16.0
    if back:
        town.at("BARO", "warm_idle")[3, 81:] += 16.0
    return town


def test_a_move_to_another_altitude_begins_place_bound_series() -> None:
    """A vehicle that came to live higher begins its mixture and idle air anew, not its voltage."""
    begun = _begun(_moved())

    assert set(begun.values()) == {80}
    assert "LONGFT1@warm_idle" in begun
    assert "VPWR@warm_idle" not in begun
    assert _readings(_moved())["LONGFT1@warm_idle"].segment_reason == "break_found"


def test_a_move_is_known_on_the_second_day() -> None:
    """One day at another altitude may be a trip; two readings in a row are believed."""
    assert _begun(_moved(), day=80) == {}
    assert _begun(_moved(), day=81) != {}
    assert _begun(_moved(back=True)) == {}


def test_an_untold_repair_is_judged_by_what_was_known_then() -> None:
    """A move that became known after an untold repair does not take its evidence away."""
    town = _faulty(repaired=120)
    town.at("BARO", "warm_idle")[:] = 100.0
    town.at("BARO", "warm_idle")[3, 115:] = 84.0
    town.at("BARO", "warm_idle")[3, 116:121] = np.nan
    replay = Replay(town.fleet(), town.daily(), Wish())
    days = range(118, 132)

    walked = [replay.verdict(FIRST_DAY + day) for day in days][-1]

    assert len({fit_day_of(FIRST_DAY + day, FIRST_DAY) for day in days}) == 1
    assert walked.start[3, TRIM] == FIRST_DAY + 121 + RELEARN_DAYS
    np.testing.assert_array_equal(walked.start, _verdict(town, days[-1]).start)
