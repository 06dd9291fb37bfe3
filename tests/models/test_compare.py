"""The front door: one day alone, or every day in turn."""

from dataclasses import replace

import numpy as np
import pytest

from ingest.parameters import SWITCHES
from models import series
from models.compare import Replay, compare, until
from models.findings import Assessment, Finding
from models.learning.fit import fit_day_of
from models.panel import Daily, Fleet, Wish
from tests.models.fleets import BARE, FEW, FIRST_DAY, SHEET, Town


def _busy(*, depots: int = 2) -> Town:
    """Give a fleet with drifts, a depot's step, clearings, repairs, a move and a switch."""
    town = Town(18, 190, channels=(*FEW, ("BARO", "warm_idle", 100.0, 0.4)), depots=depots)
    for name in SWITCHES:
        town.switch(name)[:] = town.rng.random((18, 190)) < 0.2
    town.drift("LONGFT1", "warm_idle", 3, onset=50, per_week=0.7)
    town.drift("VPWR", "warm_idle", 4, onset=70, per_week=-0.06)
    town.drift("IAC", "warm_idle", 5, onset=30, per_week=0.8)
    town.at("LONGFT1", "cruise")[town.depot == 0, 120:] += 3.0
    for state in ("warm_idle", "cruise"):
        town.at("LONGFT1", state)[6] += 3.0
        town.at("LONGFT1", state)[6, 100:102] = 0.0
    town.at("BARO", "warm_idle")[8, 90:] = 84.0
    town.switch("ac")[9, 100:] = 1.0
    town.silence(10, 150)
    town.did(3, 112, "repair", "unmetered_air")
    town.did(4, 130, "repair")
    town.did(5, 115, "memory_cleared")
    town.did(7, 125, "battery_replaced")
    town.did(11, 60, "complaint")
    town.did(12, 140, "logger_changed")
    return town


DAYS = (20, 45, 60, 61, 98, 113, 119, 131, 140, 141, 168, 189)
"""Early and late days, fit dates and the days around work among them."""


def _alone(town: Town, day: int) -> Assessment:
    """Assess one day as a nightly run would that knows nothing of later days."""
    known = [fact for fact in town.fleet().work if fact.day <= FIRST_DAY + day]
    fleet = replace(town.fleet(), work=tuple(known))
    return compare(fleet, until(town.daily(), FIRST_DAY + day), FIRST_DAY + day, Wish())


@pytest.mark.parametrize("at_once", [1, 7])
def test_how_many_vehicles_are_worked_on_together_changes_nothing(
    at_once: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Blocks of vehicles only bound the memory: findings, trends and corrected values stay the same."""
    town, day = _busy(), FIRST_DAY + DAYS[-1]
    together = Replay(town.fleet(), town.daily(), Wish())
    together.scene(day)
    monkeypatch.setattr(series, "VEHICLES_AT_ONCE", at_once)

    apart = Replay(town.fleet(), town.daily(), Wish())

    assert apart.at(day) == together.at(day)
    assert apart.trends(day) == together.trends(day)
    for one, other in zip(apart.corrected(day), together.corrected(day), strict=True):
        np.testing.assert_array_equal(one.value, other.value)


def test_walking_the_days_gives_the_nightly_answers() -> None:
    """A replay over months says on each day what a run on that day alone had said."""
    town = _busy()
    replay = Replay(town.fleet(), town.daily(), Wish())

    found = [replay.at(FIRST_DAY + day) for day in DAYS]

    assert len({fit_day_of(FIRST_DAY + day, FIRST_DAY) for day in DAYS}) > 5
    assert any(assessment.findings for assessment in found)
    assert any(assessment.events for assessment in found)
    for day, assessment in zip(DAYS, found, strict=True):
        assert assessment == _alone(town, day)


def test_days_may_be_asked_in_any_order() -> None:
    """Going back to an earlier day gives that day's answer, within a fit and across fits."""
    town = _busy()
    replay = Replay(town.fleet(), town.daily(), Wish())

    for day in (189, 60, 141, 140, 139):
        assert replay.at(FIRST_DAY + day) == _alone(town, day)


@pytest.mark.parametrize("day", [60, 113, 150])
def test_later_readings_and_work_are_ignored(day: int) -> None:
    """One day's answer with all data at hand is that of the data known by then."""
    town = _busy()

    assert compare(town.fleet(), town.daily(), FIRST_DAY + day, Wish()) == _alone(town, day)


def test_walked_trends_are_the_nightly_trends() -> None:
    """Descriptions of all series are the same too."""
    town = _busy()
    replay = Replay(town.fleet(), town.daily(), Wish())

    for day in (100, 141, 189):
        alone = Replay(town.fleet(), until(town.daily(), FIRST_DAY + day), Wish())
        assert replay.trends(FIRST_DAY + day) == alone.trends(FIRST_DAY + day)


def test_same_input_same_answer() -> None:
    """Asking twice gives equal assessments."""
    town = _busy()

    assert _alone(town, 160) == _alone(town, 160)


def test_input_is_left_as_it_was() -> None:
    """Comparing changes no array it was given."""
    town = _busy()
    fleet, daily = town.fleet(), town.daily()
    kept = {
        name: getattr(daily, name).copy() for name in ("vehicle", "day", "state", "values", "switched_on")
    }
    sheet, depot = fleet.sheet.copy(), fleet.depot.copy()

    Replay(fleet, daily, Wish()).at(town.last_day)

    for name, array in kept.items():
        np.testing.assert_array_equal(getattr(daily, name), array)
    np.testing.assert_array_equal(fleet.sheet, sheet)
    np.testing.assert_array_equal(fleet.depot, depot)


def _shuffled(fleet: Fleet, daily: Daily, seed: int) -> tuple[Fleet, Daily]:
    """Put the vehicles in another order, rows sorted accordingly."""
    order = np.random.default_rng(seed).permutation(len(fleet.vehicles))
    place = np.argsort(order)
    vehicle = place[daily.vehicle].astype(np.int32)
    rows = np.lexsort((daily.state, daily.day, vehicle))
    work = [replace(fact, vehicle=int(place[fact.vehicle])) for fact in fleet.work]
    moved = replace(
        fleet,
        vehicles=tuple(fleet.vehicles[old] for old in order),
        sheet=fleet.sheet[order],
        depot=fleet.depot[order],
        work=tuple(sorted(work, key=lambda fact: (fact.vehicle, fact.day))),
    )
    return moved, Daily(
        vehicle=vehicle[rows],
        day=daily.day[rows],
        state=daily.state[rows],
        readings=daily.readings[rows],
        values=daily.values[rows],
        switched_on=daily.switched_on[rows],
    )


def _by_vehicle(findings: tuple[Finding, ...]) -> dict[str, tuple[str, str, str, str]]:
    return {item.vehicle: (item.tier, item.group, item.causes[0][0], item.lead.series) for item in findings}


def test_the_order_of_vehicles_does_not_matter() -> None:
    """Each vehicle has the same finding wherever it stands in the list."""
    town = _busy()
    straight = compare(town.fleet(), town.daily(), town.last_day, Wish())

    for seed in range(3):
        shuffled = compare(*_shuffled(town.fleet(), town.daily(), seed), town.last_day, Wish())

        assert _by_vehicle(shuffled.findings) == _by_vehicle(straight.findings)
        assert {item.vehicle: item.word for item in shuffled.vehicles} == {
            item.vehicle: item.word for item in straight.vehicles
        }
        scores = {item.vehicle: item.score for item in straight.findings}
        for item in shuffled.findings:
            assert item.score == pytest.approx(scores[item.vehicle], rel=1e-6, abs=1e-3)


def test_an_empty_fleet_is_assessed() -> None:
    """No vehicles: an assessment without anything in it."""
    town = Town(0, 0, sheet=None, depots=0)

    said = compare(town.fleet(), town.daily(), FIRST_DAY, Wish())

    assert (said.findings, said.vehicles, said.events, said.breaks) == ((), (), (), ())
    assert Replay(town.fleet(), town.daily(), Wish()).trends(FIRST_DAY) == ()


def test_a_fleet_without_readings_cannot_be_judged() -> None:
    """Vehicles that never sent anything are all named as such."""
    town = Town(3, 0)

    said = compare(town.fleet(), town.daily(), FIRST_DAY, Wish())

    assert said.findings == ()
    assert [state.reason for state in said.vehicles] == ["no_data"] * 3


def test_a_day_before_the_first_reading() -> None:
    """Before the first reading there is nothing to say, replayed or alone."""
    town = Town(3, 40)

    walked = Replay(town.fleet(), town.daily(), Wish()).at(FIRST_DAY - 5)

    assert walked == compare(town.fleet(), town.daily(), FIRST_DAY - 5, Wish())
    assert walked.findings == ()


@pytest.mark.parametrize("sheet", [SHEET, None])
@pytest.mark.parametrize("days", [1, 2, 10, 160])
def test_one_vehicle_alone(days: int, sheet: object) -> None:
    """A fleet of one is assessed from its first day on, with a sheet or without."""
    town = Town(1, days, sheet=sheet)  # type: ignore[arg-type]

    said = compare(town.fleet(), town.daily(), town.last_day, Wish())

    assert [finding for finding in said.findings if finding.tier == "ticket"] == []
    assert len(said.vehicles) == 1


def test_one_vehicle_alone_that_drifts_is_found() -> None:
    """Without like vehicles a vehicle is held against its own history."""
    town = Town(1, 160, sheet=None)
    town.drift("LONGFT1", "warm_idle", 0, onset=90, per_week=1.5)

    findings = compare(town.fleet(), town.daily(), town.last_day, Wish()).findings

    assert [finding.tier for finding in findings] == ["ticket"]
    assert findings[0].lead.peers == 1


@pytest.mark.parametrize("value", [np.nan, 0.0, 5.0])
def test_constant_and_missing_series_say_nothing(value: float) -> None:
    """Series that never move, or hold nothing, give no finding and no error."""
    town = Town(10, 120, sheet=BARE)
    for code, state, _, _ in FEW:
        town.at(code, state)[:] = value
    daily = town.daily()
    if np.isnan(value):
        rows = Town(10, 120).daily()
        daily = replace(rows, values=np.full_like(rows.values, np.nan))

    said = compare(town.fleet(), daily, town.last_day, Wish())

    assert said.findings == ()
    assert len(said.vehicles) == 10


def test_a_drift_among_missing_readings_is_found() -> None:
    """Half the readings missing at random leaves the drift to be seen."""
    town = Town(16, 160, sheet=BARE)
    town.drift("LONGFT1", "warm_idle", 3, onset=90, per_week=1.2)
    for code, state, _, _ in FEW:
        town.at(code, state)[town.rng.random((16, 160)) < 0.5] = np.nan

    findings = compare(town.fleet(), town.daily(), town.last_day, Wish()).findings

    assert [finding.vehicle for finding in findings] == ["V-0003"]


def test_breaks_are_listed_with_the_assessment() -> None:
    """Recorded and found breaks known by the day stand on the assessment."""
    said = _alone(_busy(), 131)

    listed = {(item.vehicle, item.reason, item.found) for item in said.breaks}
    assert ("V-0003", "repair", False) in listed
    assert ("V-0005", "memory_cleared", False) in listed
    assert ("V-0006", "memory_cleared", True) in listed
    assert not any(item.vehicle == "V-0012" for item in said.breaks)
