"""The practice workshop's people: they take tickets in hand, so that a practice fleet looks lived in.

They know when the practice fleet's faults are mended, and book towards that. Nobody here stands for a person:
every step is signed by a role of the "practice workshop".
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Final

from service.tickets.byhand import Changed
from service.tickets.effects import Event, Facts
from service.tickets.lifecycle import apply, event_row
from service.tickets.ticket import Role, Ticket, is_open
from service.tickets.words import date_words

BY: Final = "practice workshop"
STARTS_AT: Final = time(14, 10)
"""When they act, UTC: in the morning where the practice fleet is, before that day's evaluation is stamped."""

BENCHES: Final = ("bench 1", "bench 2")
BOOKS_AHEAD: Final = 10
"""Days ahead for which a visit is booked."""
DEFERS: Final = 28
"""Longest time that a ticket is put off in one go [days]."""
LOOKS_AFTER: Final = 9
"""Days after which a ticket that no repair is known for is inspected."""
FRIDAY: Final = 4
NEXT_VISIT: Final = 3
HOURS: Final = (1.0, 1.5, 2.5)
"""Hours booked for a visit, by vehicle [h]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One step that they take."""

    event: Event
    role: Role
    facts: Facts
    note: str = ""


class PracticeWorkshop:
    """Acts on tickets day by day; a replay asks it before each date.

    Parameters
    ----------
    repairs : iterable of (vehicle, date)
        When faults are mended; days behind the end of the history are visits that are booked on its last day.
    """

    def __init__(self, repairs: Iterable[tuple[str, date]]) -> None:
        self._repairs: dict[str, list[date]] = defaultdict(list)
        for vehicle, on in sorted(repairs):
            self._repairs[vehicle].append(on)

    def __call__(self, on: date, tickets: tuple[Ticket, ...]) -> Sequence[Changed]:
        """Give what they change on a day: one step a ticket; nothing on weekends."""
        if on.weekday() > FRIDAY:
            return ()
        at = datetime.combine(on, STARTS_AT, UTC)
        found = []
        for place, ticket in enumerate(one for one in tickets if is_open(one)):
            move = self._choose(ticket, on, at)
            if move is not None:
                found.append(_carry_out(ticket, move, at + timedelta(minutes=place)))
        return found

    def _choose(self, ticket: Ticket, on: date, at: datetime) -> Move | None:
        age = (on - max(ticket.raised_at, ticket.done_at or ticket.raised_at).date()).days
        if ticket.status in {"raised", "reopened"}:
            return _accept(ticket) if age > _patience(ticket) else None
        if ticket.status == "in_work":
            return self._finish(ticket, on, at)
        if ticket.status != "accepted":
            return None
        if ticket.booked_on is not None:
            if ticket.booked_on > on:
                return None
            return Move(event="start", role="mechanic", facts=Facts(assignee=ticket.assignee))
        return self._plan(ticket, on, age)

    def _plan(self, ticket: Ticket, on: date, age: int) -> Move | None:
        day = self._next_repair(ticket.vehicle, on)
        if day is None:
            if age < LOOKS_AFTER:
                return None
            return _book(ticket, _working_day(on + timedelta(days=NEXT_VISIT), on))
        if (day - on).days > BOOKS_AHEAD and ticket.consequence != 1:
            until = min(day - timedelta(days=BOOKS_AHEAD // 2), on + timedelta(days=DEFERS))
            note = f"Until {date_words(until)}: waiting for parts."
            return Move(event="defer", role="lead", facts=Facts(on=until, reason="parts"), note=note)
        return _book(ticket, _working_day(day, on))

    def _finish(self, ticket: Ticket, on: date, at: datetime) -> Move | None:
        """Find nothing where no repair is to come; else wait for its record."""
        day = self._next_repair(ticket.vehicle, on)
        if day is not None and (day - on).days <= BOOKS_AHEAD:
            return None
        return Move(
            event="record_no_fault",
            role="mechanic",
            facts=Facts(done_at=at, reason="inspected_nothing"),
            note="Inspected, nothing found.",
        )

    def _next_repair(self, vehicle: str, on: date) -> date | None:
        return next((day for day in self._repairs[vehicle] if day >= on), None)


def _patience(ticket: Ticket) -> int:
    """Give the days until a ticket is taken in hand, one to three; the same ticket always waits as long."""
    return 1 + _number(ticket) % 3


def _number(ticket: Ticket) -> int:
    """Give a number that is the vehicle's own, to spread choices without chance."""
    return sum(map(ord, ticket.vehicle))


def _accept(ticket: Ticket) -> Move:
    bench = BENCHES[_number(ticket) % len(BENCHES)]
    return Move(event="accept", role="lead", facts=Facts(assignee=bench), note=f"For {bench}.")


def _book(ticket: Ticket, on: date) -> Move:
    hours = HOURS[_number(ticket) % len(HOURS)]
    note = f"For {date_words(on)}, {hours:g} h."
    return Move(event="book", role="lead", facts=Facts(on=on, hours=hours), note=note)


def _working_day(wanted: date, earliest: date) -> date:
    """Give the last working day by the wanted one; the first after it where that is too early."""
    back = wanted - timedelta(days=max(0, wanted.weekday() - FRIDAY))
    return back if back >= earliest else wanted + timedelta(days=7 - wanted.weekday())


def _carry_out(ticket: Ticket, move: Move, at: datetime) -> Changed:
    after = apply(ticket, move.event, role=move.role, at=at, by=BY, facts=move.facts)
    row = event_row(ticket, after, event=move.event, role=move.role, by=BY, at=at, note=move.note)
    return Changed(ticket=after, events=(row,), read_version=ticket.version)
