"""The ticket page and the printed job sheet."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Annotated

from dashboards.chart import Chart
from dashboards.rows import Urgency
from models.findings import SeriesReading


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One first check, with what each result means."""

    text: Annotated[str, "What to do."]
    minutes: Annotated[float, "How long it takes [min]."]
    cause: Annotated[str, "Cause it tests, a code of the exchange contract."]
    likelihood: Annotated[float, "Probability that it shows the fault."]
    good: Annotated[str, "What a good result means and where it leads."]
    bad: Annotated[str, "What a bad result means and where it leads."]
    tools: Annotated[str, "What is needed; may be empty."] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryLine:
    """One thing that happened to the ticket."""

    at: Annotated[datetime, "When, in the vehicle's zone."]
    who: Annotated[str, "Role or `system`."]
    event: Annotated[str, "What happened, a code of `words.EVENTS`."]
    detail: Annotated[str, "Reason or few words more; may be empty."] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """One possible cause with its probability."""

    code: Annotated[str, "Code of the exchange contract."]
    probability: Annotated[float, "Probability, all causes adding up to 1."]


@dataclass(frozen=True, slots=True, kw_only=True)
class Proof:
    """How far a repair is from being proved by readings."""

    have: Annotated[int, "Valid readings since the repair."]
    need: Annotated[int, "Readings needed."]
    days: Annotated[int, "Days with such readings so far."]
    need_days: Annotated[int, "Days needed."]
    text: Annotated[str, "What drive is still needed, and whether relearning is pending, in a sentence."]
    until: Annotated[date, "Day after which it closes without proof."]
    before_repair: Annotated[
        tuple[datetime, ...],
        "Readings in that state taken before the repair that came after it; they prove nothing.",
    ] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackRecord:
    """What became of tickets like this one."""

    found: Annotated[int, "Tickets where a fault was found."]
    of: Annotated[int, "Tickets that were looked into."]
    low: Annotated[float | None, "Lower end of the 95 % range (Wilson) of the share; None when none."]
    high: Annotated[float | None, "Upper end of that range; None when none."]


@dataclass(frozen=True, slots=True, kw_only=True)
class Versions:
    """What the ticket was judged with."""

    sheet: Annotated[str, "Spec sheet, empty when none."]
    revision: Annotated[int | None, "Revision of the sheet."]
    rule: Annotated[str, "Rule that raised it."]
    method: Annotated[str, "Name and version of the method."]
    data_up_to: Annotated[date, "Newest day that was judged."]


@dataclass(frozen=True, slots=True, kw_only=True)
class Action:
    """Something the reader may do with the ticket now."""

    event: Annotated[str, "Event code, a code of `words.ACTIONS`."]
    needs: Annotated[tuple[str, ...], "Fields that the form asks for, of `words.NEEDS`."] = ()
    reasons: Annotated[
        tuple[str, ...], "Reason codes to choose from, of `words.REASONS`; empty: free text."
    ] = ()
    confirm: Annotated[bool, "Whether a second confirmation is asked."] = False
    day: Annotated[date | None, "Day filled in."] = None
    hours: Annotated[float | None, "Hours filled in [h]."] = None
    text: Annotated[str, "Text filled in."] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class TicketLink:
    """A ticket that belongs with this one."""

    kind: Annotated[str, "How they belong together, a code of `words.LINKS`."]
    ticket: Annotated[str, "Number of the other ticket."]
    done_then: Annotated[str, "What was done on it, in words; may be empty."] = ""
    not_then: Annotated[tuple[str, ...], "What was not done, or not recorded, in words."] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Undo:
    """What was recorded a moment ago and can be taken back."""

    record: Annotated[str, "Number of the work record."]
    kind: Annotated[str, "Its kind, a code of `words.WORK`."]
    until: Annotated[datetime, "Until when, in the vehicle's zone."]


@dataclass(frozen=True, slots=True, kw_only=True)
class RankPart:
    """One part of the ticket's rank, so that the parts can be added up."""

    name: Annotated[str, "What it is."]
    text: Annotated[str, "Its amount, with unit."]


@dataclass(frozen=True, slots=True, kw_only=True)
class TicketView:
    """For the mechanic: what moved, where to look first, how to stay safe, what was done before."""

    ticket: Annotated[str, "Number of the ticket."]
    version: Annotated[int, "Version read; every form sends it back."]
    vehicle: Annotated[str, "The fleet's own number."]
    depot: Annotated[str, "Depot of the vehicle."]
    time_zone: Annotated[str, "Zone in which the times are shown."]
    status: Annotated[str, "Status code."]
    urgency: Annotated[Urgency, "Where it puts the vehicle."]
    consequence: Annotated[int, "Consequence class 1 to 4."]
    problem: Annotated[str, "The problem in few plain words."]
    sentence: Annotated[str, "The evidence sentence."]
    chart: Annotated[Chart | None, "The series that speaks loudest; None for a ticket raised by hand."]
    other_charts: Annotated[tuple[Chart, ...], "Other series that moved."]
    checks: Annotated[tuple[Check, ...], "First checks, the best first."]
    cautions: Annotated[
        tuple[str, ...], "Safety cautions as sentences, shown above the checks, never folded."
    ]
    proof: Annotated[Proof | None, "State of the proof; None unless the ticket is done."]
    history: Annotated[tuple[HistoryLine, ...], "What happened, the newest first."]
    raised_at: Annotated[datetime, "When it was raised."]
    due_by: Annotated[date | None, "Day it is due."]
    days_late: Annotated[int, "Whole days past due; 0 when not."]
    booked_on: Annotated[date | None, "Day given for the visit."]
    deferred_until: Annotated[date | None, "Day until which it is put off."]
    resting_since: Annotated[date | None, "Day since which the evidence has eased."]
    pinned_until: Annotated[date | None, "Day until which it is kept in the plan."]
    inspected_on: Annotated[
        date | None, "Day on which an inspection found nothing; None unless that closed it."
    ]
    assignee: Annotated[str, "Who has it, by role or bench; empty when nobody."]
    series: Annotated[tuple[SeriesReading, ...], "Numbers behind the sentence, the loudest first."]
    looked_at: Annotated[tuple[str, ...], "What was ruled out, in sentences."]
    change_my_mind: Annotated[tuple[str, ...], "What would put the suspicion to rest, in sentences."]
    causes: Annotated[tuple[Cause, ...], "Possible causes, the likeliest first."]
    probability_30d: Annotated[float | None, "Complaint or leaving the limits within 30 days."]
    probability_crossing: Annotated[float | None, "Leaving the limits within 30 days."]
    probability_fault: Annotated[float | None, "An inspection would find something."]
    track_record: Annotated[TrackRecord | None, "What became of tickets like it; None when there were none."]
    rank: Annotated[tuple[RankPart, ...], "Parts of its rank."]
    versions: Annotated[Versions | None, "What it was judged with; None for one raised by hand."]
    links: Annotated[tuple[TicketLink, ...], "Tickets that belong with it."]
    actions: Annotated[tuple[Action, ...], "What the reader may do now."]
    may_record: Annotated[bool, "Whether the reader may record a finding here."]
    record_causes: Annotated[tuple[str, ...], "Causes offered first in the form of findings; may be empty."]
    other_causes: Annotated[tuple[str, ...], "All other causes, behind 'something else'."]
    form_key: Annotated[str, "Key that makes a repeated form count once."]
    undo: Annotated[Undo | None, "The newest record while it can be taken back; else None."]


@dataclass(frozen=True, slots=True, kw_only=True)
class JobSheetView:
    """For the mechanic without a screen: one printed page, black on white, with boxes to tick."""

    ticket: Annotated[TicketView, "The ticket to print."]
