"""What open tickets are expected to take and to cost: the same definition wherever it is shown."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.tickets.costs import cost_at_risk, starting_costs
from service.tickets.expected import expected_hours, sum_at_risk
from service.tickets.ticket import Ticket
from tests.service.web.fleet import make_ticket

COSTS = starting_costs()
AT = datetime(2031, 3, 3, tzinfo=UTC)
TICKET = make_ticket()
BY_HAND = Ticket(ticket="V-9-T1", vehicle="V-9", raised_at=AT, updated_at=AT)


def test_labour_counts() -> None:
    """Parts, downtime and hours at the table's price, unplanned less planned, times the probability."""
    leak = COSTS.causes["unmetered_air"]
    parts = leak.unplanned_parts + leak.downtime - leak.planned_parts
    labour = COSTS.rate * (leak.unplanned_hours - leak.planned_hours)

    assert cost_at_risk(0.25, [("unmetered_air", 1.0)], COSTS) == pytest.approx(0.25 * (parts + labour))


@given(st.lists(st.floats(0, 1), max_size=12))
def test_the_headline_is_the_sum_of_its_rows(probabilities: list[float]) -> None:
    """To the cent, and inside its range, whatever the tickets."""
    tickets = [
        replace(TICKET, ticket=f"V-1-T{place}", probability_30d=p) for place, p in enumerate(probabilities)
    ]

    risk = sum_at_risk(tickets, COSTS)

    assert risk.mean == round(sum(row.sum for row in risk.rows), 2)
    assert len(risk.rows) == len(tickets)
    assert 0 <= risk.low <= risk.mean <= risk.high


def test_who_counts() -> None:
    """Closed tickets, repairs that await proof and tickets without a probability are left out."""
    others = [
        replace(TICKET, ticket="a", status="done"),
        replace(TICKET, ticket="b", status="verified", closed_at=AT),
        BY_HAND,
    ]

    risk = sum_at_risk([*others, replace(TICKET, ticket="c", status="deferred")], COSTS)

    assert [row.ticket for row in risk.rows] == ["c"]
    assert sum_at_risk(others, COSTS).high == 0


def test_hours() -> None:
    """Booked hours first; else the first check plus the likely repair; a look where nothing is known."""
    assert TICKET.detail is not None
    assert TICKET.probability_fault is not None
    usual = sum(share * COSTS.causes[cause].planned_hours for cause, share in TICKET.detail.causes)
    first = TICKET.detail.checks[0].minutes / 60

    assert expected_hours(replace(TICKET, booked_hours=3.5), COSTS) == 3.5
    assert expected_hours(TICKET, COSTS) == pytest.approx(first + TICKET.probability_fault * usual, abs=0.005)
    assert expected_hours(BY_HAND, COSTS) == COSTS.look_hours
