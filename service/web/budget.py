"""The budget file: what the store knows of repairs, exposure and costs, put to the models."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import CAUSES
from ingest.records import Vehicle
from models.budget import MINOR, Budget, OpenTicket, RepairHistory, Spread, forecast_budget
from service.schedule.knowledge import fleet_costs
from service.store import KeptWork, Work
from service.tickets.costs import CostTable, starting_costs
from service.tickets.ticket import Ticket, is_open
from service.web.query import number_day

SEED: Final = 1
"""Seed of the simulation, the same always: the same store and date give the same bytes."""

MONTHS: Final = 12
MONTH_DAYS: Final = 365.25 / 12

_REPAIRS: Final = {"repair": "unknown", "battery_replaced": "battery_ageing"}
"""Kinds of work that cost as repairs do, and the cause counted where the record names none."""

Row = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """What a budget stands on.

    Parameters
    ----------
    as_of : date
        Day of the forecast, in the fleet's zone.
    vehicles : tuple of Vehicle
        As registered.
    work : tuple of KeptWork
        Done and recorded by then.
    tickets : tuple of Ticket
        As they stood then.
    costs : CostTable
        The fleet's own, or the one that comes with the program.
    own_costs : bool
        Whether they are the fleet's own.
    first_day : int or None
        First day with readings [days since 1970-01-01]; None before the first.
    """

    as_of: date
    vehicles: tuple[Vehicle, ...]
    work: tuple[KeptWork, ...]
    tickets: tuple[Ticket, ...]
    costs: CostTable
    own_costs: bool
    first_day: int | None

    @property
    def depots(self) -> tuple[str, ...]:
        """Names of the depots, sorted; vehicles without one stand under empty text."""
        return tuple(sorted({one.depot for one in self.vehicles}))


def budget_rows(work: Work, as_of: date, known_at: datetime | None) -> list[Row]:
    """Give the rows of the budget: each month's total first, then its cells by depot and cause.

    Parameters
    ----------
    work : Work
        A read-only unit of work.
    as_of : date
        Day of the forecast, in the fleet's zone.
    known_at : datetime or None
        Leaves out what was recorded later, aware; None for everything known now.

    Returns
    -------
    list of dict
        None before the first reading, or without vehicles. Cells that cost nothing in nearly every simulated
        year are left out unless their mean is above zero, so that means still add up.
    """
    days = work.day_range()
    rows = work.costs()
    records = work.work_records(up_to_day=number_day(as_of))
    ground = Ground(
        as_of=as_of,
        vehicles=work.vehicles(),
        work=tuple(one for one in records if known_at is None or one.recorded_at <= known_at),
        tickets=work.tickets(as_of=known_at),
        costs=fleet_costs(rows, starting_costs()) or starting_costs(),
        own_costs=bool(rows),
        first_day=None if days is None else days[0],
    )
    if ground.first_day is None or ground.first_day > number_day(as_of) or not ground.vehicles:
        return []
    return write_rows(forecast(ground), ground)


def forecast(ground: Ground) -> Budget:
    """Put the store's facts to the models.

    Parameters
    ----------
    ground : Ground
        With vehicles and readings.

    Returns
    -------
    Budget
        Of twelve months, from the first whole one on. Every vehicle is taken to stay in service.
    """
    place = {depot: index for index, depot in enumerate(ground.depots)}
    count = np.zeros(len(place))
    for vehicle in ground.vehicles:
        count[place[vehicle.depot]] += 1
    return forecast_budget(
        _history(ground, place),
        np.tile(count, (MONTHS, 1)),
        usual_costs(ground.costs),
        tuple(_open(one, place) for one in ground.tickets if _counts(one, place)),
        seed=SEED,
    )


def usual_costs(costs: CostTable) -> NDArray[np.float64]:
    """Give the usual cost of one repair of each cause: halfway between planned and unplanned.

    Which share of repairs will come as complaints is not known beforehand; the fleet's own past costs
    outweigh the table as they come in.
    """
    return np.array([(costs.planned([(code, 1.0)]) + costs.unplanned([(code, 1.0)])) / 2 for code in CAUSES])


def _history(ground: Ground, place: Mapping[str, int]) -> RepairHistory:
    depot_of = {one.vehicle: one.depot for one in ground.vehicles}
    found = [one for one in ground.work if one.kind in _REPAIRS and one.vehicle in depot_of]
    return RepairHistory(
        cause=np.array([CAUSES.index(one.cause or _REPAIRS[one.kind]) for one in found], dtype=np.int64),
        depot=np.array([place[depot_of[one.vehicle]] for one in found], dtype=np.int64),
        cost=np.array([_cost(one, ground.costs.rate) for one in found], dtype=np.float64),
        vehicle_months=_exposure(ground, place),
    )


def _cost(record: KeptWork, rate: float) -> float:
    """Price a repair; half a record would make it cheaper than it was, so it counts as not recorded."""
    if record.parts_cost is None or record.labour_hours is None:
        return float("nan")
    return record.parts_cost + rate * record.labour_hours


def _exposure(ground: Ground, place: Mapping[str, int]) -> NDArray[np.float64]:
    months = np.zeros(len(place))
    last = number_day(ground.as_of)
    for vehicle in ground.vehicles:
        since = ground.first_day or 0
        if vehicle.in_service_on is not None:
            since = max(since, number_day(vehicle.in_service_on))
        months[place[vehicle.depot]] += max(0, last - since + 1) / MONTH_DAYS
    return months


def _counts(ticket: Ticket, place: Mapping[str, int]) -> bool:
    """Tell whether a ticket may still lead to a repair that costs."""
    judged = ticket.detail is not None and ticket.probability_fault is not None
    return is_open(ticket) and ticket.status != "done" and judged and ticket.depot in place


def _open(ticket: Ticket, place: Mapping[str, int]) -> OpenTicket:
    shares = dict(ticket.detail.causes) if ticket.detail else {}
    whole = max(sum(shares.values()), 1.0)  # shares are kept rounded, and may then sum to a little over one
    return OpenTicket(
        depot=place[ticket.depot],
        month=0,
        probability=ticket.probability_fault or 0.0,
        causes=tuple(shares.get(code, 0.0) / whole for code in CAUSES),
    )


def months_ahead(as_of: date) -> list[date]:
    """Give the first days of the twelve months that are forecast: the first whole one comes first.

    Examples
    --------
    >>> [one.isoformat() for one in months_ahead(date(2031, 11, 5))[:3]]
    ['2031-12-01', '2032-01-01', '2032-02-01']
    """
    first = (as_of.replace(day=1) + timedelta(days=32)).replace(day=1)
    found = [first]
    while len(found) < MONTHS:
        found.append((found[-1] + timedelta(days=32)).replace(day=1))
    return found


def write_rows(budget: Budget, ground: Ground) -> list[Row]:
    """Write a budget as rows.

    Parameters
    ----------
    budget : Budget
        In minor units.
    ground : Ground
        What it stands on.

    Returns
    -------
    list of dict
        In the order of months, totals first, then depots and causes.
    """
    base: Row = {
        "as_of": ground.as_of,
        "currency": ground.costs.currency,
        "faults_known": budget.history,
        "draws": budget.draws,
        "seed": budget.seed,
        "cost_revision": ground.costs.revision if ground.own_costs else 0,
    }
    rows: list[Row] = []
    for place, month in enumerate(months_ahead(ground.as_of)):
        total = {
            "month": month,
            "depot": "",
            "cause": "",
            "visits": round(float(budget.visits[place].sum()), 4),
        }
        rows.append({**base, **total, **_money(budget.month, (place,))})
        for depot, name in enumerate(ground.depots):
            for cause, code in enumerate(CAUSES):
                where = (place, cause, depot)
                if not budget.cells.mean[where]:
                    continue
                cell = {
                    "month": month,
                    "depot": name,
                    "cause": code,
                    "visits": round(float(budget.visits[where]), 4),
                }
                rows.append({**base, **cell, **_money(budget.cells, where)})
    return rows


def _money(spread: Spread, where: Sequence[int]) -> Row:
    names = ("mean", "p10", "p50", "p90")
    return {name: int(getattr(spread, name)[tuple(where)]) / MINOR for name in names}
