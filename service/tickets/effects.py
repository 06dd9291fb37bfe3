"""What each event of the life-cycle does to a ticket, and which facts it needs to be allowed."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Final, Literal, get_args

from service.tickets.errors import TransitionRefused
from service.tickets.rules import Rules
from service.tickets.ticket import DISMISS_REASONS, Role, Status, Ticket, is_open
from service.tickets.words import to_day

Event = Literal[
    "accept",
    "book",
    "start",
    "record_repair",
    "record_no_fault",
    "pause",
    "defer",
    "return",
    "dismiss",
    "rest",
    "wake",
    "verify",
    "not_cured",
    "time_out",
    "verify_by_hand",
    "merge",
    "undo",
    "comeback",
    "reopen",
]
"""What can happen to a ticket."""

EVENTS: Final[tuple[Event, ...]] = get_args(Event)

PAUSE_REASONS: Final = ("parts", "vehicle_away")
"""Why work may pause."""

NO_FAULT_REASONS: Final = ("inspected_nothing", "reader_disagrees", "comes_and_goes")
"""Ways in which an inspection finds nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What an event brings along; each event says which it needs.

    Parameters
    ----------
    reason : str
        Reason code: dismiss, defer, pause, reopen, verify_by_hand.
    on : date or None
        Booked day (book) or last day of waiting (defer), local.
    hours : float or None
        Booked hours [h].
    assignee : str
        Login of who takes it (accept, start, book).
    done_at : datetime or None
        When the work was done, aware UTC (records).
    done_day : int or None
        The same as the vehicle's local day [days since 1970-01-01]; by default the day in UTC.
    cause : str
        Cause the repair names.
    record : str
        Number of the work record (records).
    other : Ticket or None
        Merge target, or the new ticket of a comeback.
    confirmed : bool
        Second confirmation of deferring a ticket of class 1.
    readings : str
        Readings that a verification by hand rests on.
    """

    reason: str = ""
    on: date | None = None
    hours: float | None = None
    assignee: str = ""
    done_at: datetime | None = None
    done_day: int | None = None
    cause: str = ""
    record: str = ""
    other: Ticket | None = None
    confirmed: bool = False
    readings: str = ""


NO_FACTS: Final = Facts()


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One event about to change one ticket."""

    ticket: Ticket
    event: Event
    role: Role
    at: datetime
    by: str
    facts: Facts
    rules: Rules

    def need(self, holds: bool, field: str, detail: str) -> None:
        """Refuse the step unless something holds."""
        if not holds:
            raise TransitionRefused(ticket=self.ticket.ticket, event=self.event, field=field, detail=detail)


def _accept(step: Step) -> Ticket:
    return replace(step.ticket, status="accepted", assignee=step.facts.assignee or step.ticket.assignee)


def _book(step: Step) -> Ticket:
    on, hours = step.facts.on, step.facts.hours
    if on is None:
        raise TransitionRefused(
            ticket=step.ticket.ticket, event="book", field="on", detail="a booking needs a date."
        )
    step.need(
        on >= step.at.date() - timedelta(days=1), "on", f"the date must not be past, was {on.isoformat()}."
    )
    step.need(
        on.weekday() in step.rules.working_days,
        "on",
        f"the depot does not work on {on.isoformat()} ({on.strftime('%A')}).",
    )
    step.need(hours is None or 0 < hours <= 200, "hours", f"hours must be above 0, at most 200; was {hours}.")
    return replace(_accept(step), booked_on=on, booked_hours=hours)


def _start(step: Step) -> Ticket:
    return replace(_accept(step), status="in_work")


def _record_repair(step: Step) -> Ticket:
    done_at, day = step.facts.done_at, step.facts.done_day
    if done_at is None:
        raise TransitionRefused(
            ticket=step.ticket.ticket,
            event=step.event,
            field="done_at",
            detail="a repair needs the time it was done.",
        )
    return replace(
        step.ticket,
        status="done",
        done_at=done_at,
        done_day=to_day(done_at.date()) if day is None else day,
        done_cause=step.facts.cause,
        records=_with_record(step),
        deferred_until=None,
        resting_since=None,
        eased_on=None,
        proof=None,
        status_before="",
    )


def _record_no_fault(step: Step) -> Ticket:
    inspected_at = step.facts.done_at
    step.need(inspected_at is not None, "done_at", "an inspection needs the time it was done.")
    return replace(
        _close(step, "dismissed", "no_fault_found"),
        inspected_at=inspected_at,
        records=_with_record(step),
        score_at_inspection=step.ticket.score,
    )


def _pause(step: Step) -> Ticket:
    step.need(
        step.facts.reason in PAUSE_REASONS,
        "reason",
        f"a pause needs one of {', '.join(PAUSE_REASONS)}; was {step.facts.reason!r}.",
    )
    return replace(step.ticket, status="accepted", reason=step.facts.reason)


def _defer(step: Step) -> Ticket:
    until, longest = step.facts.on, step.at.date() + timedelta(days=step.rules.defer_days)
    if until is None:
        raise TransitionRefused(
            ticket=step.ticket.ticket, event="defer", field="on", detail="a deferral needs a date."
        )
    step.need(
        step.at.date() < until <= longest,
        "on",
        f"the date must lie after today and by {longest.isoformat()} "
        f"({step.rules.defer_days} days); was {until.isoformat()}.",
    )
    step.need(step.facts.reason.strip() != "", "reason", "a deferral needs a reason.")
    step.need(
        step.ticket.consequence != 1 or step.facts.confirmed,
        "confirmed",
        "the vehicle may stall or not start: deferring needs a second confirmation.",
    )
    return replace(
        step.ticket,
        status="deferred",
        deferred_until=until,
        reason=step.facts.reason,
        limit_on_at_deferral=step.ticket.reaches_limit_on,
        booked_on=None,
        booked_hours=None,
    )


def _return(step: Step) -> Ticket:
    return replace(step.ticket, status="accepted", deferred_until=None, limit_on_at_deferral=None)


def _dismiss(step: Step) -> Ticket:
    allowed = ("vehicle_gone",) if step.role == "system" else DISMISS_REASONS
    step.need(
        step.facts.reason in allowed,
        "reason",
        f"dismissing needs one of {', '.join(allowed)}; was {step.facts.reason!r}.",
    )
    return replace(_close(step, "dismissed", step.facts.reason), score_at_inspection=step.ticket.score)


def _rest(step: Step) -> Ticket:
    return replace(step.ticket, resting_since=step.ticket.eased_on or step.at.date(), eased_on=None)


def _wake(step: Step) -> Ticket:
    return replace(step.ticket, resting_since=None)


def _verify(step: Step) -> Ticket:
    return replace(_close(step, "verified", step.ticket.reason), closed_detail="by_data")


def _not_cured(step: Step) -> Ticket:
    return replace(step.ticket, status="reopened", closed_at=None, closed_detail="", status_before="")


def _time_out(step: Step) -> Ticket:
    return replace(step.ticket, closed_at=step.at, closed_detail="without_proof", closed_by=step.by)


def _verify_by_hand(step: Step) -> Ticket:
    step.need(step.facts.reason.strip() != "", "reason", "verifying by hand needs a reason.")
    step.need(step.facts.readings.strip() != "", "readings", "verifying by hand needs the readings.")
    return replace(_close(step, "verified", step.facts.reason), closed_detail="by_hand")


def _merge(step: Step) -> Ticket:
    target = step.facts.other
    if target is None:
        raise TransitionRefused(
            ticket=step.ticket.ticket, event="merge", field="other", detail="merging needs the other ticket."
        )
    step.need(target.ticket != step.ticket.ticket, "other", "a ticket cannot be merged into itself.")
    step.need(
        target.vehicle == step.ticket.vehicle,
        "other",
        f"both must be of one vehicle; {target.ticket} is of {target.vehicle}.",
    )
    step.need(
        is_open(target),
        "other",
        f"the other ticket must be open; {target.ticket} is {target.status}.",
    )
    return replace(_close(step, "dismissed", "merged"), merged_into=target.ticket)


def _undo(step: Step) -> Ticket:
    ticket = step.ticket
    age = step.at - (ticket.closed_at or step.at)
    step.need(
        age <= timedelta(hours=step.rules.undo_hours),
        "at",
        f"closing can be undone for {step.rules.undo_hours:g} h; {age.total_seconds() / 3600:.1f} h passed.",
    )
    step.need(
        step.role == "lead" or step.by == ticket.closed_by,
        "by",
        f"only a lead or who closed it ({ticket.closed_by}) may undo.",
    )
    status = ticket.status_before
    if status == "":
        raise TransitionRefused(
            ticket=ticket.ticket, event="undo", field="status", detail="there is nothing to undo."
        )
    return replace(
        ticket,
        status=status,
        closed_at=None,
        closed_by="",
        closed_detail="",
        reason="",
        merged_into="",
        status_before="",
    )


def _comeback(step: Step) -> Ticket:
    new = step.facts.other
    if new is None:
        raise TransitionRefused(
            ticket=step.ticket.ticket,
            event="comeback",
            field="other",
            detail="a comeback needs its new ticket.",
        )
    step.need(new.vehicle == step.ticket.vehicle, "other", "both tickets must be of one vehicle.")
    return replace(step.ticket, comeback_by=new.ticket, status_before="")


def _reopen(step: Step) -> Ticket:
    step.need(step.facts.reason.strip() != "", "reason", "reopening needs a reason.")
    return replace(
        step.ticket,
        status="reopened",
        closed_at=None,
        closed_by="",
        closed_detail="",
        reason=step.facts.reason,
        merged_into="",
        status_before="",
    )


def _with_record(step: Step) -> tuple[str, ...]:
    number = step.facts.record
    return (*step.ticket.records, number) if number else step.ticket.records


def _close(step: Step, status: Status, reason: str) -> Ticket:
    return replace(
        step.ticket,
        status=status,
        closed_at=step.at,
        closed_by=step.by,
        reason=reason,
        deferred_until=None,
        resting_since=None,
        eased_on=None,
        status_before=step.ticket.status,
    )


EFFECTS: Final[dict[Event, Callable[[Step], Ticket]]] = {
    "accept": _accept,
    "book": _book,
    "start": _start,
    "record_repair": _record_repair,
    "record_no_fault": _record_no_fault,
    "pause": _pause,
    "defer": _defer,
    "return": _return,
    "dismiss": _dismiss,
    "rest": _rest,
    "wake": _wake,
    "verify": _verify,
    "not_cured": _not_cured,
    "time_out": _time_out,
    "verify_by_hand": _verify_by_hand,
    "merge": _merge,
    "undo": _undo,
    "comeback": _comeback,
    "reopen": _reopen,
}
"""What each event does to a ticket that the table lets it reach."""
