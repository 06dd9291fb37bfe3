"""What work records do to tickets: a repair awaits proof, an empty inspection dismisses, complaints count."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from service.tickets.bench import Bench
from service.tickets.effects import Facts
from service.tickets.matching import REPAIRS, WorkDone, bears_on, ticket_of
from service.tickets.ticket import Ticket, is_open
from service.tickets.words import day_words, to_day

_WORKABLE: Final = frozenset({"raised", "accepted", "in_work", "reopened", "deferred"})


def hear_complaints(bench: Bench, records: Sequence[WorkDone]) -> None:
    """Give complaints that came before their ticket to it."""
    hear_records(bench, [record for record in records if record.kind == "complaint"])


def hear_records(bench: Bench, records: Sequence[WorkDone]) -> None:
    """Apply the work records that no ticket has taken yet, in the order they were done.

    `memory_cleared` and `note` move nothing. A record older than the change that a ticket speaks of is
    history, unless it names the ticket.
    """
    for record in records:
        if _is_taken(bench.tickets(), record):
            continue
        if record.kind in REPAIRS:
            _repair(bench, record)
        elif record.kind == "no_fault_found":
            _no_fault(bench, record)
        elif record.kind == "complaint":
            _complaint(bench, record)


def _is_taken(tickets: Sequence[Ticket], record: WorkDone) -> bool:
    """Tell whether a ticket has the record: by its number, or as the work that a form has entered."""
    if any(record.number in ticket.records for ticket in tickets):
        return True
    if record.kind in REPAIRS:
        return any(record.done_at == ticket.done_at for ticket in tickets)
    return record.kind == "no_fault_found" and any(record.done_at == t.inspected_at for t in tickets)


def _repair(bench: Bench, record: WorkDone) -> None:
    workable = [ticket for ticket in bench.open_tickets() if ticket.status in _WORKABLE]
    fitting = [
        ticket
        for ticket in workable
        if (ticket.done_at is None or record.done_at > ticket.done_at)
        and record.number not in ticket.passed
        and (record.ticket != "" or _is_younger(record, ticket))
    ]
    chosen = ticket_of(record, fitting)
    for ticket in workable:
        if ticket is not chosen and not record.ticket and record.number not in ticket.passed:
            bench.change(ticket, replace(ticket, passed=(*ticket.passed, record.number)), event="update")
    if chosen is None:
        return
    facts = Facts(done_at=record.done_at, done_day=record.day, cause=record.cause, record=record.number)
    note = f"Repair recorded, done {day_words(record.day)}: {record.cause or 'no cause named'}."
    bench.move(chosen, "record_repair", role="record", facts=facts, note=note)


def _no_fault(bench: Bench, record: WorkDone) -> None:
    if not record.ticket:
        return
    ticket = ticket_of(record, [t for t in bench.open_tickets() if t.status in _WORKABLE])
    if ticket is None or (ticket.inspected_at is not None and record.done_at <= ticket.inspected_at):
        return
    facts = Facts(done_at=record.done_at, done_day=record.day, record=record.number)
    note = f"Inspected {day_words(record.day)}, nothing found."
    bench.move(ticket, "record_no_fault", role="record", facts=facts, note=note)


def _complaint(bench: Bench, record: WorkDone) -> None:
    tickets = [ticket for ticket in bench.open_tickets() if record.day >= _began(ticket)]
    waiting = [t for t in tickets if t.status == "done" and t.done_at and record.done_at > t.done_at]
    ticket = ticket_of(record, [t for t in tickets if t.status != "done"]) or ticket_of(record, waiting)
    if ticket is None:
        return
    heard = replace(
        ticket,
        records=(*ticket.records, record.number),
        complaints=(*ticket.complaints, record.done_at),
    )
    note = f"A driver complained on {day_words(record.day)}."
    heard = bench.change(ticket, heard, event="complaint", role="record", note=note)
    if heard.status == "done" and is_open(heard) and bears_on(record, heard):
        bench.move(heard, "not_cured", note=f"Not cured: complaint of {day_words(record.day)}.")


def _is_younger(record: WorkDone, ticket: Ticket) -> bool:
    """Tell whether work came after the ticket, or else, with a cause, between its change and its evidence.

    Work older than the ticket is taken only when it was not known as the evidence was judged: evidence judged
    with it starts its baseline at the work.
    """
    if record.day >= to_day(ticket.raised_at.date()):
        return True
    if not record.cause:
        return False
    if ticket.detail is not None and ticket.detail.readings[0].segment_from >= record.day:
        return False
    return record.day >= _began(ticket)


def _began(ticket: Ticket) -> int:
    raised = to_day(ticket.raised_at.date())
    return raised if ticket.onset_day is None else min(raised, ticket.onset_day)
