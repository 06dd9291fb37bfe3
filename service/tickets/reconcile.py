"""What one evaluation does to the tickets: facts in, actions out.

An evaluation as of a date uses all readings taken, and all work done, up to the end of that local date. What
it does is stamped 23:59 UTC of that date (`stamp`), so that the date of `raised_at` is the evaluation date
wherever it is read in UTC. The same facts give the same actions; carried out and asked again, they give none.

Order for each vehicle: the vehicle is gone; work records in the order they were done; deferrals that end;
proofs of repairs; findings, the strongest first; at last the tickets that nothing speaks of any more.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time
from typing import Final, Literal

from models.findings import Assessment, Finding, VehicleState
from service.tickets.bench import Bench
from service.tickets.compose import Setting, VehicleFacts
from service.tickets.costs import CostTable
from service.tickets.effects import Facts
from service.tickets.evidence import hear_findings
from service.tickets.matching import WorkDone
from service.tickets.proof import Proof, is_cured, is_enough, is_not_cured, progress_of
from service.tickets.records import hear_complaints, hear_records
from service.tickets.rules import Rules
from service.tickets.ticket import Ticket, TicketEvent, is_open
from service.tickets.track import count_tracks
from service.tickets.words import counted, date_words, short_name, to_date

ActionKind = Literal[
    "open",
    "update",
    "rest",
    "wake",
    "record",
    "verify",
    "reopen",
    "time_out",
    "comeback",
    "return_from_deferral",
    "vehicle_gone",
]
"""What an action is about."""

SECOND_OPINION: Final = "second_opinion_only"
"""Findings held back for this are watched on pages; they neither raise a ticket nor keep one awake."""

_KIND_OF_EVENT: Final[Mapping[str, ActionKind]] = {
    "raise": "open",
    "rest": "rest",
    "wake": "wake",
    "record_repair": "record",
    "record_no_fault": "record",
    "complaint": "record",
    "verify": "verify",
    "not_cured": "reopen",
    "time_out": "time_out",
    "comeback": "comeback",
    "return": "return_from_deferral",
    "dismiss": "vehicle_gone",
    "update": "update",
    "proof": "update",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Action:
    """One change to one ticket, for the store to keep in this order.

    Parameters
    ----------
    kind : ActionKind
        What it is about.
    ticket : Ticket
        As it stands afterwards.
    events : tuple of TicketEvent
        Lines of history to append; an update of numbers that nobody need read has none.
    read_version : int
        Version that the change starts from; 0 for a new ticket.
    """

    kind: ActionKind
    ticket: Ticket
    events: tuple[TicketEvent, ...]
    read_version: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Knowledge:
    """What an evaluation knows beside tickets and findings.

    Parameters
    ----------
    work : sequence of WorkDone
        Work done by the evaluation date, any order.
    proofs : sequence of Proof
        Readings after repairs, for tickets that await proof.
    vehicles : mapping of str to VehicleFacts
        By the fleet's own number.
    gone : mapping of str to date
        Vehicles out of service, with the date a person gave.
    costs : CostTable or None
        The fleet's own cost table; None orders by consequence class.
    rules : Rules
        The owner's settings.
    """

    work: Sequence[WorkDone] = ()
    proofs: Sequence[Proof] = ()
    vehicles: Mapping[str, VehicleFacts] = field(default_factory=dict)
    gone: Mapping[str, date] = field(default_factory=dict)
    costs: CostTable | None = None
    rules: Rules = field(default_factory=Rules)


def stamp(as_of_day: int) -> datetime:
    """Give the time that an evaluation stamps on what it does: 23:59 UTC of its date."""
    return datetime.combine(to_date(as_of_day), time(23, 59), tzinfo=UTC)


def reconcile(
    *, tickets: Iterable[Ticket], assessment: Assessment, knowledge: Knowledge
) -> tuple[Action, ...]:
    """Tell what an evaluation does to the tickets.

    Parameters
    ----------
    tickets : iterable of Ticket
        Every ticket of the fleet, closed ones too: they number new ones and recognise comebacks.
    assessment : Assessment
        What the models say as of `assessment.day`.
    knowledge : Knowledge
        Work, proofs and facts about vehicles.

    Returns
    -------
    tuple of Action
        By vehicle, and for each vehicle in the order they must be carried out.
    """
    kept = tuple(tickets)
    by_vehicle = _grouped(kept)
    findings = _findings(assessment)
    work = _work(knowledge.work, assessment.day)
    states = {state.vehicle: state for state in assessment.vehicles}
    mute = _mute_series(assessment)
    setting = Setting(
        as_of_day=assessment.day,
        at=stamp(assessment.day),
        method=assessment.method,
        rules=knowledge.rules,
        vehicles=knowledge.vehicles,
        costs=knowledge.costs,
        track=count_tracks(kept),
    )
    proofs = {proof.ticket: proof for proof in knowledge.proofs}
    cured = frozenset(proof.ticket for proof in knowledge.proofs if is_cured(proof, knowledge.rules))
    busy = {vehicle for vehicle, own in by_vehicle.items() if any(map(is_open, own))}
    actions: list[Action] = []
    for vehicle in sorted(busy | set(findings)):
        bench = Bench(vehicle=vehicle, tickets=by_vehicle.get(vehicle, ()), setting=setting)
        _hear_gone(bench, knowledge.gone)
        hear_records(bench, work.get(vehicle, ()))
        _end_deferrals(bench, findings.get(vehicle, ()))
        _hear_proofs(bench, proofs, findings.get(vehicle, ()))
        hear_findings(
            bench,
            findings.get(vehicle, ()),
            records=work.get(vehicle, ()),
            can_rest=_can_rest(states.get(vehicle), setting),
            mute=mute.get(vehicle, frozenset()),
            cured=cured,
        )
        hear_complaints(bench, work.get(vehicle, ()))
        actions.extend(
            Action(
                kind=_KIND_OF_EVENT[step.event],
                ticket=step.ticket,
                events=step.rows,
                read_version=step.read_version,
            )
            for step in bench.steps
        )
    return tuple(actions)


def _grouped(tickets: Iterable[Ticket]) -> dict[str, tuple[Ticket, ...]]:
    found: dict[str, list[Ticket]] = defaultdict(list)
    for ticket in tickets:
        found[ticket.vehicle].append(ticket)
    return {vehicle: tuple(own) for vehicle, own in found.items()}


def _findings(assessment: Assessment) -> dict[str, tuple[Finding, ...]]:
    found: dict[str, list[Finding]] = defaultdict(list)
    for finding in assessment.findings:
        if finding.held_back != SECOND_OPINION:
            found[finding.vehicle].append(finding)
    return {
        vehicle: tuple(
            sorted(own, key=lambda f: (f.tier != "ticket", f.held_back != "", -f.score, f.lead.series))
        )
        for vehicle, own in found.items()
    }


def _work(work: Sequence[WorkDone], as_of_day: int) -> dict[str, tuple[WorkDone, ...]]:
    found: dict[str, list[WorkDone]] = defaultdict(list)
    for record in work:
        if record.day <= as_of_day:
            found[record.vehicle].append(record)
    return {
        vehicle: tuple(sorted(own, key=lambda r: (r.done_at, r.number))) for vehicle, own in found.items()
    }


def _mute_series(assessment: Assessment) -> dict[str, frozenset[str]]:
    found: dict[str, set[str]] = defaultdict(set)
    for unusable in assessment.unusable:
        found[unusable.vehicle].add(unusable.series)
    return {vehicle: frozenset(own) for vehicle, own in found.items()}


def _can_rest(state: VehicleState | None, setting: Setting) -> bool:
    """Silence and relearning are no good news: only a judged vehicle's evidence can ease."""
    if state is None or state.last_day is None or state.word in {"learning", "cannot_say"}:
        return False
    return setting.as_of_day - state.last_day <= setting.rules.fresh_days


def _hear_gone(bench: Bench, gone: Mapping[str, date]) -> None:
    since = gone.get(bench.vehicle)
    if since is None or since > bench.setting.on:
        return
    for ticket in bench.open_tickets():
        if ticket.status != "done":
            note = f"The vehicle is out of service since {date_words(since)}."
            bench.move(ticket, "dismiss", facts=Facts(reason="vehicle_gone"), note=note)


def _end_deferrals(bench: Bench, findings: Sequence[Finding]) -> None:
    for ticket in bench.open_tickets():
        if ticket.status != "deferred" or ticket.deferred_until is None:
            continue
        if bench.setting.on >= ticket.deferred_until:
            bench.move(ticket, "return", note=f"Deferred until {date_words(ticket.deferred_until)}.")
            continue
        reason = _worse(ticket, findings, bench.setting)
        if reason:
            bench.move(ticket, "return", note=f"Back early: {reason}.")


def _worse(ticket: Ticket, findings: Sequence[Finding], setting: Setting) -> str:
    """Say why a deferred ticket must come back before its date; empty text when it need not."""
    for finding in findings:
        lead = finding.lead
        if finding.tier != "ticket" or finding.held_back or lead.series not in ticket.series:
            continue
        if lead.outside and ticket.detail is not None and not ticket.detail.readings[0].outside:
            return "the limits are left"
        if lead.reaches_limit_on is None or ticket.deferred_until is None:
            continue
        now, then = to_date(lead.reaches_limit_on), ticket.limit_on_at_deferral
        if then is None and now <= ticket.deferred_until:
            return f"the limit date is now {date_words(now)}"
        if (
            then is not None
            and (then - now).days >= setting.rules.worse_days
            and now <= ticket.deferred_until
        ):
            return f"limit date moved from {date_words(then)} to {date_words(now)}"
    return ""


def _hear_proofs(bench: Bench, proofs: Mapping[str, Proof], findings: Sequence[Finding]) -> None:
    rules = bench.setting.rules
    for ticket in bench.open_tickets():
        if ticket.status != "done" or ticket.done_day is None:
            continue
        proof = proofs.get(ticket.ticket)
        if proof is not None and proof.done_day != ticket.done_day:
            proof = None  # of an earlier repair
        speaking = _still_speaks(ticket, findings, rules)
        if speaking:
            bench.move(ticket, "not_cured", note=f"Not cured: {speaking}.")
            continue
        if proof is not None and is_enough(proof, rules):
            if is_not_cured(proof, rules):
                bench.move(ticket, "not_cured", note=f"Not cured: {_proof_words(proof, ticket)}.")
                continue
            if is_cured(proof, rules):
                bench.move(ticket, "verify", note=f"Verified by data: {_proof_words(proof, ticket)}.")
                continue
        waited = bench.setting.as_of_day - ticket.done_day
        if waited > rules.proof_timeout_days:
            bench.move(ticket, "time_out", note=f"Closed without proof after {counted(waited, 'day')}.")
        elif proof is not None:
            progress = progress_of(ticket, proof, rules)
            bench.change(ticket, replace(ticket, proof=progress), event="proof")


def _still_speaks(ticket: Ticket, findings: Sequence[Finding], rules: Rules) -> str:
    """Say how readings taken after the repair pass the ticket level; empty text when they do not."""
    done_day = ticket.done_day
    for finding in findings:
        lead = finding.lead
        if finding.tier != "ticket" or finding.held_back or lead.series not in ticket.series:
            continue
        is_after = done_day is not None and lead.segment_from >= done_day
        if is_after and lead.baseline_days + lead.recent_days >= rules.proof_readings:
            return f"{short_name(lead.series)} passes the ticket level after the repair"
    return ""


def _proof_words(proof: Proof, ticket: Ticket) -> str:
    parts = [f"{counted(proof.readings, 'reading')} on {counted(proof.days, 'day')}"]
    if proof.median is not None:
        parts.append(f"median {proof.median:.2f} {ticket.unit}".strip())
    if proof.shift_undone is not None:
        parts.append(f"{100 * proof.shift_undone:.0f} % of the shift undone")
    if proof.inside_limits is not None:
        parts.append("inside the limits" if proof.inside_limits else "outside the limits")
    return ", ".join(parts)
