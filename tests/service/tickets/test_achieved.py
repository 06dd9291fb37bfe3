"""The track record: what counts, and what does not."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from service.tickets.achieved import (
    Complaint,
    Fixed,
    Statement,
    avoided,
    calibration,
    closings,
    comebacks,
    false_tickets,
    fault_found,
    missed,
    statement_of,
    warning_days,
)
from service.tickets.ticket import Ticket
from service.tickets.words import to_day

AT = datetime(2031, 3, 4, 23, 59, tzinfo=UTC)
DAY = to_day(AT.date())
PLAIN = Ticket(
    ticket="V-1-T1",
    vehicle="V-1",
    raised_at=AT,
    updated_at=AT,
    cause_1="unmetered_air",
    probability_30d=0.4,
    probability_fault=0.8,
)
FIXED = replace(
    PLAIN,
    status="verified",
    done_at=AT + timedelta(days=10),
    done_day=DAY + 10,
    done_cause="unmetered_air",
    closed_detail="by_data",
)
NOTHING = replace(PLAIN, ticket="V-2-T1", vehicle="V-2", status="dismissed", reason="no_fault_found")
ELSEWHERE = replace(PLAIN, ticket="V-3-T1", vehicle="V-3", status="dismissed", reason="risk_accepted")


def test_no_label_is_not_a_negative() -> None:
    """Only inspections count: open tickets and other dismissals are neither right nor wrong."""
    share = fault_found([PLAIN, FIXED, NOTHING, ELSEWHERE])

    assert (share.count, share.of, share.enough) == (1, 2, False)


def test_proofs_are_told_apart() -> None:
    """Repairs proved by readings, verified by hand, closed without proof and waiting are counted apart."""
    others = [replace(FIXED, closed_detail=how) for how in ("by_hand", "without_proof", "")]

    assert closings([FIXED, *others, NOTHING]) == {
        "by_data": 1,
        "by_hand": 1,
        "without_proof": 1,
        "waiting": 1,
    }


def test_missed_complaints() -> None:
    """A complaint followed by a repair with a cause was of a fault; it is missed where no ticket stood."""
    repair = Fixed(vehicle="V-1", day=DAY + 10, cause="unmetered_air")
    stood, early, idle = (
        Complaint(vehicle="V-1", day=DAY + 5),
        Complaint(vehicle="V-1", day=DAY - 2),
        Complaint(vehicle="V-9", day=DAY),
    )

    share = missed([stood, early, idle], [repair], [FIXED])

    assert (share.count, share.of) == (1, 2)


def test_warning() -> None:
    """Warning ends at the first complaint, or at the repair that forestalled it; the interval needs six."""
    complained = replace(FIXED, complaints=(AT + timedelta(days=4),))

    assert warning_days([FIXED, complained]).middle == pytest.approx(7.0)
    assert warning_days([FIXED, complained]).low is None
    many = warning_days([replace(FIXED, done_at=AT + timedelta(days=day)) for day in range(1, 21)])
    assert (many.count, many.middle) == (20, 10.5)
    assert [many.low, many.high] == pytest.approx([6.0, 15.0])


def test_comebacks_by_cause_and_work() -> None:
    """Comebacks are told by cause and kind of work; nobody's name takes part."""
    back = replace(FIXED, ticket="V-1-T2", comeback_by="V-1-T3", assignee="bench 1", records=("a",))

    rows = comebacks([FIXED, back], {"a": "battery_replaced"})

    assert [(row.cause, row.kind, row.share.count, row.share.of) for row in rows] == [
        ("unmetered_air", "battery_replaced", 1, 1),
        ("unmetered_air", "repair", 0, 1),
    ]


def test_false_tickets() -> None:
    """Inspections that found nothing, per 100 vehicle-months, with the exact Poisson interval."""
    found = false_tickets([NOTHING, FIXED], 1000.0)

    assert (found.count, found.rate) == (1, 0.1)
    assert (round(found.low or 0, 4), round(found.high or 0, 3)) == (0.0025, 0.557)
    assert false_tickets([], 0.0).rate is None


@pytest.mark.parametrize(
    ("later", "days", "happened"),
    [
        (PLAIN, 40, False),
        (PLAIN, 20, None),
        (replace(PLAIN, complaints=(AT + timedelta(days=9),)), 40, True),
        (replace(PLAIN, complaints=(AT + timedelta(days=39),)), 40, False),
        (FIXED, 40, None),
        (NOTHING, 40, None),
    ],
)
def test_statements(later: Ticket, days: int, happened: bool | None) -> None:
    """A statement is checked after thirty days; a repair before that leaves it undecided."""
    assert statement_of(PLAIN, later, DAY + days) == Statement(stated=0.4, happened=happened)


def test_calibration() -> None:
    """Undecided statements count in no bin; the rest stand in ten with their Brier score."""
    found = calibration([Statement(stated=0.75, happened=came) for came in (True, True, False, None)])

    assert (found.count, found.undecided, len(found.bins)) == (3, 1, 10)
    assert [(one.count, one.happened) for one in found.bins if one.count] == [(3, 2)]
    assert found.brier == pytest.approx((0.0625 * 2 + 0.5625) / 3)
    assert calibration([]).brier is None


def test_avoided() -> None:
    """Each verified fault adds its chance of a complaint; complaints of its cause that came are taken off."""
    repair = Fixed(vehicle="V-8", day=DAY + 3, cause="unmetered_air")
    came = Complaint(vehicle="V-8", day=DAY)

    found = avoided([FIXED] * 4, [came], [repair])

    assert (found.expected, found.came, found.value) == (2.0, 1, 1.0)
    assert found.low < found.value < found.high
    assert avoided([FIXED], [came] * 3, [repair]).value < 0


def test_nothing_found_avoids_nothing() -> None:
    """Doubling the tickets with nothing found does not raise the complaints avoided."""
    tickets = [FIXED, NOTHING, PLAIN]

    assert avoided([*tickets, NOTHING, NOTHING], [], []) == avoided(tickets, [], [])
