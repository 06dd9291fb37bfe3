"""A weekly report as it was frozen, put into the week page's view."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from dashboards.rows import Counts, EventLine, Money, Moved, TicketLine, Urgency
from dashboards.week import Change, CostAtRisk, CoverageCounts, FleetMap, PastDue, Reading, WeekView
from dashboards.words import CAUSES, say
from models.findings import FleetEvent
from service.schedule.notices import notices, read_events
from service.tickets.problem import told_problem
from service.web.urgency import URGENCIES, as_urgency

Body = Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Edges:
    """What is not in the report itself.

    Parameters
    ----------
    reading : Reading
        As closed, or as known now.
    closed_at : datetime
        When it was frozen, in the fleet's zone.
    late_readings : int
        Readings of its week that came after that.
    previous, following : str
        Weeks with a report before and after; empty for none.
    workshop_hours : float or None
        Hours the workshop has a week [h].
    fleet_map : FleetMap or None
        How the fleet stood week by week, up to this one.
    """

    reading: Reading
    closed_at: datetime
    late_readings: int
    previous: str
    following: str
    workshop_hours: float | None
    fleet_map: FleetMap | None = None


def report_view(body: Body, edges: Edges) -> WeekView:
    """Put a report into the page's view; the report's own sums are shown, nothing is added up anew.

    Parameters
    ----------
    body : mapping
        The report.
    edges : Edges
        What is not in it.

    Returns
    -------
    WeekView
        For the template.
    """
    coverage = body["coverage"]
    return WeekView(
        week=body["week"],
        starts_on=date.fromisoformat(body["monday"]),
        previous=edges.previous,
        following=edges.following,
        reading=edges.reading,
        closed_at=edges.closed_at,
        late_readings=edges.late_readings,
        counts=Counts(**body["counts"]),
        needed_hours=body["needed_hours"],
        workshop_hours=edges.workshop_hours,
        pull_in=tuple(_line(one, date.fromisoformat(body["monday"])) for one in body["coming"]),
        changes=changes_of(body),
        first_week=body["first_week"],
        past_due=tuple(_late(one) for one in body["past_due"]),
        coverage=CoverageCounts(**{kind: len(found) for kind, found in coverage.items()}),
        cost=_cost(body["cost"]),
        events=event_lines(read_events(body["events"])),
        fleet_map=edges.fleet_map,
    )


def _day(text: str | None) -> date | None:
    return None if text is None else date.fromisoformat(text)


def _problem(one: Mapping[str, Any]) -> str:
    """Name a problem as it was told; reports of earlier releases hold the likely cause only."""
    return one.get("symptom") or told_problem("", one["cause"])


def _likely(one: Mapping[str, Any]) -> str:
    return say(CAUSES, one["cause"]) if one.get("symptom") and one["cause"] else ""


def _line(one: Mapping[str, Any], monday: date) -> TicketLine:
    due_by = _day(one["due_by"])
    return TicketLine(
        ticket=one["ticket"],
        vehicle=one["vehicle"],
        urgency=as_urgency(one["priority"]),
        status="",
        problem=_problem(one),
        likely=_likely(one),
        first_check=one["first_check"],
        minutes=one["minutes"],
        due_by=due_by,
        days_late=0 if due_by is None else max(0, (monday - due_by).days),
        booked_on=_day(one["booked_on"]),
        depot=one["depot"],
        hours=one["hours"],
    )


def _late(one: Mapping[str, Any]) -> PastDue:
    return PastDue(
        ticket=one["ticket"],
        vehicle=one["vehicle"],
        problem=_problem(one),
        due_by=date.fromisoformat(one["due_by"]),
        days_late=one["days_late"],
        holding=one["holding"],
    )


def changes_of(body: Body) -> tuple[Change, ...]:
    """Give the changes that a report tells; none for an empty one."""
    return tuple(
        Change(
            vehicle=one["vehicle"],
            before=_standing(one["before"]),
            after=_standing(one["after"]),
            reason=one["reason"],
            detail=f"now {one['sheet']}" if one["reason"] == "sheet_revised" and one.get("sheet") else "",
        )
        for one in body.get("changes", ())
    )


def _standing(word: str) -> Urgency | None:
    return as_urgency(word) if word in URGENCIES else None


def _cost(cost: Mapping[str, Any] | None) -> CostAtRisk | None:
    if cost is None:
        return None
    return CostAtRisk(
        sum=Money(mean=cost["mean"], low=cost["low"], high=cost["high"], currency=cost["currency"]),
        horizon_days=cost["horizon_days"],
        price_date=date.fromisoformat(cost["price_date"]),
        revision=cost["revision"],
    )


def event_lines(events: Iterable[FleetEvent]) -> tuple[EventLine, ...]:
    """Write what crowds did together, one line for each crowd.

    Parameters
    ----------
    events : iterable of FleetEvent
        At most one for each scope and series.
    """
    return tuple(
        EventLine(
            on=notice.on,
            scope=notice.scope,
            vehicles=notice.vehicles,
            moved=tuple(Moved(series=one.series, unit=one.unit, shift=one.shift) for one in notice.events),
            fuel=next(filter(None, (fuel_of(one.hint) for one in notice.events)), None),
        )
        for notice in notices(events)
    )


def fuel_of(hint: str) -> tuple[str, str] | None:
    """Read the shares of ethanol out of an event's hint.

    Examples
    --------
    >>> fuel_of("blend:0:10"), fuel_of("")
    (('0', '10'), None)
    """
    code, *shares = hint.split(":")
    return (shares[0], shares[1]) if code == "blend" else None
