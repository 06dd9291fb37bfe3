"""The money page: cost at risk row by row, what repairs have cost by cause, and complaints avoided."""

from collections.abc import Iterable
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
from service.auth.rights import may
from service.schedule.knowledge import fleet_costs
from service.store import Work
from service.tickets.achieved import avoided
from service.tickets.costs import CostTable, starting_costs
from service.tickets.expected import sum_at_risk
from service.tickets.spending import (
    HOURS,
    KM,
    Exposure,
    Spent,
    money,
    rate,
    spent_by_cause,
)
from service.tickets.ticket import Ticket
from service.web.errors import BadQuery
from service.web.ground import Ground, gather
from service.web.pages.exports import read_day
from service.web.pages.frames import make_frame, show, today_of
from service.web.pages.lines import problem_of
from service.web.query import number_day
from service.web.readers import allow, reader_of
from service.web.shell import shell_of
from service.web.spending import (
    Measured,
    Period,
    complaints_of,
    fixed_of,
    measure,
    narrowed,
    usual_period,
)

router = APIRouter(dependencies=[Depends(allow("money"))])

HORIZON_DAYS = 30


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
        own_ground = None if ground is None else narrowed(ground, depot=depot)
        tickets = ground.tickets if ground else work.tickets()
        depots = tuple(sorted({one.depot for one in ground.vehicles if one.depot})) if ground else ()
        now = None if period is None or own_ground is None else measure(work, own_ground, period)
        earlier = None if period is None or own_ground is None else _before(work, own_ground, period)
    view = MoneyView(
        prices=prices_of(costs, has_own=own is not None),
        at_risk=None if own is None else at_risk([one for one in tickets if depot in ("", one.depot)], own),
        depot=depot,
        depots=depots,
        now=None if now is None else _period(now),
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
    period = usual_period(ground, first, last)
    if period.first > period.last:
        raise BadQuery("from", period.first.isoformat(), f"a day up to {period.last.isoformat()}")
    return period


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


def _before(work: Work, ground: Ground, period: Period) -> PeriodLine | None:
    before = period.before
    if number_day(before.last) < ground.first_day:
        return None
    return _period(measure(work, ground, before))


def _period(measured: Measured) -> PeriodLine:
    use = measured.use
    return PeriodLine(
        first=measured.period.first,
        last=measured.period.last,
        repairs=len(measured.repairs),
        total=measured.total,
        vehicle_days=use.vehicle_days,
        distance_km=use.km,
        distance_covered=use.km_covered,
        engine_hours=use.hours,
        hours_covered=use.hours_covered,
        per_distance=rate(measured.total, use.km, KM),
    )


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
        total=spent.total,
        few=spent.few,
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
