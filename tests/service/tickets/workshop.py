"""A small fleet to try the ticket rules on."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta

from models.findings import Assessment, Finding, VehicleState
from models.panel import SheetFacts
from service.tickets.compose import VehicleFacts
from service.tickets.matching import WorkDone
from service.tickets.proof import Proof
from service.tickets.reconcile import Action, Knowledge, reconcile
from service.tickets.rules import Rules
from service.tickets.ticket import Ticket

FIRST = 22_341
"""A Monday in 2031, days since 1970-01-01."""

SHEET = SheetFacts(sheet="HARROW-24", revision=2, source="shop manual p. 6-12")


@dataclass
class Workshop:
    """A fleet of one vehicle, evaluated day after day; tickets are kept as the store would keep them."""

    tickets: dict[str, Ticket] = field(default_factory=dict)
    work: list[WorkDone] = field(default_factory=list)
    events: list[str] = field(default_factory=list)
    rules: Rules = field(default_factory=Rules)
    day: int = FIRST
    word: str = "watch"

    def night(
        self,
        *findings: Finding,
        proofs: Sequence[Proof] = (),
        days: int = 1,
        last_day: int | None = None,
    ) -> tuple[Action, ...]:
        """Evaluate one day and go on to the next."""
        assessment = Assessment(
            day=self.day,
            method="a method 1",
            findings=findings,
            vehicles=(
                VehicleState(
                    vehicle="V-1",
                    word=self.word,
                    reason="",
                    last_day=self.day if last_day is None else last_day,
                    readings=20,
                ),
            ),
        )
        knowledge = Knowledge(
            work=self.work,
            proofs=proofs,
            vehicles={"V-1": VehicleFacts(depot="North", spec_sheet="HARROW-24", sheet=SHEET)},
            rules=self.rules,
        )
        actions = reconcile(tickets=self.tickets.values(), assessment=assessment, knowledge=knowledge)
        for action in actions:
            before = self.tickets.get(action.ticket.ticket)
            assert action.read_version == (0 if before is None else before.version)
            self.tickets[action.ticket.ticket] = action.ticket
            self.events += [event.event for event in action.events]
        again = reconcile(tickets=self.tickets.values(), assessment=assessment, knowledge=knowledge)
        assert again == (), "an evaluation done again must change nothing"
        self.day += days
        return actions

    def record(self, kind: str, *, cause: str = "", ticket: str = "", day: int | None = None) -> WorkDone:
        """Record work done on a day, by default the day of the next evaluation."""
        on = self.day if day is None else day
        done_at = datetime(1970, 1, 1, 10, 0, tzinfo=UTC) + timedelta(days=on)
        record = WorkDone(
            number=f"W{len(self.work) + 1}",
            vehicle="V-1",
            done_at=done_at,
            day=on,
            kind=kind,
            cause=cause,
            ticket=ticket,
        )
        self.work.append(record)
        return record

    def only(self) -> Ticket:
        """Give the one ticket there is."""
        assert len(self.tickets) == 1, sorted(self.tickets)
        return next(iter(self.tickets.values()))


def cured_proof(ticket: Ticket, **changes: object) -> Proof:
    """Make the proof of a repair that cured, or one with some fields changed."""
    cured = Proof(
        ticket=ticket.ticket,
        readings=6,
        days=4,
        median=1.2,
        inside_limits=True,
        shift_undone=0.97,
        done_day=ticket.done_day,
    )
    return replace(cured, **changes)  # type: ignore[arg-type]
