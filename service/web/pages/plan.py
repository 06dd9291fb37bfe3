"""The plan: what to pull in with the hours there are, pins, and days given to all or none."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Annotated, Final

from fastapi import APIRouter, Depends, Query, Request
from starlette.responses import HTMLResponse, Response

from dashboards.links import plan_url
from dashboards.plan import PlanLeft, PlanTicket, PlanView, PlanVisit
from service.schedule.knowledge import fleet_costs
from service.store import Work
from service.tickets import lifecycle
from service.tickets.aside import Aside
from service.tickets.costs import CostTable, starting_costs
from service.tickets.errors import TransitionNotAllowed
from service.tickets.plan import Plan, Visit, make_plan, make_visits, propose_days, usual_hours
from service.tickets.priority import ranked
from service.tickets.rules import Rules
from service.tickets.ticket import Ticket
from service.web.errors import FormInvalid
from service.web.forms import Form, local, read_form
from service.web.moving import EventMessage, Mover, move, put, read_under
from service.web.pages.acting import mover_of, refusal
from service.web.pages.conflict import REFUSALS, show_refusal
from service.web.pages.frames import make_frame, show
from service.web.pages.lines import days_late, ticket_line
from service.web.pages.offers import PIN_DAYS, asides_of
from service.web.pages.once import do_once, new_key
from service.web.pages.situation import Situation, load_situation
from service.web.pages.week import past_due
from service.web.readers import Reader, allow, reader_of
from service.web.shell import shell_of

router = APIRouter(dependencies=[Depends(allow("plan"))])

MOST_HOURS: Final = 10_000.0
BOOKERS: Final = frozenset({"lead", "manager"})
"""Roles that give dates and pin."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What the planner asks for: hours [h] or None, one depot or all, vehicles left out."""

    hours: float | None
    depot: str
    without: tuple[str, ...]

    def url(self, *, more: str = "", less: str = "") -> str:
        """Address the same plan with one more vehicle left out, or one less."""
        kept = [one for one in self.without if one != less]
        return plan_url(self.hours, self.depot, [*kept, *([more] if more else [])])


@router.get("/plan")
def plan_page(
    request: Request,
    hours: Annotated[float | None, Query(ge=0, le=MOST_HOURS)] = None,
    depot: str = "",
    out: Annotated[tuple[str, ...], Query()] = (),
) -> HTMLResponse:
    """Show manager and lead which visits fit the workshop's hours, in order."""
    shell = shell_of(request)
    with shell.store.begin(readonly=True) as work:
        situation = load_situation(shell, work)
        costs = fleet_costs(work.costs(), starting_costs()) or starting_costs()
        usual = usual_hours(work.repair_hours(), least=Rules().usual_least)
    wish = Wish(
        hours=hours if hours is not None else shell.settings.workshop_hours or None,
        depot=depot,
        without=tuple(dict.fromkeys(out)),
    )
    view = make_view(situation, wish, costs, usual, reader_of(request))
    frame = make_frame(request, "Plan", newest=situation.newest, data_up_to=situation.data_up_to)
    return show(view, frame)


def make_view(
    situation: Situation, wish: Wish, costs: CostTable, usual: Mapping[str, float], reader: Reader
) -> PlanView:
    """Put the plan's page together.

    Parameters
    ----------
    situation : Situation
        How the fleet stands.
    wish : Wish
        Hours, depot, vehicles left out.
    costs : CostTable
        For hours of causes without enough records.
    usual : mapping of str to float
        Hours by cause, from records [h].
    reader : Reader
        Only leads and managers give dates.

    Returns
    -------
    PlanView
        The same facts give the same plan.
    """
    tickets = [one for one in situation.open_tickets if wish.depot in ("", one.depot)]
    late = {one.ticket for one in tickets if days_late(one, situation.today_of(one.vehicle))}
    rules = Rules()
    visits = make_visits(tickets, late=late, today=situation.today, costs=costs, usual=usual, rules=rules)
    plan = make_plan(visits, wish.hours or 0.0, without=wish.without, rules=rules)
    days = propose_days(plan, situation.today, rules=rules)
    return PlanView(
        hours=wish.hours,
        usable=plan.usable,
        reserve=rules.plan_reserve,
        used=plan.used,
        setup_hours=rules.setup_hours,
        depot=wish.depot,
        depots=tuple(sorted({one.depot for one in situation.vehicles if one.depot})),
        visits=tuple(_visit(one, situation, wish, days.get(one.vehicle)) for one in plan.visits),
        left_out=_left(plan, situation, wish),
        pins_lack=plan.pins_lack,
        musts_lack=plan.musts_lack,
        past_due=past_due(tickets, situation),
        from_records=tuple(usual),
        without=wish.without,
        may_book=reader.role in BOOKERS,
        form_key=new_key(),
        pin_key=new_key(),
    )


def _left(plan: Plan, situation: Situation, wish: Wish) -> tuple[PlanLeft, ...]:
    return tuple(
        PlanLeft(
            visit=_visit(one.visit, situation, wish, None),
            reason=one.reason,
            put_back=wish.url(less=one.visit.vehicle) if one.reason == "by_hand" else "",
        )
        for one in plan.left_out
    )


def _visit(visit: Visit, situation: Situation, wish: Wish, day: date | None) -> PlanVisit:
    return PlanVisit(
        vehicle=visit.vehicle,
        why=visit.why,
        pinned=visit.is_pinned,
        total_hours=visit.hours,
        tickets=tuple(
            PlanTicket(
                line=ticket_line(one, situation.today_of(one.vehicle), situation.zone),
                version=one.version,
                work_hours=hours,
            )
            for one, hours in zip(visit.tickets, visit.work_hours, strict=True)
        ),
        day=day,
        leave_out=wish.url(more=visit.vehicle),
    )


@router.post("/plan/dates")
def give_dates(request: Request, form: Form = Depends(read_form)) -> Response:
    """Book every visit of the plan, for lead or manager; one that cannot be booked keeps all from it."""
    mover = mover_of(reader_of(request))
    now = shell_of(request).clock.now()
    rows = _rows(form)
    asked = rows[0].ticket if rows else ""

    def do(work: Work) -> tuple[str, str]:
        nonlocal asked
        for row in rows:
            asked = row.ticket
            if read_under(work, row.ticket, row.version).booked_on == row.on:
                continue
            message = EventMessage(event="book", version=row.version, on=row.on, hours=row.hours)
            move(work, row.ticket, message, mover, now)
        return local(form.get("back"), "/plan"), "dates"

    try:
        return do_once(request, form, do)
    except REFUSALS as error:
        return show_refusal(request, asked, form, error, mover)


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One ticket of the form of dates: its number, version read, day and hours [h]."""

    ticket: str
    version: int
    on: date
    hours: float


def _rows(form: Form) -> tuple[Row, ...]:
    """Read the form of dates.

    Raises
    ------
    FormInvalid
        It is not the plan's: fields are missing, or of the wrong kind.
    """
    lists: Sequence[tuple[str, ...]] = [
        form.all(name) for name in ("ticket", "version", "work_hours", "visit")
    ]
    try:
        days = dict(zip(form.all("vehicle"), map(date.fromisoformat, form.all("day")), strict=True))
        return tuple(
            Row(ticket=ticket, version=int(version), on=days[vehicle], hours=float(hours))
            for ticket, version, hours, vehicle in zip(*lists, strict=True)
        )
    except (ValueError, KeyError) as err:
        raise FormInvalid("each visit needs its tickets and a day, YYYY-MM-DD") from err


@router.post("/plan/pins")
def change_pin(request: Request, form: Form = Depends(read_form)) -> Response:
    """Keep a vehicle in the plan for a week, or let it go; for lead or manager."""
    mover = mover_of(reader_of(request))
    now = shell_of(request).clock.now()
    vehicle = form.get("pin") or form.get("unpin")
    until = now.date() + timedelta(days=PIN_DAYS) if form.get("pin") else None

    def do(work: Work) -> tuple[str, str]:
        for ticket in _to_pin(work, vehicle, pinned=until is None):
            _pin(work, ticket, until, mover, now)
        return local(form.get("back"), "/plan"), "pin" if until else "unpin"

    return do_once(request, form, do)


def _to_pin(work: Work, vehicle: str, *, pinned: bool) -> tuple[Ticket, ...]:
    """Choose what a pin is put on, the vehicle's most urgent ticket; or from which it is taken, all of them.

    Raises
    ------
    TransitionRefused
        The vehicle has no such ticket.
    """
    own = ranked(work.tickets(vehicle=vehicle, open_only=True))
    if pinned:
        return tuple(one for one in own if one.pinned_until is not None)
    able = [one for one in own if one.status not in {"done", "deferred"}]
    if not able:
        raise refusal(vehicle, "pin", "vehicle", "the vehicle has no open ticket that asks for the workshop.")
    return (able[0],)


def _pin(work: Work, ticket: Ticket, until: date | None, mover: Mover, now: datetime) -> None:
    event: Aside = "unpin" if until is None else "pin"
    role = next((one for one in lifecycle.PEOPLE if one in mover.roles), None)
    if role is None or event not in asides_of(ticket, mover):
        raise TransitionNotAllowed(
            ticket=ticket.ticket, event=event, status=ticket.status, role=mover.roles[0], allowed=()
        )
    after = lifecycle.pin(ticket, until, at=now)
    note = "" if until is None else f"until {until.isoformat()}."
    line = lifecycle.event_row(ticket, after, event=event, role=role, by=mover.name, at=now, note=note)
    put(work, ticket, after, line)
