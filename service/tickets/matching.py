"""Which ticket a finding or a work record belongs to: one physical fault gives one ticket."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Final

from models.findings import Finding
from service.tickets.checks import cause_table
from service.tickets.rules import Rules
from service.tickets.ticket import Ticket, is_open
from service.tickets.words import to_day

ACTING_ON_EACH_OTHER: Final = frozenset({"mixture", "idle", "temperature", "pressure"})
"""Groups whose faults show in each other's series: the engine computer meters fuel from all of them.
Charging stands alone."""

REPAIRS: Final = frozenset({"repair", "battery_replaced"})
"""Kinds of work records after which a fault should be gone."""

_MEANINGLESS_CAUSES: Final = frozenset({"", "unknown"})


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkDone:
    """One work record as tickets see it.

    Parameters
    ----------
    number : str
        The record's own number.
    vehicle : str
        The fleet's own number.
    done_at : datetime
        When, aware UTC.
    day : int
        The same as a local day [days since 1970-01-01].
    kind, cause, ticket : str
        As recorded; empty text where not given.
    """

    number: str
    vehicle: str
    done_at: datetime
    day: int
    kind: str
    cause: str = ""
    ticket: str = ""


def series_of(finding: Finding) -> tuple[str, ...]:
    """Name the series that a finding's fault speaks in, the loudest first.

    A finding lists everything that moved. A voltage that moved beside a mixture fault, or a trim beside a
    charging fault, is a by-product and must not tie two faults together.
    """
    charging = finding.group == "charging"
    own = [
        reading.series
        for reading in finding.series
        if finding.group == "unknown" or (reading.parameter in _charging_parameters()) == charging
    ]
    return tuple(dict.fromkeys((finding.lead.series, *own)))


def is_same_fault(ticket: Ticket, finding: Finding, rules: Rules) -> bool:
    """Tell whether a finding speaks of an open ticket's fault.

    Same group or a shared series is the same fault, unless the ticket has rested for weeks and something
    else began to move since. A finding of another group that shares no series is still the same fault when
    both groups act on each other and its change began before, or soon after, the ticket was raised.
    """
    if _is_related(ticket, finding):
        return not _is_separate(ticket, finding, rules)
    if finding.tier != "ticket" or not {ticket.group, finding.group} <= ACTING_ON_EACH_OTHER:
        return False
    return finding.onset_day <= to_day(ticket.raised_at.date()) + rules.same_onset_days


def best_match(tickets: Iterable[Ticket], finding: Finding, rules: Rules) -> Ticket | None:
    """Choose the ticket that a finding belongs to: most shared series, same group, then the oldest."""
    names = set(series_of(finding))
    fitting = [ticket for ticket in tickets if is_same_fault(ticket, finding, rules)]
    if not fitting:
        return None
    return min(
        fitting,
        key=lambda ticket: (
            -len(names & set(ticket.series)),
            ticket.group != finding.group,
            ticket.raised_at,
            ticket.ticket,
        ),
    )


def last_closed(tickets: Iterable[Ticket], finding: Finding) -> Ticket | None:
    """Choose the closed ticket that a finding may come back from: the one closed last."""
    fitting = [
        ticket
        for ticket in tickets
        if not is_open(ticket)
        and ticket.reason != "merged"
        and (
            _is_related(ticket, finding)
            or (
                {ticket.group, finding.group} <= ACTING_ON_EACH_OTHER
                and finding.onset_day <= to_day(ticket.raised_at.date())
            )
        )
    ]
    return max(fitting, key=_closing_key, default=None)


def is_fresh(finding: Finding, *, as_of_day: int, done_day: int, rules: Rules) -> bool:
    """Tell whether a finding rests on data taken after a repair and its relearn."""
    if as_of_day <= done_day + rules.relearn_days:
        return False
    return finding.lead.segment_from >= done_day or finding.onset_day > done_day + rules.relearn_days


def is_quiet(ticket: Ticket, finding: Finding, records: Sequence[WorkDone], rules: Rules) -> bool:
    """Tell whether a dismissed ticket still silences a finding.

    It does until the evidence exceeds the level at the inspection by a margin, a complaint arrives, or
    a repair starts a new baseline. A later change that shares no series was not part of the inspection.
    """
    if ticket.score_at_inspection is None or ticket.reason == "vehicle_gone":
        return False
    closed_day = to_day((ticket.inspected_at or ticket.closed_at or ticket.updated_at).date())
    for record in records:
        if record.day < closed_day or not bears_on(record, ticket):
            continue
        if record.kind == "complaint":
            return False
        if record.kind in REPAIRS and finding.lead.segment_from >= record.day:
            return False
    if finding.onset_day > closed_day and not set(series_of(finding)) & set(ticket.series):
        return False
    margin = max(rules.quiet_share * ticket.score_at_inspection, rules.quiet_nats)
    return finding.score <= ticket.score_at_inspection + margin


def bears_on(record: WorkDone, ticket: Ticket) -> bool:
    """Tell whether a record's cause bears on a ticket.

    By group, by cause, or by a series that the cause acts on. A record that names no cause bears on any
    ticket of its vehicle; a battery replaced bears on charging.
    """
    if record.vehicle != ticket.vehicle:
        return False
    cause = record.cause
    if cause in _MEANINGLESS_CAUSES and record.kind == "battery_replaced":
        cause = "battery_ageing"
    if cause in _MEANINGLESS_CAUSES or ticket.group == "unknown":
        return True
    row = cause_table().causes.get(cause)
    if row is None:
        return True
    if row.group == ticket.group or cause in {ticket.cause_1, ticket.cause_2, ticket.cause_3}:
        return True
    return record.kind != "battery_replaced" and bool(row.parameters & _parameters(ticket))


def ticket_of(record: WorkDone, tickets: Sequence[Ticket]) -> Ticket | None:
    """Choose the ticket that a record belongs to: the one it names, else the one its cause bears on.

    Parameters
    ----------
    record : WorkDone
        A repair, a battery replaced or a complaint.
    tickets : sequence of Ticket
        Those of the vehicle that may take it. Without a cause there must be exactly one.
    """
    if record.ticket:
        return next((ticket for ticket in tickets if ticket.ticket == record.ticket), None)
    fitting = [ticket for ticket in tickets if bears_on(record, ticket)]
    if record.cause in _MEANINGLESS_CAUSES and record.kind == "repair" and len(tickets) != 1:
        return None
    return min(fitting, key=lambda ticket: _record_key(record, ticket), default=None)


def _record_key(record: WorkDone, ticket: Ticket) -> tuple[int, float, datetime, str]:
    named = {
        ticket.cause_1: ticket.cause_1_p,
        ticket.cause_2: ticket.cause_2_p,
        ticket.cause_3: ticket.cause_3_p,
    }
    row = cause_table().causes.get(record.cause)
    same_group = row is not None and row.group == ticket.group
    return (0 if same_group else 1, -(named.get(record.cause) or 0.0), ticket.raised_at, ticket.ticket)


@cache
def _charging_parameters() -> frozenset[str]:
    charging = [cause.parameters for cause in cause_table().causes.values() if cause.group == "charging"]
    return frozenset().union(*charging)


def _is_related(ticket: Ticket, finding: Finding) -> bool:
    if finding.group == ticket.group or "unknown" in {finding.group, ticket.group}:
        return True
    return bool(set(series_of(finding)) & set(ticket.series))


def _is_separate(ticket: Ticket, finding: Finding, rules: Rules) -> bool:
    if ticket.resting_since is None or ticket.detail is None:
        return False
    rested = to_day(ticket.resting_since)
    lead = ticket.detail.readings[0]
    moved_on = finding.onset_day > rested and finding.lead.recent_days > 0
    other = (finding.lead.series, finding.lead.direction) != (lead.series, lead.direction)
    days = finding.onset_day - rested
    return moved_on and other and days >= rules.separate_rest_days


def _closing_key(ticket: Ticket) -> tuple[datetime, str]:
    return (ticket.closed_at or ticket.updated_at, ticket.ticket)


def _parameters(ticket: Ticket) -> frozenset[str]:
    if ticket.detail is None:
        return frozenset({ticket.parameter})
    return frozenset(reading.parameter for reading in ticket.detail.readings)
