"""Forecasts are held against what the planted fault then did."""

import pytest

from service.demo.fleet import History, make_fleet
from tests.bench.calibration import Forecast, coverage_table, judge, leaves_band, probability_table
from tests.bench.score import Truth, truths


@pytest.fixture(scope="module")
def history() -> History:
    """Give a small fleet with faults."""
    return make_fleet(3)


def _fault(history: History) -> Truth:
    last = history.first_day + history.days
    return next(t for t in truths(history) if t.cause == "fuel_pressure_high" and t.complaint < last - 40)


def _forecast(truth: Truth, day: int, low: float | None = -6.0, high: float | None = 15.0) -> Forecast:
    return Forecast(
        vehicle=truth.vehicle,
        day=day,
        age=0,
        parameter="LONGFT1",
        state="warm_idle",
        limit_low=low,
        limit_high=high,
        reaches_low=truth.onset,
        reaches_high=truth.complaint + 60,
        probability_30d=0.5,
    )


def test_a_growing_fault_leaves_its_band(history: History) -> None:
    """Trim of an engine with too much fuel pressure falls below a band that it was in before."""
    truth = _fault(history)

    day = leaves_band(history, _forecast(truth, truth.onset))

    assert day is not None
    assert truth.onset < day < truth.complaint + 40


def test_a_wide_band_is_never_left(history: History) -> None:
    """No band, or one that no fault reaches, has no day of leaving."""
    truth = _fault(history)

    assert leaves_band(history, _forecast(truth, truth.onset, -40.0, 40.0)) is None
    assert leaves_band(history, _forecast(truth, truth.onset, None, None)) is None


def test_an_interval_that_holds_the_day_counts_as_held(history: History) -> None:
    """A wide interval holds the day, and the complaint within 30 days counts as happened."""
    truth = _fault(history)

    judged = judge(history, [_forecast(truth, truth.complaint - 10)])

    assert [(item.covered, item.happened) for item in judged] == [(True, True)]
    assert "100 %" in coverage_table(judged)
    assert "Brier score 0.250" in probability_table(judged)


def test_forecasts_on_sound_vehicles_are_not_judged(history: History) -> None:
    """Before the onset there is nothing to foretell."""
    truth = _fault(history)

    assert judge(history, [_forecast(truth, truth.onset - 5)]) == []
