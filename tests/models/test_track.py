"""The track record."""

import numpy as np
import pytest
from scipy import stats

from models.errors import OutOfRangeError
from models.track import TicketOutcome, median_interval, track_record


def _ticket(verdict: str = "fault_found", trouble: int | None = None, **more: bool) -> TicketOutcome:
    """Make a ticket raised on day 100."""
    return TicketOutcome(raised_day=100, verdict=verdict, trouble_day=trouble, **more)  # type: ignore[arg-type]


def test_open_tickets_count_neither_way() -> None:
    """A ticket nobody has looked at is neither confirmed nor false."""
    record = track_record([_ticket()] * 3 + [_ticket("nothing_found")] + [_ticket("open")] * 9, [], 100.0)

    assert (record.confirmed.events, record.confirmed.count, record.confirmed.value) == (3, 4, 0.75)
    assert record.false_tickets.value == 1.0


def test_below_ten_is_too_few() -> None:
    """Nine inspected tickets are too few to say, ten are enough."""
    nine, ten = (track_record([_ticket()] * n, [True] * n, 1000.0) for n in (9, 10))

    assert not nine.confirmed.enough
    assert ten.confirmed.enough
    assert not nine.missed.enough
    assert ten.missed.enough


def test_missed_complaints() -> None:
    """Complaints without a ticket before them are missed."""
    record = track_record([], [True] * 12 + [False] * 4, 500.0)

    assert record.missed.value == 0.25
    assert record.missed.low < 0.25 < record.missed.high


def test_warning_is_from_ticket_to_trouble() -> None:
    """Days from ticket to trouble; trouble before the ticket and tickets without any do not count."""
    tickets = [_ticket(trouble=100 + days) for days in (5, 20, 35)]

    record = track_record([*tickets, _ticket(trouble=90), _ticket()], [], 500.0)

    assert (record.warning_days.value, record.warning_days.count) == (20.0, 3)
    assert not record.warning_days.enough


def test_comebacks_are_counted_among_repairs() -> None:
    """Only repaired tickets can come back."""
    tickets = [_ticket(repaired=True)] * 18 + [_ticket(repaired=True, came_back=True)] * 2 + [_ticket()] * 5

    record = track_record(tickets, [], 500.0)

    assert (record.comebacks.value, record.comebacks.count) == (0.1, 20)


def test_no_false_ticket_still_has_an_upper_end() -> None:
    """None in 3,000 vehicle-months: somewhere from 0 to 0.123 per 100."""
    figure = track_record([], [], 3000.0).false_tickets

    assert (figure.value, figure.low) == (0.0, 0.0)
    assert figure.high == pytest.approx(3.689 / 30, abs=1e-3)
    assert figure.enough


def test_nothing_yet() -> None:
    """An empty record says nothing, in every figure."""
    record = track_record([], [], 5.0)

    for figure in (record.confirmed, record.missed, record.warning_days, record.comebacks):
        assert np.isnan(figure.value)
        assert not figure.enough
    assert not record.false_tickets.enough


@pytest.mark.parametrize("count", [6, 7, 10, 25, 40])
def test_median_interval_covers(count: int) -> None:
    """The ends' ranks leave at most 2.5 % on each side, and one rank further in would leave more."""
    low, high = median_interval([float(one) for one in range(1, count + 1)])

    assert low + high == count + 1
    assert float(stats.binom.cdf(low - 1, count, 0.5)) <= 0.025
    assert float(stats.binom.cdf(low, count, 0.5)) > 0.025


@pytest.mark.parametrize("values", [[], [1.0], [1.0, 2.0, 3.0, 4.0, 5.0]])
def test_median_interval_of_few(values: list[float]) -> None:
    """Five values or fewer bound no median at 95 %."""
    assert median_interval(values) == (-np.inf, np.inf)


def test_track_record_refuses() -> None:
    """No vehicle-months and a verdict that does not exist are refused."""
    with pytest.raises(OutOfRangeError, match="vehicle_months"):
        track_record([], [], 0.0)
    with pytest.raises(OutOfRangeError, match="verdict"):
        track_record([_ticket("perhaps")], [], 1.0)
