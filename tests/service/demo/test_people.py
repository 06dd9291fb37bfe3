"""The practice workshop's people act on tickets as the life-cycle lets them, and sign as a workshop."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

import pytest

from service.demo.people import BY, PracticeWorkshop
from service.tickets.byhand import Changed
from service.tickets.effects import Facts
from service.tickets.lifecycle import apply
from service.tickets.ticket import Ticket

MONDAY = date(2031, 3, 3)
RAISED = datetime.combine(MONDAY, time(23, 59), UTC)
TICKET = Ticket(ticket="W-0001-T1", vehicle="W-0001", raised_at=RAISED, updated_at=RAISED, consequence=2)


def _walk(workshop: PracticeWorkshop, ticket: Ticket, days: int) -> tuple[Ticket, list[Changed]]:
    """Let them act each day after the ticket was raised."""
    done: list[Changed] = []
    for n in range(1, days + 1):
        on = MONDAY + timedelta(days=n)
        for changed in workshop(on, (ticket,)):
            assert changed.read_version == ticket.version
            ticket = changed.ticket
            done.append(changed)
        if ticket.status == "deferred" and ticket.deferred_until == on:
            ticket = apply(ticket, "return", role="system", at=datetime.combine(on, time(23, 59), UTC))
    return ticket, done


def _events(done: Iterable[Changed]) -> list[str]:
    return [row.event for changed in done for row in changed.events]


def test_a_near_repair_is_booked_and_started() -> None:
    """Accepted after a few days, booked for the day of the repair, started on it, then left to its record."""
    repair = MONDAY + timedelta(days=10)

    ticket, done = _walk(PracticeWorkshop([("W-0001", repair)]), TICKET, 10)

    assert _events(done) == ["accept", "book", "start"]
    assert (ticket.status, ticket.booked_on, ticket.booked_hours is not None) == ("in_work", repair, True)
    assert ticket.assignee.startswith("bench ")
    assert {row.by for changed in done for row in changed.events} == {BY}
    assert {row.role for changed in done for row in changed.events} == {"lead", "mechanic"}


def test_a_far_repair_is_waited_for() -> None:
    """A repair weeks away puts the ticket off until shortly before it; one that may stall is booked."""
    far = PracticeWorkshop([("W-0001", MONDAY + timedelta(days=45))])

    assert _events(_walk(far, TICKET, 45)[1])[:2] == ["accept", "defer"]
    assert _walk(far, TICKET, 45)[0].status == "in_work"
    assert _events(_walk(far, replace(TICKET, consequence=1), 10)[1]) == ["accept", "book"]


def test_what_no_repair_is_known_for_is_inspected() -> None:
    """Without a repair to come the ticket is looked at, and put down as nothing found."""
    ticket, done = _walk(PracticeWorkshop([]), TICKET, 30)

    assert _events(done) == ["accept", "book", "start", "record_no_fault"]
    assert (ticket.status, ticket.reason) == ("dismissed", "no_fault_found")


def test_nobody_works_on_weekends() -> None:
    """Saturday and Sunday see no step, whatever is due."""
    saturday = MONDAY + timedelta(days=12)

    assert PracticeWorkshop([])(saturday, (TICKET,)) == ()
    assert PracticeWorkshop([])(saturday + timedelta(days=2), (TICKET,)) != ()


@pytest.mark.parametrize("status", ["done", "verified", "dismissed", "deferred"])
def test_others_are_left_alone(status: str) -> None:
    """Tickets that wait for readings, for a date, or for nobody get no step."""
    closed = RAISED if status in {"verified", "dismissed"} else None
    ticket = replace(TICKET, status=status, closed_at=closed)  # type: ignore[arg-type]

    assert list(PracticeWorkshop([])(MONDAY + timedelta(days=14), (ticket,))) == []


def test_bookings_fall_on_working_days() -> None:
    """A repair on a Sunday is booked for the Friday before it."""
    sunday = MONDAY + timedelta(days=6)

    ticket, _ = _walk(PracticeWorkshop([("W-0001", sunday)]), TICKET, 4)

    assert ticket.booked_on == sunday - timedelta(days=2)


def test_facts_are_complete() -> None:
    """Every step carries what the life-cycle asks of it: none of a year's steps is refused."""
    workshop = PracticeWorkshop([("W-0001", MONDAY + timedelta(days=n)) for n in range(5, 365, 37)])
    ticket, events = TICKET, set()
    for n in range(1, 365):
        on = MONDAY + timedelta(days=n)
        for changed in workshop(on, (ticket,)):
            ticket = changed.ticket
            events.add(changed.events[0].event)
        if ticket.status == "in_work" and n % 37 == 5:
            at = datetime.combine(on, time(20), UTC)
            ticket = apply(ticket, "record_repair", role="record", at=at, facts=Facts(done_at=at))
            ticket = apply(ticket, "not_cured", role="system", at=at + timedelta(hours=1))
        if ticket.status == "deferred" and ticket.deferred_until == on:
            ticket = apply(ticket, "return", role="system", at=datetime.combine(on, time(23, 59), UTC))
        if ticket.status == "dismissed":
            raised = datetime.combine(on, time(23, 59), UTC)
            ticket = replace(TICKET, raised_at=raised, updated_at=raised)

    assert events == {"accept", "book", "start", "defer", "record_no_fault"}
