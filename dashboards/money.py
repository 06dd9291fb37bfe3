"""Money: what open tickets put at risk, row by row, and what repairs have cost, planned against unplanned."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Annotated


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """The cost table behind the figures."""

    currency: Annotated[str, "ISO 4217 code."]
    price_date: Annotated[date, "Date of the oldest prices in it."]
    revision: Annotated[int, "Revision of the table; 0 while the fleet has loaded none."]
    source: Annotated[str, "Where the figures come from."]
    made_up: Annotated[int, "Causes that still have our starting figures, which are made up."]


@dataclass(frozen=True, slots=True, kw_only=True)
class RiskLine:
    """One open ticket's part of the cost at risk."""

    ticket: Annotated[str, "Number of the ticket."]
    vehicle: Annotated[str, "The fleet's own number."]
    depot: Annotated[str, "Its depot; may be empty."]
    problem: Annotated[str, "The problem in few plain words."]
    probability: Annotated[float, "That its fault leads to a complaint within the horizon."]
    planned: Annotated[Decimal, "Expected cost of a planned repair."]
    unplanned: Annotated[Decimal, "Expected cost after a complaint, the stop included."]
    at_risk: Annotated[Decimal, "Probability times the difference, to the cent."]


@dataclass(frozen=True, slots=True, kw_only=True)
class AtRisk:
    """The headline: what letting suspicions run to a complaint is expected to cost more."""

    mean: Annotated[Decimal, "Sum of the rows, to the cent."]
    low: Annotated[Decimal, "Lower end of its 80 % range."]
    high: Annotated[Decimal, "Upper end of its 80 % range."]
    horizon_days: Annotated[int, "Days looked ahead."]
    rows: Annotated[tuple[RiskLine, ...], "Tickets in the order of their rank; they add up to the sum."]


@dataclass(frozen=True, slots=True, kw_only=True)
class SpentCell:
    """What repairs of one kind have cost."""

    count: Annotated[int, "Repairs."]
    priced: Annotated[int, "Repairs whose cost is on record."]
    middle: Annotated[Decimal | None, "Median of those costs; None without one."]
    least: Annotated[Decimal | None, "Cheapest."]
    most: Annotated[Decimal | None, "Dearest."]
    per_distance: Annotated[Decimal | None, "Cost per 100,000 km; None where distance is not known."]
    per_hours: Annotated[Decimal | None, "Cost per 1,000 engine hours; None where hours are not known."]
    total: Annotated[Decimal, "What those with a cost on record cost together."]
    few: Annotated[bool, "Fewer than five: the median says little."]


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseLine:
    """One cause, or several with few repairs together."""

    causes: Annotated[tuple[str, ...], "Cause codes; more than one where pooled."]
    pooled: Annotated[bool, "Fewer than five repairs each, counted together."]
    planned: Annotated[SpentCell, "Repairs that no complaint came before."]
    unplanned: Annotated[SpentCell, "Repairs within 30 days after a complaint."]
    total: Annotated[Decimal, "What both have cost together."]


@dataclass(frozen=True, slots=True, kw_only=True)
class PeriodLine:
    """One period with what it cost and over how much use."""

    first: Annotated[date, "First day."]
    last: Annotated[date, "Last day."]
    repairs: Annotated[int, "Repairs."]
    total: Annotated[Decimal, "Their cost, as far as it is on record."]
    vehicle_days: Annotated[int, "Vehicle-days in service."]
    distance_km: Annotated[float | None, "Distance of all of them; None where nothing tells."]
    distance_covered: Annotated[float, "Share of vehicle-days between two odometer readings."]
    engine_hours: Annotated[float | None, "Engine hours, at least; None where nothing tells."]
    hours_covered: Annotated[float, "Share of vehicle-days of vehicles that report time since engine start."]
    per_distance: Annotated[Decimal | None, "Cost per 100,000 km; None where distance is not known."]


@dataclass(frozen=True, slots=True, kw_only=True)
class AvoidedLine:
    """Complaints avoided: an estimate."""

    value: Annotated[float, "The estimate; zero or negative where that is what it comes to."]
    low: Annotated[float, "Lower end of its 80 % range."]
    high: Annotated[float, "Upper end of its 80 % range."]
    expected: Annotated[float, "Complaints expected without the repairs."]
    came: Annotated[int, "Complaints of the same causes that came all the same."]
    tickets: Annotated[int, "Verified tickets with a fault found behind it."]


@dataclass(frozen=True, slots=True, kw_only=True)
class MoneyView:
    """For the analyst and the manager: cost at risk row by row, cost per cause, and complaints avoided."""

    prices: Annotated[Prices, "The cost table."]
    at_risk: Annotated[AtRisk | None, "Cost at risk; None until the fleet has loaded costs."]
    depot: Annotated[str, "Depot filtered by; empty for all."]
    depots: Annotated[tuple[str, ...], "Depots that can be chosen."]
    now: Annotated[PeriodLine | None, "The period; None before the first reading."]
    before: Annotated[PeriodLine | None, "As many days before it; None where nothing was read then."]
    causes: Annotated[tuple[CauseLine, ...], "Cost per cause in the period, the dearest first."]
    unpriced: Annotated[int, "Repairs in the period whose cost is not on record."]
    avoided: Annotated[AvoidedLine, "Complaints avoided in the period."]
    may_edit: Annotated[bool, "Whether the reader may change the cost table."]
