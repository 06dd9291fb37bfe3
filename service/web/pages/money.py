"""The money page: cost at risk row by row, what repairs have cost by cause, and complaints avoided."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse

from dashboards.money import (
    AtRisk,
    AvoidedLine,
    CauseLine,
    MoneyView,
    PeriodLine,
    Prices,
    RiskLine,
    SpentCell,
)
from ingest.parameters import CAUSES
from service.auth.rights import may
from service.schedule.knowledge import fleet_costs
from service.store import Work
from service.tickets.achieved import Complaint, Fixed, avoided
from service.tickets.costs import CostTable, starting_costs
from service.tickets.expected import sum_at_risk
from service.tickets.spending import (
    HOURS,
    KM,
    Exposure,
    Repair,
    Spent,
    Watched,
    exposure_of,
    money,
    rate,
    spent_by_cause,
)
from service.tickets.ticket import Ticket
from service.web.errors import BadQuery
from service.web.ground import Ground, cause_of, gather, repairs_of, told_cost, watched
from service.web.pages.exports import read_day
from service.web.pages.frames import make_frame, show, today_of
from service.web.pages.lines import problem_of
from service.web.query import EPOCH, number_day
from service.web.readers import allow, reader_of
from service.web.shell import shell_of

router = APIRouter(dependencies=[Depends(allow("money"))])

PERIOD_DAYS = 365
"""Days back that are shown at first [d]."""

HORIZON_DAYS = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class Period:
    """Days from the first to the last, both included."""

    first: date
    last: date

    @property
    def before(self) -> "Period":
        """As many days before it."""
        days = (self.last - self.first).days + 1
        return Period(first=self.first - timedelta(days=days), last=self.first - timedelta(days=1))

    def holds(self, day: int) -> bool:
        """Tell whether a day lies in it [days since 1970-01-01]."""
        return number_day(self.first) <= day <= number_day(self.last)


@router.get("/money")
def money_page(request: Request, depot: str = "") -> HTMLResponse:
    """Show manager and analyst what is at risk and what repairs have cost."""
    shell = shell_of(request)
    today = today_of(shell)
    with shell.store.begin(readonly=True) as work:
        newest = shell.memory.newest(work)
        rows = work.costs()
        own = fleet_costs(rows, starting_costs())
        costs = own or starting_costs()
        ground = gather(work, today, None)
        period = read_period(request, ground)
        tickets = ground.tickets if ground else work.tickets()
        depots = tuple(sorted({one.depot for one in ground.vehicles if one.depot})) if ground else ()
        now = None if period is None or ground is None else measure(work, ground, period, depot)
        earlier = None if period is None or ground is None else _before(work, ground, period, depot)
    view = MoneyView(
        prices=prices_of(costs, has_own=own is not None),
        at_risk=None if own is None else at_risk([one for one in tickets if depot in ("", one.depot)], own),
        depot=depot,
        depots=depots,
        now=None if now is None else now.line,
        before=earlier,
        causes=() if now is None else cause_lines(now),
        unpriced=0 if now is None else sum(one.cost is None for one in now.repairs),
        avoided=_avoided(ground, tickets, period, depot),
        may_edit=may(reader_of(request).role, "costs"),
    )
    return show(view, make_frame(request, "Money", newest=newest))


def read_period(request: Request, ground: Ground | None) -> Period | None:
    """Read the period out of the address; the last year with readings by default, None without any.

    Raises
    ------
    BadQuery
        It ends before it begins.
    """
    first = read_day("from", request.query_params.get("from", ""))
    last = read_day("to", request.query_params.get("to", ""))
    if ground is None:
        return None
    ends = last or ground.as_of
    begins = first or max(
        ends - timedelta(days=PERIOD_DAYS - 1),
        EPOCH + timedelta(days=min(ground.first_day, number_day(ends))),
    )
    if begins > ends:
        raise BadQuery("from", begins.isoformat(), f"a day up to {ends.isoformat()}")
    return Period(first=begins, last=ends)


def prices_of(costs: CostTable, *, has_own: bool) -> Prices:
    """Say which prices stand behind the figures."""
    return Prices(
        currency=costs.currency,
        price_date=costs.price_date,
        revision=costs.revision if has_own else 0,
        source=costs.source,
        made_up=len(costs.made_up),
    )


def at_risk(tickets: Iterable[Ticket], costs: CostTable) -> AtRisk:
    """Write the cost at risk with its rows; the rows add up to the sum to the cent."""
    known = {one.ticket: one for one in tickets}
    risk = sum_at_risk(known.values(), costs)
    rows = []
    for row in risk.rows:
        ticket = known[row.ticket]
        causes = ticket.detail.causes if ticket.detail else ()
        rows.append(
            RiskLine(
                ticket=row.ticket,
                vehicle=ticket.vehicle,
                depot=ticket.depot,
                problem=problem_of(ticket),
                probability=row.probability,
                planned=money(costs.planned(causes)),
                unplanned=money(costs.unplanned(causes)),
                at_risk=money(row.sum),
            )
        )
    return AtRisk(
        mean=sum((row.at_risk for row in rows), Decimal("0.00")),
        low=money(risk.low),
        high=money(risk.high),
        horizon_days=HORIZON_DAYS,
        rows=tuple(rows),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A period's repairs and use."""

    line: PeriodLine
    repairs: tuple[Repair, ...]
    use: Exposure
    complaints: dict[str, list[int]]


def measure(work: Work, ground: Ground, period: Period, depot: str) -> Measured:
    """Measure what a period cost and over how much use."""
    depot_of = {one.vehicle: one.depot for one in ground.vehicles}
    repairs = tuple(
        Repair(
            vehicle=one.vehicle,
            depot=depot_of[one.vehicle],
            cause=cause_of(one),
            day=one.day,
            cost=told_cost(one, ground.costs),
        )
        for one in repairs_of(ground)
        if period.holds(one.day) and depot in ("", depot_of[one.vehicle])
    )
    complaints: dict[str, list[int]] = defaultdict(list)
    for record in ground.work:
        if record.kind == "complaint":
            complaints[record.vehicle].append(record.day)
    use = exposure_of(_watched(work, ground, period, depot))
    total = sum((money(one.cost) for one in repairs if one.cost is not None), Decimal("0.00"))
    line = PeriodLine(
        first=period.first,
        last=period.last,
        repairs=len(repairs),
        total=total,
        vehicle_days=use.vehicle_days,
        distance_km=use.km,
        distance_covered=use.km_covered,
        engine_hours=use.hours,
        hours_covered=use.hours_covered,
        per_distance=rate(total, use.km, KM),
    )
    return Measured(line=line, repairs=repairs, use=use, complaints=complaints)


def _watched(work: Work, ground: Ground, period: Period, depot: str) -> Iterable[Watched]:
    first, last = number_day(period.first), number_day(period.last)
    driven = {one.vehicle: one for one in work.exposures(first, last)}
    running = {one.vehicle: one for one in work.engine_use(first, last)}
    for vehicle in ground.vehicles:
        since, until = watched(vehicle, ground)
        days = max(0, min(until, last + 1) - max(since, first))
        if depot not in ("", vehicle.depot) or not days:
            continue
        way, engine = driven.get(vehicle.vehicle), running.get(vehicle.vehicle)
        yield Watched(
            vehicle=vehicle.vehicle,
            days=days,
            odometer_days=0 if way is None else min(way.odometer_days, days),
            distance_km=0.0 if way is None else way.distance_km or 0.0,
            engine_days=0 if engine is None else days,
            engine_hours=0.0 if engine is None else engine.hours,
        )


def _before(work: Work, ground: Ground, period: Period, depot: str) -> PeriodLine | None:
    before = period.before
    if number_day(before.last) < ground.first_day:
        return None
    return measure(work, ground, before, depot).line


def cause_lines(measured: Measured) -> tuple[CauseLine, ...]:
    """Write the cost of each cause, planned against unplanned."""
    return tuple(
        CauseLine(
            causes=line.causes,
            pooled=line.pooled,
            planned=_cell(line.planned, measured.use),
            unplanned=_cell(line.unplanned, measured.use),
            total=line.total,
        )
        for line in spent_by_cause(measured.repairs, measured.complaints)
    )


def _cell(spent: Spent, use: Exposure) -> SpentCell:
    return SpentCell(
        count=spent.count,
        priced=spent.priced,
        middle=spent.middle,
        least=spent.least,
        most=spent.most,
        per_distance=rate(spent.total, use.km, KM),
        per_hours=rate(spent.total, use.hours, HOURS),
        few=spent.few,
    )


def fixed_of(ground: Ground) -> tuple[Fixed, ...]:
    """Give the repairs that name a cause."""
    return tuple(
        Fixed(vehicle=one.vehicle, day=one.day, cause=one.cause, kind=one.kind)
        for one in repairs_of(ground)
        if one.cause in CAUSES
    )


def complaints_of(ground: Ground) -> tuple[Complaint, ...]:
    """Give the complaints on record."""
    return tuple(
        Complaint(vehicle=one.vehicle, day=one.day) for one in ground.work if one.kind == "complaint"
    )


def _avoided(
    ground: Ground | None, tickets: Iterable[Ticket], period: Period | None, depot: str
) -> AvoidedLine:
    if ground is None or period is None:
        return AvoidedLine(value=0.0, low=0.0, high=0.0, expected=0.0, came=0, tickets=0)
    depot_of = {one.vehicle: one.depot for one in ground.vehicles}
    kept = [
        one
        for one in tickets
        if one.done_day is not None and period.holds(one.done_day) and depot in ("", one.depot)
    ]
    came = [
        one
        for one in complaints_of(ground)
        if period.holds(one.day) and depot in ("", depot_of.get(one.vehicle, ""))
    ]
    found = avoided(kept, came, fixed_of(ground))
    return AvoidedLine(
        value=found.value,
        low=found.low,
        high=found.high,
        expected=found.expected,
        came=found.came,
        tickets=found.tickets,
    )
