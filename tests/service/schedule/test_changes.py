"""Each change of a vehicle's standing has one main reason, each late ticket one thing that holds it."""

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from dashboards.words import CHANGES, HOLDING
from service.schedule.changes import Happened, Standing, main_reason
from service.schedule.weekly import holding
from service.tickets.ticket import Ticket

AT = datetime(2031, 3, 3, tzinfo=UTC)
CALM = Standing(word="steady", reason="", ticket="", status="", sheet="H 1", method="m 1", costs=0)


@pytest.mark.parametrize(
    ("before", "after", "repaired", "cleared", "reason"),
    [
        (None, CALM, False, False, "in_service"),
        (CALM, None, False, False, "out_of_service"),
        (CALM, replace(CALM, reason="silent"), True, True, "data_stopped"),
        (replace(CALM, reason="no_data"), CALM, True, False, "data_back"),
        (CALM, replace(CALM, sheet="H 2"), True, True, "repair"),
        (CALM, replace(CALM, sheet="H 2"), False, True, "memory_cleared"),
        (CALM, replace(CALM, sheet="H 2", method="m 2"), False, False, "sheet_revised"),
        (CALM, replace(CALM, method="m 2", costs=1), False, False, "model_revised"),
        (CALM, replace(CALM, costs=1), False, False, "costs_revised"),
        (
            replace(CALM, ticket="T", status="raised"),
            replace(CALM, ticket="T", status="deferred"),
            False,
            False,
            "ticket_moved",
        ),
        (
            replace(CALM, ticket="T", status="deferred"),
            replace(CALM, ticket="T", status="accepted", sheet="H 2"),
            False,
            True,
            "ticket_moved",
        ),
        (
            replace(CALM, ticket="T", status="raised"),
            replace(CALM, ticket="T", status="accepted"),
            False,
            False,
            "new_readings",
        ),
        (CALM, replace(CALM, ticket="T", status="raised"), False, False, "new_readings"),
    ],
)
def test_the_first_reason_that_fits_is_named(
    before: Standing | None, after: Standing | None, repaired: bool, cleared: bool, reason: str
) -> None:
    """What was done to the vehicle precedes what changed on paper, and both precede new readings."""
    found = main_reason(before, after, Happened(repaired=repaired, cleared=cleared))

    assert found == reason
    assert found in CHANGES


@pytest.mark.parametrize(
    ("late", "fresh", "reason"), [(3, 2, "late_readings"), (2, 2, "new_readings"), (0, 0, "new_readings")]
)
def test_late_readings_are_named_where_most_came_late(late: int, fresh: int, reason: str) -> None:
    """What came in since decides between late and new readings; what changed on paper goes before both."""
    happened = Happened(late=late, fresh=fresh)

    assert main_reason(CALM, replace(CALM, word="watch"), happened) == reason
    assert main_reason(CALM, replace(CALM, word="watch", sheet="H 2"), happened) == "sheet_revised"


@pytest.mark.parametrize(
    ("status", "reason", "booked", "code"),
    [
        ("raised", "", None, "not_accepted"),
        ("reopened", "", None, "not_accepted"),
        ("accepted", "", None, "no_date"),
        ("accepted", "", date(2031, 3, 5), "booked"),
        ("accepted", "parts", None, "parts"),
        ("accepted", "vehicle_away", None, "vehicle_away"),
        ("in_work", "", None, "in_work"),
        ("done", "", None, "awaiting_proof"),
    ],
)
def test_what_holds_a_ticket_has_a_code_with_words(
    status: str, reason: str, booked: date | None, code: str
) -> None:
    """Every state of an open ticket names what holds it, by a code that the pages have words for."""
    plain = Ticket(ticket="T", vehicle="V", raised_at=AT, updated_at=AT, reason=reason, booked_on=booked)

    found = holding(replace(plain, status=status))  # type: ignore[arg-type]

    assert found == code
    assert found in HOLDING
