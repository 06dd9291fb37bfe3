"""What a cause costs, planned and unplanned: the table that comes with the service, to be replaced."""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from importlib.resources import files
from typing import Final

from ingest.parameters import CAUSES
from service.tickets.errors import UnreadableTable

TABLE_NAME: Final = "costs.toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class CauseCost:
    """What one cause costs.

    Parameters
    ----------
    planned_hours, unplanned_hours : float
        Workshop time [h].
    planned_parts, unplanned_parts, downtime : float
        Fleet currency; `downtime` comes on top of an unplanned stop.
    labour_rate, look_cost : float or None
        Price of an hour [currency / h] and of a look that finds nothing [currency]; None: the table's.
    """

    planned_hours: float
    unplanned_hours: float
    planned_parts: float
    unplanned_parts: float
    downtime: float
    labour_rate: float | None = None
    look_cost: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CostTable:
    """Costs by cause.

    Parameters
    ----------
    causes : mapping of str to CauseCost
        Every cause code.
    rate : float
        Price of a workshop hour [currency / h].
    look_hours : float
        Workshop time of a visit that finds nothing [h].
    currency : str
        ISO 4217 code.
    price_date : date
        Date of the prices.
    revision : int
        Counts changes from 1.
    source : str
        Where the figures come from.
    own : frozenset of str
        Causes whose figures are the fleet's; those of the others are our starting figures, made up.
    """

    causes: Mapping[str, CauseCost]
    rate: float
    look_hours: float
    currency: str
    price_date: date
    revision: int
    source: str
    own: frozenset[str] = frozenset()

    @property
    def made_up(self) -> tuple[str, ...]:
        """Causes that still have our starting figures."""
        return tuple(cause for cause in self.causes if cause not in self.own)

    def planned_cost(self, cause: str) -> float:
        """Give what one planned repair of a cause costs [currency]."""
        line = self.causes[cause]
        return self.hour(cause) * line.planned_hours + line.planned_parts

    def unplanned_cost(self, cause: str) -> float:
        """Give what one repair of a cause costs after a complaint, the stop included [currency]."""
        line = self.causes[cause]
        return self.hour(cause) * line.unplanned_hours + line.unplanned_parts + line.downtime

    def hour(self, cause: str) -> float:
        """Give the price of a workshop hour at work on a cause [currency / h]."""
        own = self.causes[cause].labour_rate if cause in self.causes else None
        return self.rate if own is None else own

    def planned(self, causes: Sequence[tuple[str, float]]) -> float:
        """Give the expected cost of a planned repair [currency]."""
        return sum(p * self.planned_cost(cause) for cause, p in causes)

    def unplanned(self, causes: Sequence[tuple[str, float]]) -> float:
        """Give the expected cost of running to the complaint [currency]."""
        return sum(p * self.unplanned_cost(cause) for cause, p in causes)

    def look(self, causes: Sequence[tuple[str, float]] = ()) -> float:
        """Give the expected cost of a visit that finds nothing, looking for these causes [currency]."""
        plain = self.rate * self.look_hours
        dear = [(self.causes[cause].look_cost, p) for cause, p in causes]
        return plain + sum(p * (cost - plain) for cost, p in dear if cost is not None)


def extra_cost(causes: Sequence[tuple[str, float]], costs: CostTable) -> float:
    """Give what an unplanned repair costs more than a planned one, over the likely causes [currency].

    Labour counts at the table's price of a workshop hour.
    """
    return costs.unplanned(causes) - costs.planned(causes)


def cost_at_risk(probability: float, causes: Sequence[tuple[str, float]], costs: CostTable) -> float:
    """Give what letting a suspicion run to a complaint is expected to cost more than acting now [currency].

    Parameters
    ----------
    probability : float
        P, that the fault is there and leads to a complaint within the horizon: P_fault times P_complaint
        given a fault. Until enough complaints are on record, leaving the limits or growing to what drivers
        complain of stands in for the latter; the product is what findings and tickets carry as
        `probability_30d`. An unconditional complaint rate would count the fault twice.
    causes : sequence of (code, probability)
        Ranked causes.
    costs : CostTable
        The fleet's.

    Returns
    -------
    float
        P (C_unplanned - C_planned).

    Examples
    --------
    >>> round(cost_at_risk(0.5, [("unmetered_air", 1.0)], starting_costs()), 2)
    152.0
    """
    return probability * extra_cost(causes, costs)


@cache
def starting_costs() -> CostTable:
    """Give our starting figures; they have no source and wait to be replaced."""
    return read_costs(files("service.tickets").joinpath(TABLE_NAME).read_text(encoding="utf-8"))


def read_costs(text: str) -> CostTable:
    """Read a cost table.

    Raises
    ------
    UnreadableTable
        A cause is missing or unknown, a figure is missing or negative.
    """
    try:
        raw = tomllib.loads(text)
        causes = {
            str(code): CauseCost(**{str(name): float(value) for name, value in row.items()})
            for code, row in raw["cause"].items()
        }
        table = CostTable(
            causes=causes,
            rate=float(raw["rate"]),
            look_hours=float(raw["look"]),
            currency=str(raw["currency"]),
            price_date=raw["price_date"],
            revision=int(raw["revision"]),
            source=str(raw["source"]),
        )
    except (tomllib.TOMLDecodeError, KeyError, TypeError, ValueError) as err:
        raise UnreadableTable(table=TABLE_NAME, place="the file", detail=f"cannot be read: {err}") from err
    if set(causes) != set(CAUSES):
        wrong = sorted(set(causes) ^ set(CAUSES))
        raise UnreadableTable(
            table=TABLE_NAME, place=", ".join(wrong), detail="every cause code must be there, and no other."
        )
    for code, cost in causes.items():
        figures = (cost.planned_hours, cost.unplanned_hours, cost.planned_parts, cost.unplanned_parts)
        if min(*figures, cost.downtime, cost.labour_rate or 0.0, cost.look_cost or 0.0) < 0:
            raise UnreadableTable(table=TABLE_NAME, place=code, detail="no figure may be negative.")
    return table
