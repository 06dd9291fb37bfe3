"""What repairs have cost over a period and how much use, and what was complained of: for page and file."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any, Final

from ingest.parameters import CAUSES
from service.store import Work
from service.tickets.achieved import Complaint, Fixed
from service.tickets.spending import (
    HOURS,
    KM,
    Exposure,
    Repair,
    Watched,
    exposure_of,
    money,
    rate,
    spent_by_cause,
)
from service.web.ground import Ground, cause_of, repairs_of, told_cost, watched
from service.web.query import EPOCH, number_day

PERIOD_DAYS: Final = 365
"""Days back that are counted where nobody says otherwise [d]."""

Row = dict[str, Any]


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


def usual_period(ground: Ground, first: date | None, last: date | None) -> Period:
    """Give the period asked for; what is left open becomes the last year with readings.

    It may end before it begins: who asks must say so.
    """
    ends = last or ground.as_of
    begins = first or max(
        ends - timedelta(days=PERIOD_DAYS - 1),
        EPOCH + timedelta(days=min(ground.first_day, number_day(ends))),
    )
    return Period(first=begins, last=ends)


def narrowed(ground: Ground, *, vehicle: str = "", depot: str = "") -> Ground:
    """Leave only a vehicle, or a depot's vehicles, with what was done to them; empty for all."""
    if not vehicle and not depot:
        return ground
    kept = [one for one in ground.vehicles if vehicle in ("", one.vehicle) and depot in ("", one.depot)]
    names = {one.vehicle for one in kept}
    return replace(
        ground,
        vehicles=tuple(kept),
        work=tuple(one for one in ground.work if one.vehicle in names),
        tickets=tuple(one for one in ground.tickets if one.vehicle in names),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A period's repairs, what those with a cost on record cost together, use, and days of complaints."""

    period: Period
    repairs: tuple[Repair, ...]
    total: Decimal
    use: Exposure
    complaints: dict[str, list[int]]


def measure(work: Work, ground: Ground, period: Period, known_at: datetime | None = None) -> Measured:
    """Measure what a period cost and over how much use.

    Parameters
    ----------
    work : Work
        A read-only unit of work.
    ground : Ground
        Only its vehicles count.
    period : Period
        Days of repairs and of use.
    known_at : datetime or None
        Leaves out readings received later, aware; None for all.
    """
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
        if period.holds(one.day)
    )
    complaints: dict[str, list[int]] = defaultdict(list)
    for record in ground.work:
        if record.kind == "complaint":
            complaints[record.vehicle].append(record.day)
    return Measured(
        period=period,
        repairs=repairs,
        total=sum((money(one.cost) for one in repairs if one.cost is not None), Decimal("0.00")),
        use=exposure_of(_watched(work, ground, period, known_at)),
        complaints=complaints,
    )


def _watched(work: Work, ground: Ground, period: Period, known_at: datetime | None) -> Iterable[Watched]:
    first, last = number_day(period.first), number_day(period.last)
    driven = {one.vehicle: one for one in work.exposures(first, last, known_at=known_at)}
    running = {one.vehicle: one for one in work.engine_use(first, last, known_at=known_at)}
    for vehicle in ground.vehicles:
        since, until = watched(vehicle, ground)
        days = max(0, min(until, last + 1) - max(since, first))
        if not days:
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


def spending_rows(measured: Measured, ground: Ground) -> list[Row]:
    """Write the cost of each cause, two rows each, planned first; their totals add up to the period's."""
    use = measured.use
    return [
        {
            "as_of": ground.as_of,
            "first_day": measured.period.first,
            "last_day": measured.period.last,
            "causes": ", ".join(line.causes),
            "pooled": line.pooled,
            "visit": visit,
            "repairs": spent.count,
            "repairs_priced": spent.priced,
            "cost": spent.total,
            "median": spent.middle,
            "least": spent.least,
            "most": spent.most,
            "cost_100000_km": rate(spent.total, use.km, KM),
            "cost_1000_h": rate(spent.total, use.hours, HOURS),
            "currency": ground.costs.currency,
            "distance_km": use.km,
            "distance_known": use.km_covered,
            "engine_hours": use.hours,
            "engine_hours_known": use.hours_covered,
            "vehicle_days": use.vehicle_days,
        }
        for line in spent_by_cause(measured.repairs, measured.complaints)
        for visit, spent in (("planned", line.planned), ("unplanned", line.unplanned))
    ]


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
