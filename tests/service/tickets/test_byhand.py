"""People raise tickets too, and never a second one for the same fault."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from service.tickets.byhand import Seen, raise_by_hand
from service.tickets.errors import TransitionNotAllowed, TransitionRefused
from service.tickets.ticket import ROLES, Role, Ticket

AT = datetime(2031, 3, 3, 9, tzinfo=UTC)
SEEN = Seen(vehicle="V-1", depot="North", reason="Stalls at the gate.", cause="throttle_deposits")


def _open(**changes: object) -> Ticket:
    plain = Ticket(ticket="V-1-T1", vehicle="V-1", raised_at=AT, updated_at=AT, group="idle")
    return replace(plain, **changes)  # type: ignore[arg-type]


def test_a_person_raises_a_ticket_with_a_reason() -> None:
    """The new ticket says who raised it and why, and has a due day by its class."""
    (change,) = raise_by_hand(SEEN, [], role="mechanic", by="a login", at=AT)

    ticket = change.ticket
    assert (ticket.ticket, ticket.status, ticket.raised_by, change.read_version) == (
        "V-1-T1",
        "raised",
        "a login",
        0,
    )
    assert ticket.evidence == "V-1: raised by hand. Stalls at the gate."
    assert ticket.due_by == (AT + timedelta(days=7)).date()


@pytest.mark.parametrize("group", ["idle", "mixture", "unknown"])
def test_an_open_ticket_for_the_same_fault_gets_the_remark(group: str) -> None:
    """With a ticket open for the same fault the remark joins it, and wakes it."""
    resting = _open(group=group, resting_since=AT.date())

    (change,) = raise_by_hand(SEEN, [resting], role="lead", by="a login", at=AT)

    assert (change.ticket.ticket, change.ticket.resting_since) == ("V-1-T1", None)
    assert [(event.event, event.note) for event in change.events] == [("evidence", "Stalls at the gate.")]


def test_a_charging_ticket_is_another_fault() -> None:
    """An open charging ticket does not take an idle fault."""
    (change,) = raise_by_hand(SEEN, [_open(group="charging")], role="lead", by="a login", at=AT)

    assert change.ticket.ticket == "V-1-T2"


def test_a_comeback_is_linked_both_ways() -> None:
    """The same cause soon after closing opens a new ticket, linked to the old."""
    old = _open(status="verified", closed_at=AT - timedelta(days=10), done_cause="throttle_deposits")

    new, linked = raise_by_hand(SEEN, [old], role="manager", by="a login", at=AT)

    assert new.ticket.comeback_of == "V-1-T1"
    assert linked.ticket.comeback_by == "V-1-T2"


@pytest.mark.parametrize("role", [role for role in ROLES if role not in {"mechanic", "lead", "manager"}])
def test_other_roles_raise_nothing(role: Role) -> None:
    """Only workshop roles and the manager raise by hand."""
    with pytest.raises(TransitionNotAllowed):
        raise_by_hand(SEEN, [], role=role, by="x", at=AT)


@pytest.mark.parametrize(
    ("seen", "field"), [(replace(SEEN, reason=" "), "reason"), (replace(SEEN, cause="x"), "cause")]
)
def test_without_reason_or_with_a_wrong_cause_nothing_is_raised(seen: Seen, field: str) -> None:
    """A reason is needed and a cause must be a code."""
    with pytest.raises(TransitionRefused) as caught:
        raise_by_hand(seen, [], role="lead", by="x", at=AT)

    assert caught.value.field == field
