"""What a ticket is. The first fields are the exported columns, in the order of the export."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Final, Literal, get_args

from models.findings import SeriesReading

Status = Literal["raised", "accepted", "in_work", "done", "verified", "dismissed", "deferred", "reopened"]
"""Where a ticket stands."""

Priority = Literal["pull_in_now", "plan_this_week", "watch"]
"""How soon a ticket wants the vehicle; `PRIORITY_WORDS` has the words that people read."""

Role = Literal["system", "record", "viewer", "mechanic", "lead", "manager", "analyst", "integrator", "admin"]
"""Who acts: `system` is an evaluation, `record` a loaded work record, the rest are people's roles."""

STATUSES: Final[tuple[Status, ...]] = get_args(Status)
ROLES: Final[tuple[Role, ...]] = get_args(Role)
PRIORITIES: Final[tuple[Priority, ...]] = get_args(Priority)

PRIORITY_WORDS: Final[Mapping[str, str]] = {
    "pull_in_now": "Pull in now",
    "plan_this_week": "Plan this week",
    "watch": "Watch",
    "steady": "Steady",
    "cannot_say": "Cannot say",
}
"""The five words a vehicle is given, worst first; a ticket carries one of the first three."""

DISMISS_REASONS: Final = (
    "sensor_or_logger",
    "sheet_wrong",
    "fixed_elsewhere",
    "risk_accepted",
    "evidence_eased",
    "vehicle_gone",
)
"""Reasons a person may give for dismissing; `no_fault_found` and `merged` come from their own events."""

EXPORT_COLUMNS: Final = (
    "ticket",
    "vehicle",
    "depot",
    "spec_sheet",
    "status",
    "raised_at",
    "updated_at",
    "closed_at",
    "parameter",
    "state",
    "direction",
    "value",
    "baseline",
    "limit_low",
    "limit_high",
    "drift_per_week",
    "reaches_limit_on",
    "reaches_limit_low",
    "reaches_limit_high",
    "probability_30d",
    "priority",
    "cause_1",
    "cause_1_p",
    "cause_2",
    "cause_2_p",
    "cause_3",
    "cause_3_p",
    "evidence",
)
"""Names of the exported columns, in order; each is a field of `Ticket`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One first check as the ticket lists it.

    Parameters
    ----------
    cause : str
        Cause code that the check tests.
    probability : float
        Probability of that cause when the ticket was last judged.
    text, tools, good, bad : str
        What to do, with what, and what a good or a bad result means.
    minutes : int
        Usual time for the check [min].
    """

    cause: str
    probability: float
    text: str
    minutes: int
    tools: str
    good: str
    bad: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """One safety caution: its key and its words."""

    key: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackRecord:
    """How tickets like this one ended.

    Parameters
    ----------
    found, inspected : int
        Inspections that found a fault, of how many.
    low, high : float or None
        Wilson 95 % interval of the share; None where nothing was inspected yet.
    text : str
        The same as a sentence.
    """

    found: int
    inspected: int
    low: float | None
    high: float | None
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Versions:
    """What the ticket was judged with. Empty text and None mean that there was none."""

    sheet: str
    revision: int | None
    source: str
    rule: str
    method: str
    rules_version: str
    data_up_to: date


@dataclass(frozen=True, slots=True, kw_only=True)
class Detail:
    """The evidence as it stood at the newest evaluation that spoke of this ticket.

    Parameters
    ----------
    sentence : str
        The evidence sentence in metric units.
    readings : tuple of SeriesReading
        Every series with something to say, loudest first: the numbers behind the chart and the table.
    quiet : tuple of str
        Series that were looked at and did not move.
    causes : tuple of (code, probability)
        All causes, most likely first.
    checks : tuple of Check
        First checks, best order first.
    cautions : tuple of Caution
        Shown above the checks and never folded away.
    also_looked_at, would_change : tuple of str
        What was ruled out; what would change the verdict.
    track_record : TrackRecord
        How tickets like this one ended.
    versions : Versions
        Sheet, rule, model and data that the verdict rests on.
    notes : tuple of str
        Circumstances worth a sentence.
    """

    sentence: str
    readings: tuple[SeriesReading, ...]
    quiet: tuple[str, ...]
    causes: tuple[tuple[str, float], ...]
    checks: tuple[Check, ...]
    cautions: tuple[Caution, ...]
    also_looked_at: tuple[str, ...]
    would_change: tuple[str, ...]
    track_record: TrackRecord
    versions: Versions
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofProgress:
    """How far the proof of a repair has come.

    Parameters
    ----------
    readings, days : int
        Valid readings after the relearn, and on how many days.
    readings_needed, days_needed : int
        What the proof asks for.
    relearn_pending : bool
        Whether the relearn days after the repair are still running.
    state : str
        Operating state the readings must come from.
    text : str
        The same as a sentence that says what drive is needed.
    """

    readings: int
    days: int
    readings_needed: int
    days_needed: int
    relearn_pending: bool
    state: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Ticket:
    """One suspected physical fault of one vehicle, and what people did about it.

    Times are aware UTC. Empty text and None mean "none"; a ticket raised by hand has no series.

    Parameters
    ----------
    ticket : str
        Number, never reused: the vehicle's own number and a running count, `V-0017-T2`.
    vehicle, depot, spec_sheet : str
        As registered when the ticket was last judged.
    status : Status
        Where it stands.
    raised_at, updated_at, closed_at : datetime or None
        First raised; last changed; closed (verified, dismissed, or proof time run out).
    parameter, state, direction : str
        The series that speaks loudest and the way it moved, `up` or `down`.
    value, baseline, limit_low, limit_high : float or None
        Level now, own normal, sheet's band [unit].
    drift_per_week : float or None
        Slope [unit / week].
    reaches_limit_on, reaches_limit_low, reaches_limit_high : date or None
        Median and 80 % interval; None where not within a year.
    probability_30d : float or None
        Complaint or leaving the limits within 30 days.
    priority : Priority
        How soon.
    cause_1, cause_1_p, cause_2, cause_2_p, cause_3, cause_3_p
        The three likeliest causes.
    evidence : str
        The evidence sentence.
    group : str
        Physical group of the fault, one of `models.findings.GROUPS` or `unknown`.
    series : tuple of str
        Every series that has borne on the ticket so far.
    unit : str
        Unit of `value` and its companions.
    onset_day : int or None
        Most likely first day of the change [days since 1970-01-01].
    score, score_at_inspection : float or None
        Evidence [nats] now, and when an inspection found nothing.
    probability_fault, probability_crossing : float or None
        An inspection would find something; the limits are left within 30 days.
    consequence : int
        1 may stall or not start, 2 complaint, 3 fuel or emissions, 4 nuisance.
    gain, saved : float or None
        Expected gain of acting now [fleet currency], and what acting now saves; between them lies the cost of
        looking for nothing. None without a cost table.
    due_by : date or None
        Day by which the vehicle should be seen.
    assignee, booked_on, booked_hours, deferred_until
        Who has it, booked day, booked hours [h], day until which it waits.
    reason : str
        Reason code of the last dismissal, deferral, pause or raise by hand.
    comeback_of, comeback_by, merged_into : str
        Numbers of linked tickets: the one this came back from, the one that came back from this,
        the one this was merged into.
    limit_on_at_deferral : date or None
        Limit date as it stood when the ticket was deferred.
    pinned_until : date or None
        Day until which a person keeps it in the plan.
    priority_on : date or None
        Evaluation date on which `priority` last changed.
    eased_on : date or None
        First evaluation date of a quiet spell; the ticket rests when it lasts.
    resting_since : date or None
        Evaluation date since which the evidence has eased.
    records : tuple of str
        Numbers of the work records that belong to it; none is applied twice.
    passed : tuple of str
        Numbers of repairs that were heard and do not belong to it; none is asked again as causes change.
    complaints : tuple of datetime
        Drivers' complaints that bear on it.
    inspected_at : datetime or None
        When an inspection found nothing.
    done_at : datetime or None
        When the repair was done.
    done_day : int or None
        The same as the vehicle's local day [days since 1970-01-01].
    done_cause : str
        Cause the repair names; empty where none.
    closed_detail : str
        `by_data`, `by_hand` or `without_proof` on closed repairs.
    raised_by, closed_by : str
        `system`, or the login of the person.
    status_before : str
        Status before the closing step, for undoing it; empty while nothing is closed.
    proof : ProofProgress or None
        Proof of the repair while it is awaited.
    detail : Detail or None
        The frozen evidence; None for a ticket raised by hand that no evaluation has spoken of.
    version : int
        Counts changes from 1; an edit names the version it read.
    """

    ticket: str
    vehicle: str
    depot: str = ""
    spec_sheet: str = ""
    status: Status = "raised"
    raised_at: datetime
    updated_at: datetime
    closed_at: datetime | None = None
    parameter: str = ""
    state: str = ""
    direction: str = ""
    value: float | None = None
    baseline: float | None = None
    limit_low: float | None = None
    limit_high: float | None = None
    drift_per_week: float | None = None
    reaches_limit_on: date | None = None
    reaches_limit_low: date | None = None
    reaches_limit_high: date | None = None
    probability_30d: float | None = None
    priority: Priority = "watch"
    cause_1: str = ""
    cause_1_p: float | None = None
    cause_2: str = ""
    cause_2_p: float | None = None
    cause_3: str = ""
    cause_3_p: float | None = None
    evidence: str = ""
    group: str = "unknown"
    series: tuple[str, ...] = ()
    unit: str = ""
    onset_day: int | None = None
    score: float | None = None
    score_at_inspection: float | None = None
    probability_fault: float | None = None
    probability_crossing: float | None = None
    consequence: int = 2
    gain: float | None = None
    due_by: date | None = None
    assignee: str = ""
    booked_on: date | None = None
    booked_hours: float | None = None
    deferred_until: date | None = None
    reason: str = ""
    comeback_of: str = ""
    comeback_by: str = ""
    merged_into: str = ""
    limit_on_at_deferral: date | None = None
    pinned_until: date | None = None
    priority_on: date | None = None
    eased_on: date | None = None
    resting_since: date | None = None
    records: tuple[str, ...] = ()
    passed: tuple[str, ...] = ()
    complaints: tuple[datetime, ...] = ()
    inspected_at: datetime | None = None
    done_at: datetime | None = None
    done_day: int | None = None
    done_cause: str = ""
    closed_detail: str = ""
    raised_by: str = "system"
    closed_by: str = ""
    status_before: Status | Literal[""] = ""
    proof: ProofProgress | None = None
    detail: Detail | None = None
    version: int = 1
    saved: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TicketEvent:
    """One line of a ticket's history; written once, never changed.

    Parameters
    ----------
    ticket : str
        Ticket number.
    version : int
        Version of the ticket that the event led to.
    at : datetime
        When it took effect, aware UTC.
    event : str
        Name of the event: one of `lifecycle.EVENTS`, or `update`, `evidence`, `complaint`, `comment`.
    role, by : str
        Role that acted, and the login or `system`.
    status_before, status_after : str
        Empty before the first event.
    note : str
        One sentence for people.
    facts : mapping of str to str, float, int, bool or None
        What the sentence rests on, for machines.
    """

    ticket: str
    version: int
    at: datetime
    event: str
    role: Role
    by: str
    status_before: str
    status_after: str
    note: str = ""
    facts: Mapping[str, str | float | int | bool | None] = field(default_factory=dict)


def is_open(ticket: Ticket) -> bool:
    """Tell whether a ticket still waits for somebody: all but verified, dismissed and closed repairs."""
    return ticket.status not in {"verified", "dismissed"} and ticket.closed_at is None


def is_calm(ticket: Ticket) -> bool:
    """Tell whether an open ticket asks for nothing now: done, deferred, or its evidence has eased."""
    return ticket.status in {"done", "deferred"} or ticket.resting_since is not None
