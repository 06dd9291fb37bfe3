"""The plan of the workshop's hours: an ordered list, cut where the hours end."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.tickets.costs import starting_costs
from service.tickets.plan import Plan, Visit, make_plan, make_visits, propose_days, usual_hours
from service.tickets.rules import Rules
from service.tickets.ticket import Ticket
from tests.service.web.fleet import make_ticket

TODAY = date(2031, 3, 3)
"""A Monday."""

AT = datetime(2031, 3, 1, tzinfo=UTC)
COSTS = starting_costs()
RULES = Rules()
FULL = make_ticket()


def ticket(vehicle: str = "V-1", number: int = 1, **changes: object) -> Ticket:
    """Make a ticket that asks for the workshop this week and takes two hours."""
    plain = Ticket(
        ticket=f"{vehicle}-T{number}",
        vehicle=vehicle,
        raised_at=AT,
        updated_at=AT,
        priority="plan_this_week",
        booked_hours=2.0,
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def visits(*tickets: Ticket, late: tuple[str, ...] = ()) -> tuple[Visit, ...]:
    """Group tickets into visits."""
    return make_visits(tickets, late=late, today=TODAY, costs=COSTS)


def vehicles(plan: Plan) -> list[str]:
    """Name the vehicles in the plan, in order."""
    return [one.vehicle for one in plan.visits]


def test_two_tickets_of_one_vehicle_pay_the_setup_once() -> None:
    """The unit is the visit of a vehicle."""
    (one,) = visits(ticket(number=1), ticket(number=2))

    assert one.hours == pytest.approx(RULES.setup_hours + 4.0)


def test_the_list_is_cut_where_the_hours_end() -> None:
    """What does not fit ends the list: a short visit further down does not slip in."""
    long = ticket("V-2", booked_hours=9.0, gain=5.0)
    found = visits(ticket("V-1", gain=9.0), long, ticket("V-3", booked_hours=0.5, gain=1.0))

    plan = make_plan(found, 10.0)

    assert vehicles(plan) == ["V-1"]
    assert [(one.visit.vehicle, one.reason) for one in plan.left_out] == [
        ("V-2", "hours_end"),
        ("V-3", "hours_end"),
    ]


def test_a_reserve_stays_free() -> None:
    """Fifteen in a hundred of the hours are kept for what nobody foresees."""
    assert make_plan((), 20.0).usable == 17.0


def test_what_must_come_in_goes_first() -> None:
    """In work, then class 1, then past due, then pinned, then by rank."""
    found = visits(
        ticket("V-1", gain=99.0),
        ticket("V-2", pinned_until=TODAY),
        ticket("V-3"),
        ticket("V-4", consequence=1, priority="pull_in_now", probability_30d=0.5),
        ticket("V-5", status="in_work"),
        late=("V-3-T1",),
    )

    assert [one.why for one in found] == ["in_work", "class_1", "past_due", "pinned", "rank"]
    assert [one.vehicle for one in found] == ["V-5", "V-4", "V-3", "V-2", "V-1"]


def test_a_pin_is_honoured_before_everything() -> None:
    """Hours of a pinned visit are set aside even when something must come in before it."""
    found = visits(
        ticket("V-1", consequence=1, priority="pull_in_now", probability_30d=0.5, booked_hours=5.0),
        ticket("V-2", priority="watch", pinned_until=TODAY),
    )

    plan = make_plan(found, 7.0)

    assert vehicles(plan) == ["V-2"]
    assert plan.pins_lack == 0.0
    assert plan.musts_lack == pytest.approx(5.3 + 2.3 - 5.95)


def test_pins_that_do_not_fit_say_by_how_much() -> None:
    """More pinned than there are hours: the plan stays within them and tells how many are lacking."""
    found = visits(ticket("V-1", pinned_until=TODAY), ticket("V-2", pinned_until=TODAY))

    plan = make_plan(found, 4.0)

    assert vehicles(plan) == ["V-1"]
    assert plan.pins_lack == pytest.approx(4.6 - 3.4)


def test_a_pin_ends() -> None:
    """A pin of yesterday counts no more."""
    assert visits(ticket(priority="watch", pinned_until=TODAY - timedelta(days=1))) == ()


@pytest.mark.parametrize(
    "changes",
    [
        {"status": "done"},
        {"status": "deferred"},
        {"status": "verified", "closed_at": AT},
        {"resting_since": TODAY},
        {"priority": "watch"},
    ],
)
def test_what_asks_for_nothing_is_no_visit(changes: dict[str, object]) -> None:
    """Done, put off, closed, resting and merely watched tickets bring no vehicle in."""
    assert visits(replace(ticket(), **changes)) == ()  # type: ignore[arg-type]


@pytest.mark.parametrize("reason", ["parts", "vehicle_away"])
def test_what_cannot_come_is_left_out_with_the_reason(reason: str) -> None:
    """Waiting for parts, or away: not in the plan, unless a day is given."""
    waiting = ticket(status="accepted", reason=reason)

    (left,) = make_plan(visits(waiting), 20.0).left_out

    assert left.reason == reason
    assert vehicles(make_plan(visits(replace(waiting, booked_on=TODAY)), 20.0)) == ["V-1"]


def test_the_planner_leaves_out() -> None:
    """What the planner leaves out makes room for what comes after."""
    found = visits(ticket("V-1", gain=9.0, booked_hours=10.0), ticket("V-2"))

    plan = make_plan(found, 5.0, without={"V-1"})

    assert vehicles(plan) == ["V-2"]
    assert plan.left_out[0].reason == "by_hand"


def test_no_hours_no_visits() -> None:
    """With no hours everything is left out, and nothing fails."""
    plan = make_plan(visits(ticket()), 0.0)

    assert plan.visits == ()
    assert [one.reason for one in plan.left_out] == ["hours_end"]
    assert propose_days(plan, TODAY) == {}


def test_hours_from_records_count_before_the_table() -> None:
    """Five recorded repairs of a cause stand in for the table's hours; four do not."""
    records = [("throttle_deposits", 1.0)] * 4
    cause = FULL.detail.causes[0][0] if FULL.detail else ""

    assert usual_hours(records, least=5) == {}
    (plain,) = visits(replace(FULL, priority="plan_this_week"))
    (told,) = make_visits(
        [replace(FULL, priority="plan_this_week")],
        late=(),
        today=TODAY,
        costs=COSTS,
        usual={cause: COSTS.causes[cause].planned_hours + 10.0},
    )
    assert told.hours > plain.hours


def test_days_are_working_days_from_tomorrow_on() -> None:
    """The hours spread over the next five working days, in the plan's order; a booked day stays."""
    booked = date(2031, 3, 6)
    found = visits(*(ticket(f"V-{place}", gain=float(-place)) for place in range(1, 8)))
    late_one = visits(ticket("V-9", booked_on=booked))

    days = propose_days(make_plan(found, 20.0), TODAY)

    assert list(days.values()) == sorted(days.values())
    assert min(days.values()) == date(2031, 3, 4)
    assert max(days.values()) <= date(2031, 3, 10)
    assert all(day.weekday() < 5 for day in days.values())
    assert propose_days(make_plan(late_one, 20.0), TODAY) == {"V-9": booked}


@pytest.mark.parametrize("days", [-1, 30])
def test_a_day_outside_the_week_is_given_anew(days: int) -> None:
    """A booked day that is past, or weeks away, is no day of a plan of this week's hours."""
    plan = make_plan(visits(ticket(booked_on=TODAY + timedelta(days=days))), 20.0)

    assert propose_days(plan, TODAY) == {"V-1": date(2031, 3, 4)}


@st.composite
def _fleets(draw: st.DrawFn) -> tuple[Ticket, ...]:
    count = draw(st.integers(0, 12))
    return tuple(
        ticket(
            f"V-{draw(st.integers(1, 6))}",
            place,
            booked_hours=draw(st.floats(0.1, 12.0)),
            gain=draw(st.floats(-10, 500)),
            consequence=draw(st.sampled_from([1, 2, 3, 4])),
            priority=draw(st.sampled_from(["pull_in_now", "plan_this_week", "watch"])),
            status=draw(st.sampled_from(["raised", "accepted", "in_work", "reopened"])),
            pinned_until=draw(st.sampled_from([None, TODAY])),
            probability_30d=draw(st.floats(0, 1)),
        )
        for place in range(count)
    )


@given(_fleets(), st.floats(0, 60), st.randoms())
def test_never_over_the_hours_and_always_the_same(
    tickets: tuple[Ticket, ...], hours: float, shuffle: object
) -> None:
    """Whatever the tickets: within the usable hours, each vehicle once, the same in whatever order read."""
    mixed = list(tickets)
    shuffle.shuffle(mixed)  # type: ignore[attr-defined]

    plan = make_plan(visits(*tickets), hours)

    assert sum(one.hours for one in plan.visits) <= hours * 0.85 + 1e-6
    named = [one.vehicle for one in plan.visits] + [one.visit.vehicle for one in plan.left_out]
    assert len(named) == len(set(named))
    assert make_plan(visits(*mixed), hours) == plan
    pinned = [one for one in visits(*tickets) if one.is_pinned]
    assert plan.pins_lack > 0 or {one.vehicle for one in pinned} <= set(vehicles(plan))


@given(_fleets(), st.floats(0, 60))
def test_giving_the_dates_changes_no_plan(tickets: tuple[Ticket, ...], hours: float) -> None:
    """Once its dates are given a plan worked out again is the same plan."""
    plan = make_plan(visits(*tickets), hours)
    days = propose_days(plan, TODAY)
    after = [
        replace(one, status="accepted", booked_on=days[one.vehicle], booked_hours=one.booked_hours)
        if one.vehicle in days and one.status != "in_work"
        else one
        for one in tickets
    ]

    again = make_plan(visits(*after), hours)

    assert vehicles(again) == vehicles(plan)
    assert propose_days(again, TODAY) == days
