"""One vehicle's tickets while an evaluation works on them, with the steps taken so far."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from service.tickets.compose import Setting
from service.tickets.effects import NO_FACTS, Event, Facts
from service.tickets.lifecycle import apply, event_row
from service.tickets.ticket import Role, Ticket, TicketEvent, is_open

Fact = str | float | int | bool | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """One step taken: the ticket afterwards, its lines of history, and the version it started from."""

    event: str
    ticket: Ticket
    rows: tuple[TicketEvent, ...]
    read_version: int


class Bench:
    """Tickets of one vehicle by number; every change is remembered as a step.

    Parameters
    ----------
    vehicle : str
        The fleet's own number.
    tickets : iterable of Ticket
        Every ticket the vehicle ever had.
    setting : Setting
        What the evaluation knows apart from findings.
    """

    def __init__(self, *, vehicle: str, tickets: Iterable[Ticket], setting: Setting) -> None:
        self.vehicle = vehicle
        self.setting = setting
        self.steps: list[Taken] = []
        self._tickets = {ticket.ticket: ticket for ticket in tickets}

    def tickets(self) -> tuple[Ticket, ...]:
        """Give every ticket as it stands now."""
        return tuple(self._tickets.values())

    def open_tickets(self) -> tuple[Ticket, ...]:
        """Give the open ones, oldest first."""
        own = [ticket for ticket in self._tickets.values() if is_open(ticket)]
        return tuple(sorted(own, key=lambda ticket: (ticket.raised_at, ticket.ticket)))

    def next_number(self) -> str:
        """Give the next free ticket number of the vehicle."""
        return next_number(self.vehicle, self._tickets)

    def move(
        self,
        ticket: Ticket,
        event: Event,
        *,
        role: Role = "system",
        facts: Facts = NO_FACTS,
        note: str = "",
        facts_row: dict[str, Fact] | None = None,
    ) -> Ticket:
        """Apply one event of the life-cycle and remember it."""
        at, rules = self.setting.at, self.setting.rules
        after = apply(ticket, event, role=role, at=at, facts=facts, rules=rules)
        row = event_row(ticket, after, event=event, role=role, at=at, note=note, facts=facts_row)
        self._keep(event, after, (row,), ticket.version)
        return after

    def change(
        self,
        before: Ticket,
        after: Ticket,
        *,
        event: str,
        role: Role = "system",
        note: str = "",
        facts: dict[str, Fact] | None = None,
    ) -> Ticket:
        """Keep changed columns without a change of status; nothing happens when nothing changed."""
        if after == before:
            return before
        at = self.setting.at
        after = replace(after, updated_at=at, version=before.version + 1)
        row = event_row(before, after, event=event, role=role, at=at, note=note, facts=facts)
        self._keep(event, after, (row,) if note else (), before.version)
        return after

    def open(self, ticket: Ticket, *, note: str, facts: dict[str, Fact]) -> Ticket:
        """Keep a new ticket."""
        row = event_row(
            None, ticket, event="raise", role="system", at=self.setting.at, note=note, facts=facts
        )
        self._keep("raise", ticket, (row,), 0)
        return ticket

    def _keep(self, event: str, ticket: Ticket, rows: tuple[TicketEvent, ...], read_version: int) -> None:
        self._tickets[ticket.ticket] = ticket
        self.steps.append(Taken(event=event, ticket=ticket, rows=rows, read_version=read_version))


def next_number(vehicle: str, taken: Iterable[str]) -> str:
    """Give the next ticket number of a vehicle: its own number and a running count.

    Examples
    --------
    >>> next_number("V-0017", ["V-0017-T1", "V-0017-T2"])
    'V-0017-T3'
    """
    start = f"{vehicle}-T"
    counts = [int(number[len(start) :]) for number in taken if number[len(start) :].isdecimal()]
    return f"{start}{max(counts, default=0) + 1}"
