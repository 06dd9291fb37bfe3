"""What a budget stands on: vehicles, repairs with their prices, tickets and costs, as they were known."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Final

from ingest.records import Vehicle
from service.schedule.knowledge import fleet_costs
from service.store import KeptWork, Work
from service.tickets.costs import CostTable, starting_costs
from service.tickets.ticket import Ticket
from service.web.query import number_day

MONTH_DAYS: Final = 365.25 / 12
"""Days in a month on average [d]."""

REPAIRS: Final = {"repair": "unknown", "battery_replaced": "battery_ageing"}
"""Kinds of work that cost as repairs do, and the cause counted where the record names none."""


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
    first_day : int
        First day with readings [days since 1970-01-01].
    gone : mapping of str to date
        Vehicles out of service for good, with the day since which.
    """

    as_of: date
    vehicles: tuple[Vehicle, ...]
    work: tuple[KeptWork, ...]
    tickets: tuple[Ticket, ...]
    costs: CostTable
    own_costs: bool
    first_day: int
    gone: Mapping[str, date] = field(default_factory=dict)

    @property
    def depots(self) -> tuple[str, ...]:
        """Names of the depots, sorted; vehicles without one stand under empty text."""
        return tuple(sorted({one.depot for one in self.vehicles}))


def gather(work: Work, as_of: date, known_at: datetime | None) -> Ground | None:
    """Gather what a budget stands on; None before the first reading, or without vehicles.

    Parameters
    ----------
    work : Work
        A read-only unit of work.
    as_of : date
        Day of the forecast, in the fleet's zone.
    known_at : datetime or None
        Leaves out what was recorded later, aware; None for everything known now.
    """
    days = work.day_range()
    rows = work.costs(as_of=known_at)
    records = work.work_records(up_to_day=number_day(as_of))
    vehicles = work.vehicles()
    if days is None or days[0] > number_day(as_of) or not vehicles:
        return None
    return Ground(
        as_of=as_of,
        vehicles=vehicles,
        work=tuple(one for one in records if known_at is None or one.recorded_at <= known_at),
        tickets=work.tickets(as_of=known_at),
        costs=fleet_costs(rows, starting_costs()) or starting_costs(),
        own_costs=bool(rows),
        first_day=days[0],
        gone=work.gone(),
    )


def watched(vehicle: Vehicle, ground: Ground) -> tuple[int, int]:
    """Give the days on which a vehicle was watched, first one and the one behind the last [days since 1970].

    From the first reading of the fleet, or its coming into service, up to the as-of date, or its leaving.
    """
    since, until = ground.first_day, number_day(ground.as_of) + 1
    if vehicle.in_service_on is not None:
        since = max(since, number_day(vehicle.in_service_on))
    if vehicle.vehicle in ground.gone:
        until = min(until, number_day(ground.gone[vehicle.vehicle]))
    return since, max(since, until)


def in_service(ground: Ground) -> tuple[Vehicle, ...]:
    """Give the vehicles that have not left for good by the as-of date."""
    return tuple(one for one in ground.vehicles if ground.gone.get(one.vehicle, date.max) > ground.as_of)


def repairs_of(ground: Ground) -> list[KeptWork]:
    """Give the records that cost as repairs do, of vehicles that are registered."""
    known = {one.vehicle for one in ground.vehicles}
    return [one for one in ground.work if one.kind in REPAIRS and one.vehicle in known]


def cause_of(record: KeptWork) -> str:
    """Give the cause that a repair counts under; `unknown` where it names none."""
    return record.cause or REPAIRS[record.kind]


def price_of(record: KeptWork, costs: CostTable) -> float:
    """Give what a repair cost [currency]; one that does not say it is taken at the table's usual cost."""
    told = told_cost(record, costs)
    return usual_cost(costs, cause_of(record)) if told is None else told


def told_cost(record: KeptWork, costs: CostTable) -> float | None:
    """Give parts and labour of a repair [currency]; None where either is not on record.

    Half a record would make a repair cheaper than it was.
    """
    if record.parts_cost is None or record.labour_hours is None:
        return None
    return record.parts_cost + costs.hour(cause_of(record)) * record.labour_hours


def usual_cost(costs: CostTable, cause: str) -> float:
    """Give the cost halfway between planned and unplanned [currency], the stop left out: no record has it."""
    stop = costs.causes[cause].downtime
    return (costs.planned_cost(cause) + costs.unplanned_cost(cause) - stop) / 2
