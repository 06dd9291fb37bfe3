"""Every followed series on a day."""

import pytest

from models.compare import Replay
from models.findings import Trend
from models.panel import Wish
from models.series import SERIES
from tests.models.fleets import FIRST_DAY, SOUND, Town


def _trends(town: Town, day: int | None = None) -> tuple[Trend, ...]:
    today = town.last_day if day is None else FIRST_DAY + day
    return Replay(town.fleet(), town.daily(), Wish()).trends(today)


def test_every_series_of_every_vehicle_is_described() -> None:
    """A sound vehicle's series are all there, by vehicle, moved or not."""
    trends = _trends(Town(10, 120))

    assert len(trends) == 10 * 6
    assert [trend.vehicle for trend in trends] == sorted(trend.vehicle for trend in trends)


def test_sound_series_hardly_drift() -> None:
    """A quiet series shows a slope whose interval mostly holds zero."""
    trends = _trends(Town(16, 150, channels=SOUND))

    held = [trend.reading.drift_low <= 0 <= trend.reading.drift_high for trend in trends]
    assert sum(held) / len(held) > 0.6


def test_a_few_readings_do_not_move_a_quiet_series() -> None:
    """What is said to be the level now stays near the own normal where nothing has happened."""
    trends = _trends(Town(16, 150, channels=SOUND))

    away = [abs(one.reading.level - one.reading.baseline) / one.reading.noise for one in trends]
    assert sum(far > 0.5 for far in away) / len(away) < 0.02


def test_a_drift_is_measured() -> None:
    """The slope of a drifting series is found with an interval around it, in units a week."""
    town = Town(16, 150)
    town.drift("LONGFT1", "cruise", 5, onset=80, per_week=-0.9)

    reading = next(
        trend.reading
        for trend in _trends(town)
        if trend.vehicle == "V-0005" and trend.reading.series == "LONGFT1@cruise"
    )

    assert reading.direction == "down"
    assert reading.drift_per_week == pytest.approx(-0.9, abs=0.35)
    assert reading.drift_low <= reading.drift_per_week <= reading.drift_high
    assert reading.level - reading.baseline == pytest.approx(-9.0, abs=2.5)


def test_switches_are_no_trends() -> None:
    """The share of idles with a switch on stands for no parameter and is not listed."""
    town = Town(10, 90)
    town.switch("ac")[:] = 0.3

    assert all(trend.reading.parameter for trend in _trends(town))
    assert any(series.parameter == "" for series in SERIES)


def test_units_are_the_parameters_own() -> None:
    """A flow is described in grams a second, not in the logarithm it is held as."""
    town = Town(10, 120, channels=(("MAF", "warm_idle", 3.0, 0.1), ("RPM", "warm_idle", 700.0, 8.0)))
    town.at("MAF", "warm_idle")[2, 80:] *= 1.2

    reading = next(
        trend.reading
        for trend in _trends(town)
        if trend.vehicle == "V-0002" and trend.reading.series == "MAF@warm_idle"
    )

    assert reading.unit == "g/s"
    assert reading.baseline == pytest.approx(3.0, rel=0.1)
    assert reading.level == pytest.approx(3.6, rel=0.15)
    assert reading.peers_low is not None
    assert reading.peers_low == pytest.approx(3.0, rel=0.1)


@pytest.mark.parametrize("days", [0, 3])
def test_too_little_has_no_trends(days: int) -> None:
    """Without enough days nothing is described."""
    assert _trends(Town(3, days), 3) == ()
