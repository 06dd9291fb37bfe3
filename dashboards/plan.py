"""The plan: which vehicles fit the workshop's hours, and the day of each."""

from dataclasses import dataclass
from datetime import date
from typing import Annotated

from dashboards.rows import TicketLine
from dashboards.week import PastDue


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanTicket:
    """One ticket of a visit, with what the form of dates sends back."""

    line: Annotated[TicketLine, "The ticket as a line of a list."]
    version: Annotated[int, "Version read; the form sends it back."]
    work_hours: Annotated[float, "Expected hours of the work itself [h]."]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanVisit:
    """One vehicle in the workshop once."""

    vehicle: Annotated[str, "The fleet's own number."]
    why: Annotated[str, "Why it stands here, a code of `words.PLAN_WHY`."]
    pinned: Annotated[bool, "Whether somebody wants it in the plan."]
    total_hours: Annotated[float, "Setup once and the hours of each ticket [h]."]
    tickets: Annotated[tuple[PlanTicket, ...], "What is to be done, the most urgent first."]
    day: Annotated[date | None, "Day proposed, or booked already; None for one in work."]
    leave_out: Annotated[str, "Address of the plan without it."]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanLeft:
    """One vehicle that is not in the plan."""

    visit: Annotated[PlanVisit, "The visit."]
    reason: Annotated[str, "Why not, a code of `words.PLAN_LEFT`."]
    put_back: Annotated[str, "Address of the plan with it; empty where the planner did not leave it out."]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanView:
    """For manager and lead: what to pull in with the hours there are, and when."""

    hours: Annotated[float | None, "Hours that the workshop has [h]; None: nobody has said."]
    usable: Annotated[float, "The same less the reserve [h]."]
    reserve: Annotated[float, "Share kept free."]
    used: Annotated[float, "Hours of the visits in the plan, setup included [h]."]
    setup_hours: Annotated[float, "Hours that each visit takes beside the work [h]."]
    depot: Annotated[str, "Depot the plan is held to; empty for all."]
    depots: Annotated[tuple[str, ...], "Depots that can be chosen."]
    visits: Annotated[tuple[PlanVisit, ...], "What fits, in order."]
    left_out: Annotated[tuple[PlanLeft, ...], "What does not, in the same order."]
    pins_lack: Annotated[float, "Hours that pinned visits need beyond the usable ones [h]."]
    musts_lack: Annotated[
        float, "Hours that visits which must come in, and pinned ones, need beyond them [h]."
    ]
    past_due: Annotated[tuple[PastDue, ...], "Tickets past due, oldest first, with what holds each."]
    from_records: Annotated[tuple[str, ...], "Causes whose usual hours come from recorded repairs."]
    without: Annotated[tuple[str, ...], "Vehicles that the planner leaves out."]
    may_book: Annotated[bool, "Whether the reader may give dates and pin."]
    form_key: Annotated[str, "Key that makes the form of dates count once."]
    pin_key: Annotated[str, "Key that makes the form of pins count once."]
