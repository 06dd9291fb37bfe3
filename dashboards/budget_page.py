"""The budget: the coming twelve months' cost, and how past months' budgets compared with what was spent."""

from dataclasses import dataclass
from datetime import date
from typing import Annotated

from dashboards.money import Prices


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """An expected cost with its 80 % range, in whole cents of the currency."""

    label: Annotated[str, "Cause code, depot, or empty for a total."]
    month: Annotated[date | None, "First day of the month; None over all months."]
    mean: Annotated[float, "Expected cost."]
    low: Annotated[float, "10 % point."]
    middle: Annotated[float, "Median."]
    high: Annotated[float, "90 % point."]
    visits: Annotated[float, "Expected repairs."]


@dataclass(frozen=True, slots=True, kw_only=True)
class TestedLine:
    """One past month: what was budgeted before it, and what it cost."""

    month: Annotated[date, "Its first day."]
    mean: Annotated[float, "Budgeted before it."]
    low: Annotated[float, "10 % point."]
    middle: Annotated[float, "Median."]
    high: Annotated[float, "90 % point."]
    spent: Annotated[float, "What its repairs cost."]
    repairs: Annotated[int, "How many there were."]
    inside: Annotated[bool, "Whether it lies in the 80 % range."]


@dataclass(frozen=True, slots=True, kw_only=True)
class CumulativeStep:
    """Mean cumulative cost per vehicle after some months of watching."""

    months: Annotated[float, "Months watched."]
    vehicles: Annotated[int, "Vehicles watched for so long."]
    mean: Annotated[float, "Spent per vehicle so far."]
    low: Annotated[float, "Lower end of its 95 % interval."]
    high: Annotated[float, "Upper end of its 95 % interval."]


@dataclass(frozen=True, slots=True, kw_only=True)
class BudgetView:
    """For manager and analyst in budget season: what the coming year will cost, and how sure that is."""

    prices: Annotated[Prices, "The cost table."]
    as_of: Annotated[date | None, "Day of the forecast; None before the first reading."]
    depot: Annotated[str, "Depot filtered by; empty for all."]
    depots: Annotated[tuple[str, ...], "Depots that can be chosen."]
    total: Annotated[Expected | None, "The twelve months together; None before the first reading."]
    by_month: Annotated[tuple[Expected, ...], "Each month; means add up to the total."]
    by_cause: Annotated[tuple[Expected, ...], "Each cause, the dearest first; means add up to the total."]
    by_depot: Annotated[tuple[Expected, ...], "Each depot; means add up to the total."]
    seed: Annotated[int, "Seed of the simulation."]
    draws: Annotated[int, "Simulated years."]
    repairs_known: Annotated[int, "Repairs on record behind it."]
    tickets: Annotated[int, "Open tickets in it."]
    dispersion: Annotated[float, "How much more repairs clump than chance; 1 where they do not."]
    tested: Annotated[tuple[TestedLine, ...], "Past months, oldest first; empty while the history is short."]
    tested_inside: Annotated[int, "Past months inside their 80 % range."]
    cumulative: Annotated[
        tuple[CumulativeStep, ...], "Mean cumulative cost per vehicle; thinned for a table."
    ]
