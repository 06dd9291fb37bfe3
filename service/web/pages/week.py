"""The week page: how many vehicles must come in, whether they fit, what changed and why."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from typing import Any, Final

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse

from dashboards import links
from dashboards.fleetmap import MOST_WEEKS, build_map
from dashboards.frame import Link
from dashboards.rows import EventLine, Money, TicketLine, Urgency
from dashboards.week import Change, CostAtRisk, CoverageCounts, PastDue, Reading, WeekView
from models.findings import Assessment
from service.auth.rights import may
from service.schedule.engine import Terms
from service.schedule.knowledge import fleet_costs
from service.schedule.weekly import build, closed_week, holding, in_sight, week_of
from service.store import Work
from service.tickets.costs import CostTable, starting_costs
from service.tickets.expected import expected_hours, sum_at_risk
from service.tickets.priority import ranked
from service.tickets.ticket import Ticket
from service.web.errors import BadQuery, NotFound
from service.web.exports import lost_by
from service.web.pages.coverage import gap_of
from service.web.pages.frames import make_frame, show, zone_of
from service.web.pages.lines import count_words, days_late, problem_of, ticket_line, urgency_of
from service.web.pages.report import Edges, changes_of, event_lines, report_view
from service.web.pages.situation import Situation, load_situation
from service.web.query import choose, number_day
from service.web.readers import allow, reader_of
from service.web.shell import Shell, shell_of
from service.web.wire import day_date

router = APIRouter(dependencies=[Depends(allow("read"))])

_READINGS: Final[Mapping[str, Reading]] = {"as_closed": "as_closed", "as_known_now": "as_known_now"}
HORIZON_DAYS: Final = 30
EVENT_DAYS: Final = 7
"""Days back for which shifts shared by like vehicles are told [days]: the week."""


def monday_of(week: str) -> date:
    """Give the Monday of an ISO week.

    Raises
    ------
    BadQuery
        There is no such week, or it is written otherwise.

    Examples
    --------
    >>> monday_of("2026-W53").isoformat()
    '2026-12-28'
    """
    year, _, number = week.partition("-W")
    try:
        monday = date.fromisocalendar(int(year), int(number), 1)
    except ValueError as err:
        raise BadQuery("week", week, "an ISO week, such as 2031-W37") from err
    if week_of(monday).label != week:
        raise BadQuery("week", week, "an ISO week, such as 2031-W37")
    return monday


@router.get("/week")
def this_week(request: Request, depot: str = "") -> HTMLResponse:
    """Show this week to the fleet manager: what to pull in, and whether the hours suffice."""
    shell, scope = _seen_from(request, depot)
    with shell.store.begin(readonly=True) as work:
        return _show_now(request, shell, work, scope)


@router.get("/week/{week}")
def one_week(request: Request, week: str, reading: str = "as_closed", depot: str = "") -> HTMLResponse:
    """Show a week as its report was closed, or made anew with what is known now."""
    monday = monday_of(week)
    choose("reading", reading, ("as_closed", "as_known_now"))
    shell, scope = _seen_from(request, depot)
    zone = zone_of(shell)
    with shell.store.begin(readonly=True) as work:
        kept = closed_week(work, week)
        if kept is None and week == week_of(shell.clock.now().astimezone(zone).date()).label:
            return _show_now(request, shell, work, scope)
        if kept is None:
            raise NotFound("weekly report", week)
        body = kept.body
        if reading == "as_known_now":
            again = build(work, week_of(monday), terms=Terms(zone=str(zone)))
            body = body if again is None else in_sight(work, again)
        start = datetime.combine(monday - timedelta(days=7), time(), zone)
        late = work.late_count(from_at=start, to_at=start + timedelta(days=7), received_after=kept.frozen_at)
        weeks = work.reports()
        drawn = [one for one in weeks if one <= week][:MOST_WEEKS]
        past = shell.memory.standings(work, drawn)
        made_at = work.assessed_at(number_day(date.fromisoformat(body["as_of"])))
        lost = lost_by(work, date.fromisoformat(body["as_of"]), str(zone))
    edges = Edges(
        reading=_READINGS[reading],
        closed_at=kept.frozen_at.astimezone(zone),
        late_readings=late,
        previous=max((one for one in weeks if one < week), default=""),
        following=min((one for one in weeks if one > week), default=""),
        workshop_hours=None if work.depot else shell.settings.workshop_hours or None,
        fleet_map=build_map(past),
    )
    view = _with_ways(request, report_view(body, edges), scope)
    return show(view, make_frame(request, f"Week {week}", assessed_at=made_at, lost=lost))


@dataclass(frozen=True, slots=True, kw_only=True)
class Scope:
    """The depot that the page speaks of, empty for the fleet, and those that the reader may choose from."""

    depot: str
    depots: tuple[str, ...]


def _seen_from(request: Request, depot: str) -> tuple[Shell, Scope]:
    """Give the parts with the store as a reader of the depot sees it, and what else may be chosen."""
    shell, own = shell_of(request), reader_of(request).only_depot
    if own:
        choose("depot", depot, ("", own))
        return shell, Scope(depot=own, depots=())
    with shell.store.begin(readonly=True) as work:
        depots = work.depots()
    choose("depot", depot, ("", *depots))
    seen = replace(shell, store=shell.store.on_behalf(depot=depot)) if depot else shell
    return seen, Scope(depot=depot, depots=depots if len(depots) > 1 else ())


def _show_now(request: Request, shell: Shell, work: Work, scope: Scope) -> HTMLResponse:
    situation = load_situation(shell, work)
    view = make_view(
        situation,
        _load_extras(shell, work, situation.today),
        workshop_hours=None if work.depot else shell.settings.workshop_hours or None,
    )
    frame = make_frame(
        request,
        f"Week {view.week}",
        newest=situation.newest,
        data_up_to=situation.data_up_to,
    )
    return show(_with_ways(request, view, scope), frame)


def _with_ways(request: Request, view: WeekView, scope: Scope) -> WeekView:
    """Add the ways to the pages behind the figures, as far as the reader may go."""
    view = replace(view, depot=scope.depot, depots=scope.depots)
    ways = (*view.ways, Link(href="/track-record", text="Is this any good?"))
    if not may(reader_of(request).role, "money"):
        return replace(view, ways=ways)
    rows_at = links.money_url(scope.depot)
    cost = None if view.cost is None else replace(view.cost, rows_at=rows_at)
    return replace(view, cost=cost, ways=(*ways, Link(href="/money/budget", text="Budget")))


@dataclass(frozen=True, slots=True, kw_only=True)
class Extras:
    """What the week page needs beside the situation.

    Parameters
    ----------
    costs : CostTable or None
        The fleet's own; None where it has given none.
    sheets : set of str
        Sheets on file.
    past : list of (ISO week, standing by vehicle)
        Weeks before this one that have a report, oldest first.
    earlier : str
        Newest week before this one that has a report; empty for none.
    body : mapping
        This week's report; empty before it is frozen.
    """

    costs: CostTable | None
    sheets: set[str]
    past: list[tuple[str, Mapping[str, Urgency]]]
    earlier: str
    body: Mapping[str, Any]


def _load_extras(shell: Shell, work: Work, today: date) -> Extras:
    label = week_of(today).label
    weeks = work.reports()
    own = closed_week(work, label) if label in weeks else None
    earlier = [one for one in weeks if one < label]
    return Extras(
        costs=fleet_costs(work.costs(), starting_costs()),
        sheets={one.sheet for one in work.sheets(as_of_day=number_day(today))},
        past=shell.memory.standings(work, earlier[:MOST_WEEKS]),
        earlier=earlier[0] if earlier else "",
        body={} if own is None else own.body,
    )


def make_view(situation: Situation, extras: Extras, *, workshop_hours: float | None) -> WeekView:
    """Put this week's page together, with what is known now.

    Parameters
    ----------
    situation : Situation
        How the fleet stands.
    extras : Extras
        Costs, sheets and weeks on file.
    workshop_hours : float or None
        Hours the workshop has a week [h].

    Returns
    -------
    WeekView
        Sums are over the rows shown.
    """
    week = week_of(situation.today)
    coming = [
        one
        for one in ranked(situation.open_tickets)
        if urgency_of(one) in ("pull_in_now", "plan_this_week") and one.vehicle in situation.words
    ]
    return WeekView(
        week=week.label,
        starts_on=week.monday,
        previous=extras.earlier,
        following="",
        reading="as_known_now",
        closed_at=None,
        late_readings=0,
        counts=count_words(situation.words.values()),
        needed_hours=_hours(coming, extras.costs or starting_costs()) if coming else 0.0,
        workshop_hours=workshop_hours,
        pull_in=tuple(_line(one, situation, extras.costs or starting_costs()) for one in coming),
        changes=_changes(extras.body),
        first_week=extras.body["first_week"] if extras.body else not extras.earlier,
        past_due=past_due(situation.open_tickets, situation),
        coverage=_coverage(situation, extras.sheets),
        cost=_cost(situation.open_tickets, extras.costs),
        events=_events(situation.newest.assessment, situation.today),
        fleet_map=build_map([*extras.past, (week.label, situation.words)]),
    )


def _changes(body: Mapping[str, Any]) -> tuple[Change, ...] | None:
    """Give this week's changes; None where nothing was compared: no report of this week, or none before."""
    return None if not body or body["first_week"] else changes_of(body)


def _hours(tickets: Iterable[Ticket], costs: CostTable) -> float:
    return sum(expected_hours(one, costs) for one in tickets)


def _line(ticket: Ticket, situation: Situation, costs: CostTable) -> TicketLine:
    line = ticket_line(ticket, situation.today_of(ticket.vehicle), situation.zone)
    return replace(line, hours=expected_hours(ticket, costs))


def past_due(tickets: Iterable[Ticket], situation: Situation) -> tuple[PastDue, ...]:
    """List the tickets past due, oldest first, each with what holds it.

    Parameters
    ----------
    tickets : iterable of Ticket
        Open ones.
    situation : Situation
        Tells the day at each vehicle's depot.
    """
    lines = [
        PastDue(
            ticket=one.ticket,
            vehicle=one.vehicle,
            problem=problem_of(one),
            due_by=one.due_by,
            days_late=late,
            holding=holding(one),
        )
        for one in tickets
        if one.due_by is not None and (late := days_late(one, situation.today_of(one.vehicle)))
    ]
    return tuple(sorted(lines, key=lambda line: (line.due_by, line.ticket)))


def _coverage(situation: Situation, sheets: set[str]) -> CoverageCounts:
    unjudged = [name for name, word in situation.words.items() if word == "cannot_say"]
    gaps = Counter(gap_of(name, situation) for name in unjudged)
    return CoverageCounts(
        silent=gaps["silent"],
        partial=gaps["partial"],
        unusable=gaps["unusable"],
        learning=gaps["learning"],
        off_road=len(situation.off_road),
        without_sheet=sum(one.spec_sheet not in sheets for one in situation.vehicles),
    )


def _cost(tickets: Iterable[Ticket], costs: CostTable | None) -> CostAtRisk | None:
    """Add up what open tickets are expected to cost more if they run to a complaint; None without costs."""
    if costs is None:
        return None
    risk = sum_at_risk(tickets, costs)
    return CostAtRisk(
        sum=Money(mean=risk.mean, low=risk.low, high=risk.high, currency=costs.currency),
        horizon_days=HORIZON_DAYS,
        price_date=costs.price_date,
        revision=costs.revision,
    )


def _events(said: Assessment | None, today: date) -> tuple[EventLine, ...]:
    if said is None:
        return ()
    since = today - timedelta(days=EVENT_DAYS)
    return event_lines(one for one in said.events if day_date(one.day) >= since)
