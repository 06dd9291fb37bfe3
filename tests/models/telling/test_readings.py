"""A series described on a day."""

import pytest

from models.compare import Replay, compare
from models.findings import Finding, SeriesReading
from models.panel import Wish
from tests.models.fleets import BARE, FIRST_DAY, SHEET, Town


def _finding(town: Town) -> Finding:
    findings = compare(town.fleet(), town.daily(), town.last_day, Wish()).findings
    assert [finding.vehicle for finding in findings] == ["V-0003"]
    return findings[0]


def _drifting(per_week: float = 0.6, vehicles: int = 16) -> Town:
    town = Town(vehicles, 150)
    town.drift("LONGFT1", "warm_idle", 3, onset=90, per_week=per_week)
    return town


def _lead(per_week: float = 0.6, vehicles: int = 16) -> SeriesReading:
    return _finding(_drifting(per_week, vehicles)).lead


def test_a_drift_is_described_by_its_numbers() -> None:
    """Own baseline, level now, slope with interval and noise are those that were planted."""
    lead = _lead()

    assert (lead.series, lead.parameter, lead.state, lead.unit) == (
        "LONGFT1@warm_idle",
        "LONGFT1",
        "warm_idle",
        "%",
    )
    assert lead.direction == "up"
    # 0.6 % a week over 59 days is 5.1 %; the baseline and the level carry a standard error of about 0.5.
    assert lead.level - lead.baseline == pytest.approx(5.1, abs=1.6)
    assert 0.3 < lead.drift_per_week < 1.2
    assert lead.drift_low <= lead.drift_per_week <= lead.drift_high
    assert lead.noise == pytest.approx(1.2, rel=0.3)
    assert lead.strength > 2.5


def test_counts_and_days_tell_how_much_is_behind_it() -> None:
    """Readings before and since the onset add up to all of the segment."""
    lead = _lead()

    assert lead.baseline_days + lead.recent_days == 150
    assert lead.baseline_from == lead.segment_from == FIRST_DAY
    assert FIRST_DAY < lead.baseline_to < FIRST_DAY + 149
    assert lead.segment_reason == "first_data"


def test_a_limit_ahead_has_a_day_with_an_interval() -> None:
    """The day on which the sheet's band is left lies between its interval's ends, all ahead."""
    lead = _lead()

    assert (lead.limit_low, lead.limit_high) == (-8.0, 8.0)
    assert lead.reaches_limit_on is not None
    assert lead.reaches_limit_low is not None
    assert FIRST_DAY + 149 < lead.reaches_limit_low <= lead.reaches_limit_on
    assert lead.reaches_limit_high is None or lead.reaches_limit_on <= lead.reaches_limit_high


def test_like_vehicles_are_shown_where_there_are_eight() -> None:
    """Ten and ninety per cent points of like vehicles are shown from eight vehicles on."""
    many, few = _lead(), _lead(per_week=1.2, vehicles=7)

    assert many.peers == 16
    assert many.peers_low is not None
    assert many.peers_high is not None
    assert many.peers_low < 1.0 < many.peers_high
    assert (few.peers, few.peers_low, few.peers_high) == (7, None, None)


def test_downward_drifts_look_at_the_lower_limit() -> None:
    """A falling trim has direction down and a negative slope."""
    lead = _lead(-0.6)

    assert lead.direction == "down"
    assert lead.drift_per_week < 0
    assert lead.reaches_limit_on is not None


def test_without_a_band_there_is_no_day() -> None:
    """No sheet's limit, no day on which it is reached."""
    town = Town(16, 150, sheet=BARE)
    town.drift("LONGFT1", "warm_idle", 3, onset=90, per_week=0.6)

    lead = _finding(town).lead

    assert (lead.limit_low, lead.limit_high, lead.reaches_limit_on) == (None, None, None)


def test_a_vehicle_back_from_beyond_moves_down() -> None:
    """A strong fall of a trim that still stands above its band is told as the fall it is."""
    town = Town(16, 170)
    town.at("LONGFT1", "warm_idle")[3] += 20.0
    town.drift("LONGFT1", "warm_idle", 3, onset=100, per_week=-0.9)

    said = Replay(town.fleet(), town.daily(), Wish()).trends(town.last_day)

    reading = next(
        trend.reading
        for trend in said
        if trend.vehicle == "V-0003" and trend.reading.series == "LONGFT1@warm_idle"
    )
    assert reading.outside
    assert reading.direction == "down"
    assert reading.reaches_limit_on == town.last_day


def test_a_later_segments_baseline_is_its_own() -> None:
    """After a told repair the baseline is that of the readings since."""
    town = Town(16, 200, sheet=SHEET)
    town.at("LONGFT1", "warm_idle")[3, :81] += 6.0
    town.did(3, 80, "repair", "unmetered_air")
    town.drift("LONGFT1", "warm_idle", 3, onset=150, per_week=0.9)

    lead = _finding(town).lead

    assert (lead.segment_from - FIRST_DAY, lead.segment_reason) == (81, "repair")
    # A standard error of 0.15 from 69 days, and what the ramp's unsure onset lets into the baseline.
    own = town.at("LONGFT1", "warm_idle")[3, 81:150].mean()
    assert lead.baseline == pytest.approx(own, abs=0.8)
    assert lead.baseline_days + lead.recent_days == pytest.approx(119, abs=9)
