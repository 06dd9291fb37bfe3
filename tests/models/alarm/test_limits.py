"""The sheet's band."""

from dataclasses import replace
from math import log

import numpy as np
import pytest

from models.alarm.limits import FRESH_DAYS, READINGS, read_bands, running_medians, stand
from models.compare import Replay, compare
from models.findings import Finding
from models.learning.fit import gather
from models.panel import SheetFacts, Wish
from models.series import PLACE
from tests.models.fleets import BARE, FIRST_DAY, SHEET, Town

TRIM, VOLTS = PLACE["LONGFT1@warm_idle"], PLACE["VPWR@warm_idle"]
QUIET = (("LONGFT1", "warm_idle", 2.0, 0.8), ("IAC", "warm_idle", 30.0, 1.0))


def _town(
    beyond: float, since: int, *, sheet: SheetFacts | None = SHEET, every: int = 1, days: int = 120
) -> Town:
    """Give a fleet in which one vehicle's trim lies at a level from a day on, read every so many days."""
    town = Town(12, days, channels=QUIET, sheet=sheet)
    trim = town.at("LONGFT1", "warm_idle")
    trim[3, since:] = beyond + np.tile([-0.4, 0.4, 0.0], days)[: days - since]
    skipped = np.arange(days) % every != 0
    for code, state, _, _ in QUIET:
        town.at(code, state)[:, skipped] = np.nan
    return town


def _outside(town: Town, day: int | None = None, *, vehicle: int = 3) -> int:
    """Say where one vehicle's idle trim stands: 1 above its band, -1 below, 0 inside or not judged."""
    today = town.last_day if day is None else FIRST_DAY + day
    return int(Replay(town.fleet(), town.daily(), Wish()).verdict(today).outside[vehicle, TRIM])


def _crossings(town: Town) -> list[Finding]:
    said = compare(town.fleet(), town.daily(), town.last_day, Wish())
    return [finding for finding in said.findings if finding.lead.outside]


@pytest.mark.parametrize("every", [1, 2, 3])
@pytest.mark.parametrize(("level", "side"), [(9.5, 1), (-9.5, -1), (7.0, 0), (-7.0, 0)])
def test_a_lasting_crossing_counts(level: float, side: int, every: int) -> None:
    """A month beyond the band counts however often the vehicle reports; inside the band does not."""
    assert _outside(_town(level, 90, every=every)) == side


def test_crossing_takes_more_than_a_week() -> None:
    """A week beyond the limit may be one bad tank; within two weeks most readings decide."""
    town = _town(10.0, 60)

    assert _outside(town, 66) == 0
    assert _outside(town, 74) == 1


def test_a_crossing_passes() -> None:
    """Back inside for as long, the crossing is over."""
    town = _town(10.0, 60)
    town.at("LONGFT1", "warm_idle")[3, 90:] = 2.0

    assert _outside(town, 89) == 1
    assert _outside(town, 104) == 0


def test_nine_readings_are_needed() -> None:
    """Below nine readings there is no verdict, with nine there is."""
    rare = _town(10.0, 0, every=14)

    assert _outside(rare, 14 * (READINGS - 2)) == 0
    assert _outside(rare, 14 * (READINGS - 1)) == 1


@pytest.mark.parametrize("sheet", [None, BARE])
def test_without_a_sheet_no_limit(sheet: SheetFacts | None) -> None:
    """Never a limit without a sheet that names one: no verdict, none on findings, none on trends."""
    town = _town(30.0, 60, sheet=sheet)
    replay = Replay(town.fleet(), town.daily(), Wish())

    findings = replay.at(town.last_day).findings
    readings = [reading for finding in findings for reading in finding.series]
    readings += [trend.reading for trend in replay.trends(town.last_day)]

    assert findings
    assert all(finding.rule == "drift" for finding in findings)
    for reading in readings:
        assert (reading.limit_low, reading.limit_high, reading.outside) == (None, None, False)
        assert (reading.reaches_limit_on, reading.reaches_limit_low, reading.reaches_limit_high) == (
            None,
        ) * 3


def test_a_sheets_limit_holds_for_its_vehicles_only() -> None:
    """A vehicle on another sheet, or on none, is not held against this one's band."""
    town = _town(10.0, 60)
    town.sheets = (SHEET, BARE)
    town.sheet[3] = 1
    assert _outside(town) == 0

    town.sheet[3] = -1
    assert _outside(town) == 0


def test_readings_with_a_load_on_are_not_comparable() -> None:
    """Idle air with the air conditioner on says nothing about the sheet's band, with it off it does."""
    limit = (("IAC", "warm_idle", 10.0, 40.0),)
    town = Town(12, 120, channels=QUIET, sheet=replace(SHEET, limits=limit))
    town.switch("ac")[:] = 0.0
    town.switch("ac")[3] = np.tile([1.0, 1.0, 1.0, 0.0], 30)
    town.at("IAC", "warm_idle")[3] = np.tile([60.0, 60.0, 60.0, 30.0], 30)
    replay = Replay(town.fleet(), town.daily(), Wish())
    assert replay.verdict(town.last_day).outside[3, PLACE["IAC@warm_idle"]] == 0

    town.switch("ac")[3] = 0.0
    town.at("IAC", "warm_idle")[3, 90:] = 60.0
    replay = Replay(town.fleet(), town.daily(), Wish())
    assert replay.verdict(town.last_day).outside[3, PLACE["IAC@warm_idle"]] == 1


def test_a_new_segment_starts_again() -> None:
    """After a told repair the readings before it are not held against the band any more."""
    town = _town(10.0, 60)
    town.did(3, 100, "repair", "fuel_delivery_low")

    assert _outside(town, 99) == 1
    assert [_outside(town, day) for day in (100, 101, 112)] == [0, 0, 0]


def test_still_beyond_after_the_repair() -> None:
    """A repair that did not help is beyond the limit again after two weeks of readings of its own."""
    town = _town(10.0, 60, days=160)
    town.did(3, 100, "repair", "fuel_delivery_low")

    assert _outside(town, 159) == 1


def test_relearning_is_not_comparable() -> None:
    """A week of zeros after cleared memory neither closes nor opens a crossing."""
    town = _town(10.0, 60)
    town.did(3, 100, "memory_cleared")
    town.at("LONGFT1", "warm_idle")[3, 100:108] = 0.0

    assert _outside(town, 107) == 1


@pytest.mark.parametrize(("days", "side"), [(FRESH_DAYS - 1, 1), (FRESH_DAYS + 1, 0)])
def test_old_readings_speak_of_the_past(days: int, side: int) -> None:
    """A crossing whose newest reading is old is no verdict on today."""
    assert _outside(_town(10.0, 60), 119 + days) == side


def test_a_one_sided_limit() -> None:
    """A band with one side is never left on the other."""
    upper = replace(SHEET, limits=(("LONGFT1", "warm_idle", None, 8.0),))

    assert _outside(_town(10.0, 60, sheet=upper)) == 1
    assert _outside(_town(-30.0, 60, sheet=upper)) == 0


def test_a_crossing_is_a_ticket_whatever_else_moved() -> None:
    """A vehicle beyond its limit from its first day on, so without any change, is told all the same."""
    findings = _crossings(_town(10.0, 0))

    assert [(item.vehicle, item.rule, item.tier) for item in findings] == [("V-0003", "limit", "ticket")]
    lead = findings[0].lead
    assert (lead.limit_low, lead.limit_high, lead.direction) == (-8.0, 8.0, "up")
    assert lead.reaches_limit_on == FIRST_DAY + 119
    assert findings[0].probability_fault >= 0.6


@pytest.mark.parametrize(("memory", "side"), [(1.0, 1), (12.0, 0)])
def test_the_longer_a_series_remembers_the_further_beyond(memory: float, side: int) -> None:
    """A median of readings that resemble their neighbours wanders across a limit that it does not pass."""
    town = _town(9.0, 60)
    replay = Replay(town.fleet(), town.daily(), Wish())
    scene = replay.scene(town.last_day)
    noise = scene.fit.noise
    told = stand(
        scene.material,
        scene.fit.history,
        scene.medians,
        scene.bands,
        day=town.last_day,
        start=replay.verdict(town.last_day).start,
        noise=replace(noise, inflation=np.full_like(noise.inflation, memory)),
    )

    readings = scene.medians.count[scene.medians.count > 0].max()
    assert told.outside[3, TRIM] == side
    assert told.margin[3, TRIM] == pytest.approx(
        2.0 * 1.2533 * noise.sigma[3, TRIM] * (memory / readings) ** 0.5, rel=1e-3
    )
    assert np.isnan(told.margin[3, VOLTS])


def test_two_readings_outvoted() -> None:
    """A few readings beyond the band among many inside are outvoted."""
    town = _town(2.0, 60)
    town.at("LONGFT1", "warm_idle")[3, [110, 113, 116, 119]] = 40.0

    assert _outside(town) == 0


def test_limits_find_their_series() -> None:
    """Each limit stands at the series of its parameter and state; one without a series stands nowhere."""
    limits = (
        ("VPWR", "warm_idle", 13.0, None),
        ("MAP", "koeo", 90.0, 105.0),
        ("KNOCK_RETARD", "cruise", 0.0, 5.0),
        ("MAF", "warm_idle", 0.0, 4.0),
    )
    town = Town(2, 30, sheet=replace(SHEET, limits=limits))

    bands = read_bands(town.fleet())

    assert bands.low.shape[0] == 2
    assert bands.low[0, VOLTS] == 13.0
    assert np.isnan(bands.high[0, VOLTS])
    assert np.isnan(bands.low[1]).all()
    flow = PLACE["MAF@warm_idle"]
    assert np.isnan(bands.low[0, flow])
    assert bands.high[0, flow] == pytest.approx(100 * log(4.0))
    assert np.isfinite(bands.low[0]).sum() + np.isfinite(bands.high[0]).sum() == 2


def test_a_flow_is_held_against_its_limit_in_its_own_unit() -> None:
    """A limit in grams a second counts though flows are followed on a relative scale."""
    sheet = replace(SHEET, limits=(("MAF", "warm_idle", 2.0, 4.0),))
    town = Town(12, 120, channels=(("MAF", "warm_idle", 3.0, 0.1),), sheet=sheet)
    town.at("MAF", "warm_idle")[3, 90:] = 4.5

    findings = _crossings(town)

    assert [item.vehicle for item in findings] == ["V-0003"]
    assert findings[0].lead.limit_high == pytest.approx(4.0)
    assert findings[0].lead.level == pytest.approx(4.5, rel=0.1)


def test_medians_never_join_vehicles() -> None:
    """The median of a vehicle's newest readings holds no reading of the vehicle before it."""
    town = Town(3, 30, channels=QUIET[:1])
    town.at("LONGFT1", "warm_idle")[:] = np.array([[0.0], [50.0], [100.0]])
    material = gather(town.fleet(), town.daily())

    medians = running_medians(material)

    assert set(medians.value[np.isfinite(medians.value)]) == {0.0, 50.0, 100.0}
    known = medians.oldest >= 0
    same = material.seen.vehicle[medians.oldest[known]] == material.seen.vehicle[known]
    assert same.all()


@pytest.mark.parametrize("days", [0, 1, READINGS - 1])
def test_too_little_has_no_medians(days: int) -> None:
    """A history shorter than nine readings has no median."""
    town = Town(2, days, channels=QUIET[:1])

    assert np.isnan(running_medians(gather(town.fleet(), town.daily())).value).all()


@pytest.mark.parametrize(("step", "side"), [(0.1, -1), (1.0, 0)])
def test_a_coarse_reading_is_not_outside_where_the_true_one_may_be_inside(step: float, side: int) -> None:
    """Read as 13 V, anything from 12.5 to 13.5 V may be meant; read as 12.9 V it lies below 13.4 V."""
    low = (("VPWR", "warm_idle", 13.4, 15.0),)
    channels = (("VPWR", "warm_idle", 14.0, 0.05), ("VPWR", "cruise", 14.0, 0.05), *QUIET)
    town = Town(12, 120, channels=channels, sheet=replace(SHEET, limits=low))
    town.at("VPWR", "warm_idle")[3] -= 1.1
    town.round_off({"VPWR": step}, 3)

    replay = Replay(town.fleet(), town.daily(), Wish())

    assert replay.verdict(town.last_day).outside[3, VOLTS] == side
