"""The week page: how many vehicles must come in, whether they fit, and what changed and why."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Annotated, Literal

from dashboards.frame import Link
from dashboards.rows import Counts, EventLine, Money, TicketLine, Urgency

Reading = Literal["as_closed", "as_known_now"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One vehicle that stands elsewhere than last week, with exactly one reason."""

    vehicle: Annotated[str, "The fleet's own number."]
    before: Annotated[Urgency | None, "Where it stood last week; None when it is new."]
    after: Annotated[Urgency | None, "Where it stands; None when it left service."]
    reason: Annotated[str, "Main cause of the change, a code of `words.CHANGES`."]
    detail: Annotated[str, "Few words more; may be empty."] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PastDue:
    """One ticket past its day, with what holds it."""

    ticket: Annotated[str, "Number of the ticket."]
    vehicle: Annotated[str, "The fleet's own number."]
    problem: Annotated[str, "The problem in few plain words."]
    due_by: Annotated[date, "Day it was due."]
    days_late: Annotated[int, "Whole days past due."]
    holding: Annotated[str, "What holds it, a code of `words.HOLDING`."]


@dataclass(frozen=True, slots=True, kw_only=True)
class CoverageCounts:
    """Vehicles that cannot be judged, by kind, and those left out."""

    silent: Annotated[int, "Nothing received for twice the expected gap."]
    partial: Annotated[int, "A needed operating state is missing."]
    unusable: Annotated[int, "Readings quarantined or rejected."]
    learning: Annotated[int, "Too few readings for a baseline yet."]
    off_road: Annotated[int, "Out of service for now: left out of every count."]
    without_sheet: Annotated[int, "Judged without a spec sheet: no limits."]


@dataclass(frozen=True, slots=True, kw_only=True)
class CostAtRisk:
    """Expected extra cost of letting the suspicions run to a breakdown."""

    sum: Annotated[Money, "Probability times (unplanned less planned cost), over the horizon."]
    horizon_days: Annotated[int, "Days looked ahead."]
    price_date: Annotated[date, "Date of the cost table's prices."]
    revision: Annotated[int, "Revision of the cost table."]
    rows_at: Annotated[str, "Address of the rows that add up to it; empty when there is no such page."] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class MapRow:
    """One vehicle's standing week by week."""

    vehicle: Annotated[str, "The fleet's own number."]
    words: Annotated[tuple[Urgency | None, ...], "Standing in each week; None before it was in service."]


@dataclass(frozen=True, slots=True, kw_only=True)
class FleetMap:
    """Standing by vehicle and week."""

    weeks: Annotated[tuple[str, ...], "ISO weeks, oldest first, such as `2031-W37`."]
    rows: Annotated[tuple[MapRow, ...], "Vehicles, the most urgent first."]
    counts: Annotated[tuple[Counts, ...], "How the whole fleet divided in each week."]
    left_out: Annotated[int, "Vehicles not drawn because they stayed steady or the picture is full."] = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekView:
    """For the fleet manager on Monday: which vehicles to pull in, and whether the hours suffice."""

    week: Annotated[str, "ISO week, such as `2031-W37`."]
    starts_on: Annotated[date, "Monday of the week, in the fleet's zone."]
    previous: Annotated[str, "ISO week before, empty when no report was kept."]
    following: Annotated[str, "ISO week after, empty when none."]
    reading: Annotated[Reading, "As the report was closed, or with what is known now."]
    closed_at: Annotated[datetime | None, "When the report was frozen; None while the week is open."]
    late_readings: Annotated[int, "Readings that arrived after the week was closed."]
    counts: Annotated[Counts, "How the vehicles in service divide."]
    needed_hours: Annotated[float | None, "Workshop hours of those to pull in; None when unknown."]
    workshop_hours: Annotated[float | None, "Hours the workshop has this week; None when not given."]
    pull_in: Annotated[tuple[TicketLine, ...], "Tickets to pull in now or plan this week, in rank order."]
    changes: Annotated[tuple[Change, ...] | None, "What changed since last week; None: not compared yet."]
    first_week: Annotated[bool, "No report before this one: nothing to compare with."]
    past_due: Annotated[tuple[PastDue, ...], "Tickets past due, the oldest first."]
    coverage: Annotated[CoverageCounts, "Who cannot be judged, by kind."]
    cost: Annotated[CostAtRisk | None, "Cost at risk; None without a cost table."]
    events: Annotated[tuple[EventLine, ...], "Shifts that like vehicles share this week."]
    ways: Annotated[tuple[Link, ...], "Further pages about the week, such as the plan."] = ()
    depot: Annotated[str, "Depot that alone is shown; empty for the whole fleet."] = ""
    depots: Annotated[tuple[str, ...], "Depots that may be chosen; empty where there is no choice."] = ()
    fleet_map: Annotated[FleetMap | None, "Standing by vehicle and week; None before the first week closed."]
