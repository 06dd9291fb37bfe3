"""Whole lives of tickets: any event, by anybody, in any order, and what must hold all the while."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from service.tickets.effects import EVENTS, Event, Facts
from service.tickets.errors import TransitionNotAllowed, TransitionRefused
from service.tickets.lifecycle import allowed_events, apply
from service.tickets.ticket import ROLES, STATUSES, Role, Ticket, is_open

BORN = datetime(2031, 3, 3, 12, tzinfo=UTC)
PEOPLE = ("mechanic", "lead", "manager")

FACTS = st.builds(
    Facts,
    reason=st.sampled_from(
        ["", "parts", "vehicle_gone", "evidence_eased", "own reader", "needed on the road"]
    ),
    on=st.none() | st.dates(date(2031, 3, 1), date(2031, 9, 1)),
    hours=st.none() | st.sampled_from([-1.0, 0.0, 2.0, 900.0]),
    assignee=st.sampled_from(["", "ann"]),
    done_at=st.none() | st.integers(-30, 3).map(lambda days: BORN + timedelta(days=days)),
    cause=st.sampled_from(["", "unmetered_air", "unknown"]),
    record=st.sampled_from(["", "W1"]),
    confirmed=st.booleans(),
    readings=st.sampled_from(["", "trim 0.8 %"]),
)


class Life(RuleBasedStateMachine):
    """One ticket, and everybody who may do something to it."""

    def __init__(self) -> None:
        super().__init__()
        self.at = BORN
        self.ticket = Ticket(
            ticket="V-1-T1", vehicle="V-1", status="raised", raised_at=BORN, updated_at=BORN, consequence=2
        )

    @rule(event=st.sampled_from(EVENTS), role=st.sampled_from(ROLES), facts=FACTS, hours=st.integers(0, 900))
    def try_anything(self, event: Event, role: Role, facts: Facts, hours: int) -> None:
        """Let somebody try an event: it is done one version further, or refused and nothing changed."""
        self.at += timedelta(hours=hours)
        before, allowed = self.ticket, allowed_events(self.ticket, role)
        if event in ("merge", "comeback"):
            facts = replace(facts, other=self._other())
        by = "somebody" if role in PEOPLE else role
        after = self._tried(event, role, by, facts)
        if after is None:
            return
        assert event in allowed
        assert after.version == before.version + 1
        assert (after.ticket, after.vehicle, after.raised_at) == (
            before.ticket,
            before.vehicle,
            before.raised_at,
        )
        assert after.updated_at == self.at >= before.updated_at
        if before.status in ("verified", "dismissed") and is_open(after):
            assert event in ("undo", "reopen")
        if after.status == "verified" and before.status != "verified" and event != "undo":
            assert before.status == "done"
        if role == "system":
            assert event not in ("accept", "book", "start", "defer", "verify_by_hand", "reopen", "undo")
        self.ticket = after

    @precondition(lambda self: not is_open(self.ticket))
    @rule(role=st.sampled_from(PEOPLE))
    def look_at_a_closed_one(self, role: Role) -> None:
        """From a closed ticket nobody goes on working: first it is opened again."""
        working = {"accept", "book", "start", "record_repair", "record_no_fault", "pause", "defer", "dismiss"}

        assert not working & set(allowed_events(self.ticket, role))

    @invariant()
    def statuses_are_the_written_ones(self) -> None:
        """Hold that the status is one of the contract's, with the facts that belong to it."""
        ticket = self.ticket
        assert ticket.status in STATUSES
        assert (ticket.deferred_until is not None) == (ticket.status == "deferred")
        if ticket.status in ("verified", "dismissed"):
            assert ticket.closed_at is not None
        if ticket.status in ("raised", "accepted", "in_work", "deferred", "reopened"):
            assert ticket.closed_at is None
        assert ticket.closed_at is None or ticket.raised_at <= ticket.closed_at <= self.at

    @invariant()
    def nobody_and_viewers_may_nothing(self) -> None:
        """Roles without a row in the table have no event at all, wherever the ticket stands."""
        for role in ("viewer", "analyst", "integrator", "admin", ""):
            assert allowed_events(self.ticket, role) == ()  # type: ignore[arg-type]  # no role of tickets

    def _tried(self, event: Event, role: Role, by: str, facts: Facts) -> Ticket | None:
        """Try an event; None where it was refused, as the table says or for want of a fact."""
        allowed = allowed_events(self.ticket, role)
        refused: TransitionNotAllowed | TransitionRefused
        try:
            return apply(self.ticket, event, role=role, at=self.at, by=by, facts=facts)
        except TransitionNotAllowed as found:
            refused = found
        except TransitionRefused as found:
            refused = found
        if isinstance(refused, TransitionNotAllowed):
            assert event not in allowed
            assert refused.allowed == allowed
        else:
            assert event in allowed
            assert refused.field
        return None

    def _other(self) -> Ticket:
        return replace(self.ticket, ticket="V-1-T2", status="raised", closed_at=None, version=1)


Life.TestCase.settings = settings(max_examples=60, stateful_step_count=30, deadline=None)
TestLife = Life.TestCase
