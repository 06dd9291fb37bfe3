"""What open tickets are expected to take and to cost: one definition for pages, reports and files."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from service.tickets.costs import CostTable, cost_at_risk
from service.tickets.priority import ranked
from service.tickets.ticket import Ticket, is_open

Z80: Final = 1.2815515655446004
"""90 % point of the normal distribution: half width of an 80 % range in standard deviations."""

NO_RECORDS: Final[Mapping[str, float]] = MappingProxyType({})
"""Usual hours where no repairs are on record."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TicketRisk:
    """One row of the cost at risk.

    Parameters
    ----------
    ticket : str
        Number of the ticket.
    probability : float
        That its fault leads to a complaint within the horizon.
    sum : float
        Expected extra cost of waiting [currency], rounded to the cent.
    """

    ticket: str
    probability: float
    sum: float


@dataclass(frozen=True, slots=True, kw_only=True)
class CostsAtRisk:
    """What open tickets are expected to cost more if they run to a complaint [currency].

    Parameters
    ----------
    rows : tuple of TicketRisk
        In the order of the tickets' rank.
    mean : float
        Sum of the rows, to the cent.
    low, high : float
        80 % range.
    """

    rows: tuple[TicketRisk, ...]
    mean: float
    low: float
    high: float


def sum_at_risk(tickets: Iterable[Ticket], costs: CostTable) -> CostsAtRisk:
    """Add up the cost at risk of open tickets.

    A ticket whose repair awaits proof is left out: what it says of the readings is of before the repair. One
    raised by hand has no probability and is left out too. The range is that of `add_up`.

    Parameters
    ----------
    tickets : iterable of Ticket
        Closed ones are passed over.
    costs : CostTable
        The fleet's.

    Returns
    -------
    CostsAtRisk
        All zero without tickets.
    """
    rows = []
    for one in ranked(tickets):
        p = one.probability_30d
        if not is_open(one) or one.status == "done" or one.detail is None or p is None:
            continue
        rows.append(
            TicketRisk(
                ticket=one.ticket, probability=p, sum=round(cost_at_risk(p, one.detail.causes, costs), 2)
            )
        )
    return add_up(rows)


def add_up(rows: Sequence[TicketRisk]) -> CostsAtRisk:
    """Add up rows of the cost at risk.

    The range treats tickets as independent, each comes or does not: a normal with the sum's mean and
    variance, not below zero. What a ticket costs more if it comes is its row divided by its probability.
    """
    variance = sum((1 - row.probability) / row.probability * row.sum**2 for row in rows if row.sum)
    mean = round(sum(row.sum for row in rows), 2)
    half = Z80 * variance**0.5
    return CostsAtRisk(
        rows=tuple(rows), mean=mean, low=round(max(0.0, mean - half), 2), high=round(mean + half, 2)
    )


def expected_hours(ticket: Ticket, costs: CostTable, usual: Mapping[str, float] = NO_RECORDS) -> float:
    """Give the workshop hours that a visit is expected to take [h].

    Parameters
    ----------
    ticket : Ticket
        Hours that were booked for it count before any estimate.
    costs : CostTable
        Usual hours by cause: the fleet's, else our starting figures.
    usual : mapping of str to float, optional
        Hours by cause from recorded repairs [h]; they count before the table's.

    Returns
    -------
    float
        Booked hours, else the first check plus the usual planned repair if there is a fault; a look where
        nothing is known of causes.
    """
    if ticket.booked_hours is not None:
        return ticket.booked_hours
    if ticket.detail is None or not ticket.detail.checks:
        return costs.look_hours
    repair = sum(
        share * usual.get(cause, costs.causes[cause].planned_hours) for cause, share in ticket.detail.causes
    )
    look = ticket.detail.checks[0].minutes / 60
    return round(look + (ticket.probability_fault or 0.0) * repair, 2)
