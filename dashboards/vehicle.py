"""The vehicle page: one vehicle's standing, its series as pictures and tables, and its history."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Annotated

from dashboards.chart import Axis, Chart
from dashboards.coverage import Doubt
from dashboards.rows import Learning, TicketLine, Urgency


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkDone:
    """One work record of the vehicle."""

    done_at: Annotated[datetime, "When it was done, in the vehicle's zone."]
    kind: Annotated[str, "Kind of work, a code of the exchange contract."]
    cause: Annotated[str, "Cause found, a code; empty when none was named."] = ""
    ticket: Annotated[str, "Ticket it belongs to; empty when none."] = ""
    notes: Annotated[str, "What was written down."] = ""
    parts_cost: Annotated[float | None, "Cost of parts in the fleet's currency; None when not given."] = None
    labour_hours: Annotated[float | None, "Hours worked; None when not given."] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Segment:
    """A stretch with its own baseline."""

    starts_on: Annotated[date, "First day."]
    reason: Annotated[str, "Why it began, a code of `words.MARKS`."]
    found: Annotated[bool, "Found from the data: nobody had recorded it."] = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Suspicion:
    """A finding that is no ticket: watched, or held back."""

    sentence: Annotated[str, "What moved, in one sentence."]
    held_back: Annotated[
        str, "Why it may not become a ticket, a code of `words.HELD_BACK`; may be empty."
    ] = ""
    remarks: Annotated[tuple[str, ...], "Circumstances, a sentence each."] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetField:
    """One more line of the vehicle's spec sheet."""

    name: Annotated[str, "Name on the sheet."]
    text: Annotated[str, "What the sheet says, with its unit."]


@dataclass(frozen=True, slots=True, kw_only=True)
class VehicleView:
    """For anyone who asks about one vehicle: how does it stand, why, and what was done before."""

    vehicle: Annotated[str, "The fleet's own number."]
    readings_from: Annotated[date | None, "First day whose readings retention has left; None: it took none."]
    urgency: Annotated[Urgency, "Where it stands."]
    why: Annotated[str, "Reason in one sentence."]
    vin: Annotated[str, "Vehicle identification number, already masked where the reader may not see it."]
    depot: Annotated[str, "Depot; empty when none."]
    time_zone: Annotated[str, "Zone in which its times are shown."]
    odometer_km: Annotated[float | None, "Newest odometer [km]."]
    in_service_on: Annotated[date | None, "First day in service."]
    last_reading_at: Annotated[datetime | None, "Newest reading; None when none was received."]
    notes: Annotated[str, "Notes from the vehicle list."]
    sheet: Annotated[str, "Spec sheet it names; empty when none."]
    sheet_known: Annotated[bool, "Whether that sheet is on file; without it no limit is drawn."]
    revision: Annotated[int | None, "Revision in force."]
    source: Annotated[str, "Where the sheet can be looked up."]
    sheet_fields: Annotated[tuple[SheetField, ...], "What else the sheet says."]
    open_tickets: Annotated[tuple[TicketLine, ...], "Open tickets, the most urgent first."]
    past_tickets: Annotated[tuple[TicketLine, ...], "Closed tickets, the newest first."]
    backfilled: Annotated[
        tuple[date, date, date] | None,
        "First and last day of readings loaded as history, and the day they came; None for none.",
    ]
    doubts: Annotated[tuple[Doubt, ...], "Readings that cannot be right."]
    suspicions: Annotated[tuple[Suspicion, ...], "Findings that are no tickets."]
    charts: Annotated[tuple[Chart, ...], "Followed series, the loudest first."]
    chosen: Annotated[str, "Series shown alone, `PARAMETER@state`; empty for all."]
    axis: Annotated[Axis, "What pictures run by."]
    axes: Annotated[tuple[Axis, ...], "What pictures can run by."] = ("date",)
    live: Annotated[bool, "Whether the picture of the one series answers to the pointer."] = False
    drive: Annotated[str, "What drive makes it judgeable; empty where none is needed or helps."]
    learning: Annotated[tuple[Learning, ...], "Series with too few readings."]
    not_here: Annotated[tuple[str, ...], "Parameters that this vehicle does not have."]
    conditions_unknown: Annotated[
        bool, "Whether no warm idle of late tells air conditioning, steering, gear."
    ]
    segments: Annotated[tuple[Segment, ...], "Stretches with their own baseline, the newest first."]
    work: Annotated[tuple[WorkDone, ...], "Work done and complaints, the newest first."]
    may_complain: Annotated[bool, "Whether the reader may log a complaint here."]
    may_raise: Annotated[bool, "Whether the reader may raise a ticket by hand here."]
    form_key: Annotated[str, "Key that makes a repeated complaint form count once."]
