"""The weekly report: how the fleet stands on Monday morning, frozen once and never rewritten.

The report of a week is made on its Monday from the evaluation as of the Sunday before, and from the tickets
as they stood when it was due. Made late, or twice, it says the same; frozen, it stays.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from datetime import date, datetime, time, timedelta
from typing import Any, Final

import orjson

from models.findings import Assessment, VehicleState
from service.schedule.changes import Happened, Standing, main_reason
from service.schedule.engine import Terms
from service.schedule.knowledge import fleet_costs
from service.schedule.timetable import MONDAY, WEEKLY_AT, fleet_zone
from service.store.work import Work
from service.tickets.costs import CostTable
from service.tickets.expected import TicketRisk, add_up, expected_hours, sum_at_risk
from service.tickets.priority import ranked, vehicle_words
from service.tickets.problem import symptom_of
from service.tickets.reconcile import stamp
from service.tickets.ticket import Ticket, is_calm, is_open
from service.tickets.words import to_date, to_day

FORMAT: Final = 1
"""Version of the report's JSON."""

_WORDS: Final = ("pull_in_now", "plan_this_week", "watch", "steady", "cannot_say")
_COMING: Final = frozenset({"pull_in_now", "plan_this_week"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Week:
    """One ISO week in the fleet's zone.

    Parameters
    ----------
    label : str
        `2031-W37`.
    monday : date
        Its first day.
    """

    label: str
    monday: date

    @property
    def before(self) -> str:
        """Label of the week before."""
        return week_of(self.monday - timedelta(days=7)).label


def week_of(on: date) -> Week:
    """Give the ISO week of a local day.

    Examples
    --------
    >>> week_of(date(2027, 1, 1)).label, week_of(date(2027, 1, 4)).label
    ('2026-W53', '2027-W01')
    """
    year, number, weekday = on.isocalendar()
    return Week(label=f"{year:04d}-W{number:02d}", monday=on - timedelta(days=weekday - 1))


def freeze_week(work: Work, *, after_day: int, now: datetime, terms: Terms) -> str:
    """Freeze the report that is due on the morning after an evaluated day; empty text on other mornings.

    Parameters
    ----------
    work : Work
        Unit of work; the caller commits.
    after_day : int
        Evaluated day [days since 1970-01-01]; only a Sunday has a report the next morning.
    now : datetime
        When it is frozen, aware.
    terms : Terms
        What the fleet's owner asks for.

    Returns
    -------
    str
        Label of the week when this call froze it, else empty text.
    """
    monday = to_date(after_day + 1)
    if monday.weekday() != MONDAY:
        return ""
    week = week_of(monday)
    body = build(work, week, terms=terms)
    if body is None:
        return ""
    text = orjson.dumps(body, option=orjson.OPT_SORT_KEYS).decode()
    return week.label if work.freeze_report(week.label, text, now) else ""


def build(work: Work, week: Week, *, terms: Terms) -> dict[str, Any] | None:
    """Make a week's report; None where no evaluation was made by then."""
    sunday = to_day(week.monday) - 1
    assessment = work.assessment(sunday)
    if assessment is None:
        return None
    absent = work.absent(to_date(sunday))
    assessment = replace(
        assessment, vehicles=tuple(one for one in assessment.vehicles if one.vehicle not in absent)
    )
    due_at = datetime.combine(week.monday, WEEKLY_AT, tzinfo=fleet_zone(terms.zone))
    tickets = work.tickets(as_of=max(due_at, stamp(sunday)))
    costs = fleet_costs(work.costs(), terms.prices)
    prices = costs or terms.prices
    fleet = work.fleet_facts(as_of_day=sunday)
    assessed = {one.vehicle for one in assessment.vehicles}
    revision_of = {
        vehicle: f"{fleet.sheets[place].sheet} {fleet.sheets[place].revision}" if place >= 0 else ""
        for vehicle, place in zip(fleet.vehicles, fleet.sheet.tolist(), strict=True)
        if vehicle not in absent and (not work.depot or vehicle in assessed)
    }
    standings = _standings(assessment, tickets, revision_of, costs)
    coming = _coming(tickets, standings)
    previous = closed_week(work, week.before)
    before = None if previous is None else previous.body
    moved = _moved(standings, {} if before is None else before["standings"])
    happened = _happened(work, assessment, tickets, moved, _Since(previous, week.monday, terms.zone))
    return {
        "format": FORMAT,
        "week": week.label,
        "monday": week.monday.isoformat(),
        "as_of": to_date(assessment.day).isoformat(),
        "stale_days": sunday - assessment.day,
        "method": assessment.method,
        "counts": _counts([one.word for one in standings.values()]),
        "coverage": _coverage(assessment.vehicles, standings, revision_of)
        | {"off_road": [vehicle for vehicle, one in sorted(absent.items()) if not one.gone]},
        "needed_hours": round(sum(expected_hours(ticket, prices) for ticket in coming), 1),
        "hours_source": prices.source,
        "coming": [_line(ticket) | {"hours": expected_hours(ticket, prices)} for ticket in coming],
        "past_due": [_late_line(ticket, week.monday) for ticket in _past_due(tickets, week.monday)],
        "changes": [
            {
                "vehicle": vehicle,
                "before": "" if then is None else then.word,
                "after": "" if now is None else now.word,
                "reason": main_reason(then, now, happened.get(vehicle, Happened())),
                "sheet": "" if now is None else now.sheet,
            }
            for vehicle, (then, now) in moved.items()
        ],
        "first_week": before is None,
        "cost": None if costs is None else _cost_at_risk(tickets, costs, terms.wish.horizon_days),
        "events": [
            asdict(event) | {"on": to_date(event.day).isoformat()} for event in _week_events(work, sunday)
        ],
        "standings": {vehicle: asdict(standing) for vehicle, standing in sorted(standings.items())},
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosedWeek:
    """A report as it was frozen, or one depot's own part of it."""

    frozen_at: datetime
    body: Mapping[str, Any]


def closed_week(work: Work, label: str) -> ClosedWeek | None:
    """Give a frozen report, as much as the unit of work may see; None where none is frozen.

    Parameters
    ----------
    work : Work
        One that sees a single depot is given the rows of the vehicles that stood there at the end of the
        evaluated day, as far as they are still in sight, and the sums of those rows.
    label : str
        ISO week, such as `2031-W37`.
    """
    kept = work.whole_report(label)
    if kept is None:
        return None
    return ClosedWeek(frozen_at=kept.frozen_at, body=in_sight(work, orjson.loads(kept.body)))


def in_sight(work: Work, body: Mapping[str, Any]) -> Mapping[str, Any]:
    """Leave in a report what a unit of work may see; all of it where that is the whole fleet."""
    if not work.depot:
        return body
    day = to_day(date.fromisoformat(body["as_of"]))
    own = {vehicle for vehicle, depot in work.depots_on(day).items() if depot == work.depot}
    told = [] if body["cost"] is None else [row["ticket"] for row in body["cost"]["rows"]]
    owner = work.ticket_vehicles(told)
    return narrowed(body, own, {ticket for ticket, vehicle in owner.items() if vehicle in own})


def narrowed(
    body: Mapping[str, Any], vehicles: Collection[str], tickets: Collection[str]
) -> Mapping[str, Any]:
    """Leave in a report the rows of some vehicles and tickets, and sum those up.

    Parameters
    ----------
    body : mapping
        The report of a whole fleet.
    vehicles, tickets : collection of str
        Whose rows stay: `tickets` those of the cost at risk.

    Returns
    -------
    mapping
        Of the same shape. What like vehicles share stays as it is: it was found in the whole fleet.
    """
    standings = {vehicle: one for vehicle, one in body["standings"].items() if vehicle in vehicles}
    coming = [row for row in body["coming"] if row["vehicle"] in vehicles]
    return {
        **body,
        "counts": _counts([one["word"] for one in standings.values()]),
        "coverage": {
            kind: [vehicle for vehicle in found if vehicle in vehicles]
            for kind, found in body["coverage"].items()
        },
        "needed_hours": round(sum(row["hours"] for row in coming), 1),
        "coming": coming,
        "past_due": [row for row in body["past_due"] if row["vehicle"] in vehicles],
        "changes": [row for row in body["changes"] if row["vehicle"] in vehicles],
        "cost": None if body["cost"] is None else body["cost"] | _narrow_cost(body["cost"]["rows"], tickets),
        "standings": standings,
    }


def _narrow_cost(rows: Iterable[Mapping[str, Any]], tickets: Collection[str]) -> dict[str, Any]:
    kept = [row for row in rows if row["ticket"] in tickets]
    return asdict(add_up([TicketRisk(**row) for row in kept]))


def _standings(
    assessment: Assessment,
    tickets: Iterable[Ticket],
    revision_of: Mapping[str, str],
    costs: CostTable | None,
) -> dict[str, Standing]:
    own = [ticket for ticket in tickets if is_open(ticket)]
    words = vehicle_words(assessment.vehicles, own)
    states = {state.vehicle: state for state in assessment.vehicles}
    worst: dict[str, Ticket] = {}
    for ticket in ranked(own):
        worst.setdefault(ticket.vehicle, ticket)
    return {
        vehicle: Standing(
            word=word,
            reason=states[vehicle].reason,
            ticket=worst[vehicle].ticket if vehicle in worst else "",
            status=worst[vehicle].status if vehicle in worst else "",
            sheet=revision_of.get(vehicle, ""),
            method=assessment.method,
            costs=0 if costs is None else costs.revision,
        )
        for vehicle, word in words.items()
    }


def _counts(words: Collection[str]) -> dict[str, int]:
    counts = dict.fromkeys(_WORDS, 0)
    for word in words:
        counts[word] += 1
    return {"in_service": len(words), **counts}


def _coverage(
    states: Iterable[VehicleState], standings: Mapping[str, Standing], revision_of: Mapping[str, str]
) -> dict[str, list[str]]:
    """Name who cannot be judged, by kind: together they are the vehicles that stand under Cannot say."""
    kinds: dict[str, list[str]] = {
        "silent": [],
        "partial": [],
        "unusable": [],
        "learning": [],
    }
    kind_of = {
        "silent": "silent",
        "no_data": "silent",
        "no_warm_idle": "partial",
        "no_usable_state": "unusable",
        "learning": "learning",
    }
    for state in states:
        if standings[state.vehicle].word == "cannot_say":
            kinds[kind_of.get(state.reason, "partial")].append(state.vehicle)
    kinds["without_sheet"] = [vehicle for vehicle, sheet in sorted(revision_of.items()) if not sheet]
    return kinds


def _coming(tickets: Iterable[Ticket], standings: Mapping[str, Standing]) -> tuple[Ticket, ...]:
    return ranked(
        ticket
        for ticket in tickets
        if is_open(ticket)
        and ticket.priority in _COMING
        and not is_calm(ticket)
        and ticket.vehicle in standings
    )


def _line(ticket: Ticket) -> dict[str, Any]:
    return {
        "ticket": ticket.ticket,
        "vehicle": ticket.vehicle,
        "depot": ticket.depot,
        "priority": ticket.priority,
        "symptom": symptom_of(ticket),
        "cause": ticket.cause_1,
        "evidence": ticket.evidence,
        "probability_30d": ticket.probability_30d,
        "due_by": None if ticket.due_by is None else ticket.due_by.isoformat(),
        "booked_on": None if ticket.booked_on is None else ticket.booked_on.isoformat(),
        "booked_hours": ticket.booked_hours,
        "first_check": ticket.detail.checks[0].text if ticket.detail else "",
        "minutes": ticket.detail.checks[0].minutes if ticket.detail else None,
    }


def _past_due(tickets: Iterable[Ticket], monday: date) -> list[Ticket]:
    """Due on the 8th is past due from the 9th on; waiting for parts does not stop the clock."""
    late = [
        ticket
        for ticket in tickets
        if is_open(ticket) and not is_calm(ticket) and ticket.due_by is not None and ticket.due_by < monday
    ]
    return sorted(late, key=lambda ticket: (ticket.due_by or date.max, ticket.ticket))


def _late_line(ticket: Ticket, monday: date) -> dict[str, Any]:
    due_by = ticket.due_by or monday
    return _line(ticket) | {"days_late": (monday - due_by).days, "holding": holding(ticket)}


def holding(ticket: Ticket) -> str:
    """Say by its code what holds an open ticket."""
    if ticket.status in {"raised", "reopened"}:
        return "not_accepted"
    if ticket.status == "in_work":
        return "in_work"
    if ticket.status == "done":
        return "awaiting_proof"
    if ticket.reason in {"parts", "vehicle_away"} and ticket.booked_on is None:
        return ticket.reason
    return "booked" if ticket.booked_on is not None else "no_date"


@dataclass(frozen=True, slots=True)
class _Since:
    """The report before, and the Monday after it in the fleet's zone."""

    report: ClosedWeek | None
    monday: date
    zone: str

    def week_before(self) -> datetime:
        """Give the first moment of the week that the report after it looks back on."""
        return datetime.combine(self.monday - timedelta(days=7), time(), tzinfo=fleet_zone(self.zone))


Moved = Mapping[str, tuple[Standing | None, Standing | None]]
"""Vehicles that stand elsewhere than in the report before, by number: then and now."""


def _moved(after: Mapping[str, Standing], before: Mapping[str, Mapping[str, Any]]) -> Moved:
    """Find the vehicles that stand elsewhere; none where there is no report before."""
    if not before:
        return {}
    pairs = {
        vehicle: (Standing(**before[vehicle]) if vehicle in before else None, after.get(vehicle))
        for vehicle in sorted(set(after) | set(before))
    }
    return {
        vehicle: (then, now)
        for vehicle, (then, now) in pairs.items()
        if then is None or now is None or then.word != now.word
    }


def _happened(
    work: Work,
    assessment: Assessment,
    tickets: Iterable[Ticket],
    moved: Moved,
    since: "_Since",
) -> dict[str, Happened]:
    """Look up what happened in the week before to the vehicles that moved."""
    sunday = assessment.day
    records = work.work_records(from_day=sunday - 6, up_to_day=sunday) if moved else ()
    repaired = {r.vehicle for r in records if r.kind == "repair"}
    repaired |= {t.vehicle for t in tickets if t.done_day is not None and sunday - 7 < t.done_day <= sunday}
    cleared = {r.vehicle for r in records if r.kind in {"memory_cleared", "battery_replaced"}}
    cleared |= {b.vehicle for b in assessment.breaks if b.reason == "memory_cleared" and b.day > sunday - 7}
    came = {}
    if moved and since.report is not None:
        came = work.came_since(
            sorted(moved), received_after=since.report.frozen_at, taken_before=since.week_before()
        )
    return {
        vehicle: Happened(
            repaired=vehicle in repaired,
            cleared=vehicle in cleared,
            late=came.get(vehicle, (0, 0))[0],
            fresh=came.get(vehicle, (0, 0))[1],
        )
        for vehicle in moved
    }


def _cost_at_risk(tickets: Iterable[Ticket], costs: CostTable, horizon_days: int) -> dict[str, Any]:
    return {
        **asdict(sum_at_risk(tickets, costs)),
        "currency": costs.currency,
        "price_date": costs.price_date.isoformat(),
        "revision": costs.revision,
        "horizon_days": horizon_days,
    }


def _week_events(work: Work, sunday: int) -> list[Any]:
    """One notice for each scope and series of the week: the day it was largest."""
    largest: dict[tuple[str, str], Any] = {}
    for day in work.assessed_days():
        if not sunday - 6 <= day <= sunday:
            continue
        assessment = work.assessment(day)
        for event in assessment.events if assessment is not None else ():
            kept = largest.get((event.scope, event.series))
            if kept is None or abs(event.shift) > abs(kept.shift):
                largest[(event.scope, event.series)] = event
    return [largest[key] for key in sorted(largest)]
