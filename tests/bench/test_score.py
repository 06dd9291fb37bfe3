"""The examiner's own arithmetic: what counts as found, false and second, and the intervals beside it."""

from dataclasses import replace

import pytest

from service.demo.fleet import History, make_fleet
from tests.bench.score import Raised, Truth, key_of, raised_from_rows, score, tally, truths
from tests.bench.table import FAST_DAYS, SLOW_DAYS, speed_of


@pytest.fixture(scope="module")
def history() -> History:
    """Give a small fleet with faults."""
    return make_fleet(2, vehicles=60, days=300)


def test_perfect_tickets_score_perfectly(history: History) -> None:
    """A ticket on every onset finds every fault, with full warning, no false and no second ones."""
    tickets = [Raised(vehicle=t.vehicle, day=t.onset, causes=(t.cause,)) for t in truths(history)]

    result = score(tally(history, tickets))

    assert result.in_time == result.faults > 10
    assert result.warning_all == 1.0
    assert (result.false, result.seconds_per_fault) == (0, 0.0)
    assert result.cause_first == result.cause_in_three == result.named == len(tickets)


def test_tickets_before_the_onset_are_false(history: History) -> None:
    """A ticket a day too early is a false one and finds nothing."""
    tickets = [Raised(vehicle=t.vehicle, day=t.onset - 1) for t in truths(history)]

    result = score(tally(history, tickets))

    assert result.false == len(tickets)
    assert result.in_time == 0
    assert result.warning_all == 0.0


def test_tickets_on_sound_vehicles_are_false(history: History) -> None:
    """A vehicle that never had a fault makes every ticket a false one."""
    faulty = {truth.vehicle for truth in truths(history)}
    sound = next(name for name in history.roster.names if name not in faulty)

    result = score(tally(history, [Raised(vehicle=sound, day=history.first_day + 100)]))

    assert result.false == 1
    assert result.false_low < result.false_rate < result.false_high


def test_further_tickets_are_seconds(history: History) -> None:
    """Two tickets within one fault are one found fault and one second ticket."""
    truth = truths(history)[0]
    tickets = [Raised(vehicle=truth.vehicle, day=truth.onset + day) for day in (1, 2)]

    result = score(tally(history, tickets))

    assert result.seconds_per_fault == pytest.approx(1 / len(truths(history)))
    assert result.false == 0


def test_a_key_serves_as_well_as_the_history(history: History) -> None:
    """What is known of a fleet is enough to score it; without slopes only the bound is gone."""
    key = key_of(history)
    tickets = [Raised(vehicle=t.vehicle, day=t.onset + 5, causes=(t.cause,)) for t in key.truths]
    unknown = replace(key, truths=tuple(replace(t, slope=None, bound_days=None) for t in key.truths))

    whole = score(tally(history, tickets))

    assert score(tally(key, tickets)) == whole
    assert score(tally(unknown, tickets)) == replace(whole, bound_ratio=0.0)
    assert whole.bound_ratio > 0


def test_speed_without_a_slope_goes_by_days_to_the_complaint() -> None:
    """A ramp of unknown slope is slow, middle or fast by its days to the complaint; a step stays one."""

    def named(days: int, shape: str = "ramp") -> str:
        return speed_of(
            Truth(vehicle="W-1", cause="charging_low", shape=shape, onset=10, complaint=10 + days, end=300)
        )

    assert named(SLOW_DAYS + 1).startswith("1 slow")
    assert named(SLOW_DAYS) == named(FAST_DAYS) == "2 middle"
    assert named(FAST_DAYS - 1).startswith("3 fast")
    assert named(FAST_DAYS - 1, "step") == "4 step"


def test_a_ticket_on_the_complaint_day_is_too_late(history: History) -> None:
    """Warning ends when the driver complains."""
    truth = next(t for t in truths(history) if t.complaint < history.first_day + history.days)

    result = score(tally(history, [Raised(vehicle=truth.vehicle, day=truth.complaint)]))

    assert (result.in_time, result.found_at_all) == (0, 1)


def test_exported_rows_are_read() -> None:
    """Rows of the ticket export give vehicle, day and causes in order."""
    rows = [
        {"vehicle": "W-1", "raised_at": "1970-01-03T23:59:00Z", "cause_1": "charging_low", "cause_2": None}
    ]

    assert raised_from_rows(rows) == (Raised(vehicle="W-1", day=2, causes=("charging_low",)),)
