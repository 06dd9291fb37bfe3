"""Rows that several pages show: a vehicle's standing, a ticket in a list, a sum of money."""

from dataclasses import dataclass
from datetime import date
from typing import Annotated, Literal

Urgency = Literal["pull_in_now", "plan_this_week", "watch", "steady", "cannot_say"]
"""Where a vehicle stands, the most urgent first; each vehicle counts once, under its worst."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Counts:
    """How the vehicles in service divide; the five words add up to `in_service`."""

    in_service: Annotated[int, "Vehicles in service; off-road ones are left out."]
    pull_in_now: Annotated[int, "Pull in now."]
    plan_this_week: Annotated[int, "Plan this week."]
    watch: Annotated[int, "Watch, vehicles awaiting proof of a repair included."]
    steady: Annotated[int, "Steady."]
    cannot_say: Annotated[int, "Cannot say: too little, too old or unusable data."]


@dataclass(frozen=True, slots=True, kw_only=True)
class Money:
    """A sum with its range, in the fleet's currency."""

    mean: Annotated[float, "Expected sum."]
    low: Annotated[float, "10 % point."]
    high: Annotated[float, "90 % point."]
    currency: Annotated[str, "ISO 4217 code of the fleet's currency."]


@dataclass(frozen=True, slots=True, kw_only=True)
class TicketLine:
    """One ticket in a list."""

    ticket: Annotated[str, "Number of the ticket."]
    vehicle: Annotated[str, "The fleet's own number."]
    urgency: Annotated[Urgency, "Where the ticket puts the vehicle."]
    status: Annotated[str, "Status code of the ticket."]
    problem: Annotated[str, "The problem in few plain words."]
    likely: Annotated[str, "The likeliest cause in words; empty where none is named."] = ""
    first_check: Annotated[str, "The first thing to look at."] = ""
    minutes: Annotated[float | None, "Minutes the first check takes."] = None
    due_by: Annotated[date | None, "Day it is due."] = None
    days_late: Annotated[int, "Whole days past due; 0 when not."] = 0
    booked_on: Annotated[date | None, "Day given for the visit."] = None
    assignee: Annotated[str, "Who has it, by role or bench; empty when nobody."] = ""
    depot: Annotated[str, "Depot of the vehicle."] = ""
    hours: Annotated[float | None, "Expected hours of the visit."] = None
    resting: Annotated[bool, "Evidence has eased; kept open, sorted last."] = False
    raised_on: Annotated[date | None, "Day it was raised."] = None
    closed_on: Annotated[date | None, "Day it was closed."] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Learning:
    """A series, or a whole operating state, that has too few readings for a baseline."""

    series: Annotated[str, "Name of the series, `FORMULA@state`; `@state` counts days in that state."]
    have: Annotated[int, "Valid readings, or days, so far."]
    need: Annotated[int, "How many a baseline takes."]


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """How far one series of a crowd moved."""

    series: Annotated[str, "Name of the series, `FORMULA@state`."]
    unit: Annotated[str, "Unit of the shift."]
    shift: Annotated[float, "How far the like vehicles moved together [unit]."]


@dataclass(frozen=True, slots=True, kw_only=True)
class EventLine:
    """What like vehicles did together in a week: one notice, however many series show it."""

    on: Annotated[date, "Day of the shift."]
    scope: Annotated[str, "Who shares it: a depot or the fleet."]
    vehicles: Annotated[int, "How many moved."]
    moved: Annotated[tuple[Moved, ...], "What moved, and how far."]
    fuel: Annotated[
        tuple[str, str] | None, "Shares of ethanol [%] between which a change of fuel has this size."
    ] = None
