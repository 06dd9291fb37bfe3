"""Only the rows of the life-cycle move a ticket."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from itertools import product

import pytest

from service.tickets.effects import EVENTS, Event, Facts
from service.tickets.errors import TransitionNotAllowed, TransitionRefused
from service.tickets.lifecycle import allowed_events, apply, assign, pin
from service.tickets.ticket import ROLES, STATUSES, Role, Status, Ticket, is_open

AT = datetime(2031, 3, 3, 12, tzinfo=UTC)
"""A Monday."""

ROWS: dict[Event, tuple[str, str, Status | None]] = {
    "accept": ("raised reopened", "mechanic lead manager", "accepted"),
    "book": ("raised accepted reopened", "lead manager", "accepted"),
    "start": ("raised accepted reopened", "mechanic lead", "in_work"),
    "record_repair": ("raised accepted in_work reopened deferred", "mechanic lead record", "done"),
    "record_no_fault": ("raised accepted in_work reopened deferred", "mechanic lead record", "dismissed"),
    "pause": ("in_work", "mechanic lead", "accepted"),
    "defer": ("raised accepted reopened", "lead manager", "deferred"),
    "return": ("deferred", "system", "accepted"),
    "dismiss": ("raised accepted in_work deferred reopened", "lead manager system", "dismissed"),
    "rest": ("raised accepted reopened", "system", None),
    "wake": ("raised accepted reopened", "system", None),
    "verify": ("done", "system", "verified"),
    "not_cured": ("done", "system", "reopened"),
    "time_out": ("done", "system", None),
    "verify_by_hand": ("done", "lead", "verified"),
    "undo": ("verified dismissed", "mechanic lead manager", None),
    "comeback": ("verified dismissed done_closed", "system mechanic lead manager", None),
    "reopen": ("verified dismissed done_closed", "lead manager", "reopened"),
}
"""The written life-cycle, apart from merging: event, from, who, to (None: see the row)."""


def _ticket(kind: str, *, resting: bool = False, **changes: object) -> Ticket:
    status: Status = "done" if kind == "done_closed" else next(s for s in STATUSES if s == kind)
    closed = kind in {"verified", "dismissed", "done_closed"}
    plain = Ticket(
        ticket="V-1-T1",
        vehicle="V-1",
        status=status,
        raised_at=AT - timedelta(days=20),
        updated_at=AT - timedelta(hours=2),
        closed_at=AT - timedelta(hours=2) if closed else None,
        closed_by="somebody" if closed else "",
        status_before="in_work" if kind in {"verified", "dismissed"} else "",
        deferred_until=date(2031, 4, 1) if status == "deferred" else None,
        resting_since=date(2031, 3, 1) if resting else None,
        consequence=2,
        score=14.0,
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def _facts(event: Event, role: Role) -> Facts:
    """Give everything the event needs, so that only the table decides."""
    other = _ticket("raised", ticket="V-1-T2")
    return {
        "book": Facts(on=date(2031, 3, 5), hours=2.0),
        "record_repair": Facts(done_at=AT, cause="unmetered_air", record="W1"),
        "record_no_fault": Facts(done_at=AT, record="W1"),
        "pause": Facts(reason="parts"),
        "defer": Facts(on=date(2031, 4, 1), reason="needed on the road", confirmed=True),
        "dismiss": Facts(reason="vehicle_gone" if role == "system" else "evidence_eased"),
        "verify_by_hand": Facts(reason="own reader", readings="trim 0.8 %"),
        "merge": Facts(other=other),
        "comeback": Facts(other=other),
        "reopen": Facts(reason="driver again"),
    }.get(event, Facts())


KINDS = (*STATUSES, "done_closed")


@pytest.mark.parametrize("event", [event for event in EVENTS if event != "merge"])
def test_only_the_rows_of_the_table_succeed(event: Event) -> None:
    """For every status and role: the written row succeeds with its status, all else is refused."""
    for kind, role in product(KINDS, ROLES):
        _try(kind, event, role)


def _try(kind: str, event: Event, role: Role) -> None:
    sources, roles, target = ROWS[event]
    ticket = _ticket(kind, resting=event == "wake")
    by = "somebody" if role in {"mechanic", "lead", "manager"} else role
    expected = kind in sources.split() and role in roles.split()

    if not expected:
        with pytest.raises(TransitionNotAllowed) as caught:
            apply(ticket, event, role=role, at=AT, by=by, facts=_facts(event, role))
        assert event not in caught.value.allowed
        return
    after = apply(ticket, event, role=role, at=AT, by=by, facts=_facts(event, role))

    assert after.status == (target or (ticket.status_before if event == "undo" else ticket.status))
    assert (after.version, after.updated_at) == (ticket.version + 1, AT)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("role", ROLES)
def test_merging_is_for_leads_and_for_the_system_while_raised(kind: str, role: Role) -> None:
    """Any open ticket is merged by a lead; by an evaluation only while it is raised."""
    ticket = _ticket(kind)
    expected = (role == "lead" and is_open(ticket)) or (role == "system" and kind == "raised")

    assert ("merge" in allowed_events(ticket, role)) == expected


def test_merging_keeps_the_link_and_needs_an_open_ticket_of_the_same_vehicle() -> None:
    """A merged ticket is dismissed as merged, with the link; a closed or foreign target is refused."""
    ticket, target = _ticket("accepted"), _ticket("raised", ticket="V-1-T2")

    merged = apply(ticket, "merge", role="lead", at=AT, by="lead", facts=Facts(other=target))

    assert (merged.status, merged.reason, merged.merged_into) == ("dismissed", "merged", "V-1-T2")
    for wrong in (ticket, _ticket("raised", ticket="V-2-T1", vehicle="V-2"), _ticket("verified", ticket="x")):
        with pytest.raises(TransitionRefused):
            apply(ticket, "merge", role="lead", at=AT, facts=Facts(other=wrong))


def test_closing_sets_closed_at_and_reopening_empties_it() -> None:
    """`closed_at` is set on verified, dismissed and when proof time runs out; reopened empties it."""
    done = _ticket("done")
    for event in ("verify", "time_out"):
        closed = apply(done, event, role="system", at=AT)
        assert closed.closed_at == AT
        assert not is_open(closed)
        again = apply(closed, "reopen", role="lead", at=AT, facts=Facts(reason="driver again"))
        assert again.closed_at is None
        assert is_open(again)


def test_deferring_class_1_is_for_the_manager_with_a_second_confirmation() -> None:
    """A vehicle that may stall is deferred by a manager only, who confirms twice."""
    ticket = _ticket("raised", consequence=1)
    facts = Facts(on=date(2031, 3, 20), reason="needed on the road")

    assert "defer" not in allowed_events(ticket, "lead")
    with pytest.raises(TransitionRefused, match="second confirmation"):
        apply(ticket, "defer", role="manager", at=AT, facts=facts)
    confirmed = replace(facts, confirmed=True)
    assert apply(ticket, "defer", role="manager", at=AT, facts=confirmed).status == "deferred"


@pytest.mark.parametrize(
    ("event", "role", "status", "facts", "field"),
    [
        ("book", "lead", "raised", Facts(), "on"),
        ("book", "lead", "raised", Facts(on=date(2031, 3, 8)), "on"),
        ("book", "lead", "raised", Facts(on=date(2031, 2, 1)), "on"),
        ("book", "lead", "raised", Facts(on=date(2031, 3, 5), hours=0.0), "hours"),
        ("record_repair", "mechanic", "in_work", Facts(), "done_at"),
        ("record_no_fault", "mechanic", "in_work", Facts(), "done_at"),
        ("pause", "mechanic", "in_work", Facts(reason="lunch"), "reason"),
        ("defer", "lead", "raised", Facts(reason="x"), "on"),
        ("defer", "lead", "raised", Facts(on=date(2031, 5, 3), reason="x"), "on"),
        ("defer", "lead", "raised", Facts(on=date(2031, 3, 3), reason="x"), "on"),
        ("defer", "lead", "raised", Facts(on=date(2031, 3, 20)), "reason"),
        ("dismiss", "lead", "raised", Facts(reason="no time"), "reason"),
        ("dismiss", "system", "raised", Facts(reason="evidence_eased"), "reason"),
        ("verify_by_hand", "lead", "done", Facts(readings="0.8"), "reason"),
        ("verify_by_hand", "lead", "done", Facts(reason="own reader"), "readings"),
        ("reopen", "lead", "verified", Facts(), "reason"),
        ("comeback", "system", "verified", Facts(), "other"),
        ("merge", "lead", "raised", Facts(), "other"),
    ],
)
def test_a_missing_or_wrong_fact_is_named(
    event: Event, role: Role, status: str, facts: Facts, field: str
) -> None:
    """Each guard refuses with the fact it misses and what is allowed."""
    with pytest.raises(TransitionRefused) as caught:
        apply(_ticket(status), event, role=role, at=AT, facts=facts)

    assert caught.value.field == field
    assert caught.value.detail.endswith(".")


@pytest.mark.parametrize(
    ("role", "by", "hours", "linked", "works"),
    [
        ("lead", "lead", 23.0, "", True),
        ("mechanic", "somebody", 23.0, "", True),
        ("mechanic", "another", 1.0, "", False),
        ("lead", "lead", 25.0, "", False),
        ("lead", "lead", 1.0, "V-1-T2", False),
    ],
)
def test_undo_within_a_day_by_who_closed_it_or_a_lead(
    role: Role, by: str, hours: float, linked: str, works: bool
) -> None:
    """Closing is undone within 24 h, by who did it or a lead, and not once a comeback is linked."""
    ticket = _ticket("dismissed", closed_at=AT - timedelta(hours=hours), comeback_by=linked)

    def undo() -> Ticket:
        return apply(ticket, "undo", role=role, at=AT, by=by)

    if works:
        assert (undo().status, undo().closed_at) == ("in_work", None)
    else:
        with pytest.raises((TransitionRefused, TransitionNotAllowed)):
            undo()


def test_a_comeback_links_the_old_ticket_once() -> None:
    """The old ticket keeps its status and gets the link; then neither reopens nor comes back again."""
    old = _ticket("verified")

    linked = apply(
        old, "comeback", role="system", at=AT, facts=Facts(other=_ticket("raised", ticket="V-1-T2"))
    )

    assert (linked.status, linked.comeback_by) == ("verified", "V-1-T2")
    assert allowed_events(linked, "lead") == ()


@pytest.mark.parametrize(
    "change",
    [lambda t: assign(t, "a login", at=AT), lambda t: pin(t, date(2031, 4, 1), at=AT)],
    ids=["assign", "pin"],
)
def test_assigning_and_pinning_keep_the_status(change: Callable[[Ticket], Ticket]) -> None:
    """Assign and pin change no status, but count as a change."""
    ticket = _ticket("accepted")

    after = change(ticket)

    assert (after.status, after.version) == ("accepted", 2)


def test_the_refusal_lists_what_is_allowed() -> None:
    """A refusal tells ticket, status, role and the events that are allowed."""
    with pytest.raises(TransitionNotAllowed) as caught:
        apply(_ticket("in_work"), "accept", role="mechanic", at=AT)

    assert caught.value.allowed == ("record_repair", "record_no_fault", "pause")
    assert str(caught.value) == (
        "Ticket V-1-T1 is in_work: 'accept' is not allowed for mechanic. "
        "Allowed events: record_repair, record_no_fault, pause."
    )
