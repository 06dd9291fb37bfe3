"""The budget file: what the store knows of repairs, exposure and costs, put to the models."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import CAUSES
from models.money.budget import DRAWS, MINOR, Budget, OpenTicket, RepairHistory, Spread, forecast_budget
from models.money.recurrence import MeanCumulative, mean_cumulative
from service.store import Work
from service.tickets.costs import CostTable
from service.tickets.ticket import Ticket, is_open
from service.web.ground import (
    MONTH_DAYS,
    Ground,
    cause_of,
    gather,
    in_service,
    price_of,
    repairs_of,
    told_cost,
    usual_cost,
    watched,
)
from service.web.query import EPOCH, number_day

SEED: Final = 1
"""Seed of the simulation, the same always: the same store and date give the same bytes."""

MONTHS: Final = 12

Row = dict[str, Any]


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
    ground = gather(work, as_of, known_at)
    return [] if ground is None else write_rows(forecast(ground), ground)


def forecast(ground: Ground, *, months: int = MONTHS, draws: int = DRAWS) -> Budget:
    """Put the store's facts to the models.

    Parameters
    ----------
    ground : Ground
        With vehicles and readings.
    months : int
        How many months ahead.
    draws : int
        Simulated years.

    Returns
    -------
    Budget
        From the first whole month on. Every vehicle is taken to stay in service.
    """
    place = {depot: index for index, depot in enumerate(ground.depots)}
    count = np.zeros(len(place))
    for vehicle in in_service(ground):
        count[place[vehicle.depot]] += 1
    return forecast_budget(
        _history(ground, place),
        np.tile(count, (months, 1)),
        usual_costs(ground.costs),
        _open_tickets(ground, place, months),
        seed=SEED,
        draws=draws,
    )


def cumulative(ground: Ground, *, costs: bool) -> MeanCumulative:
    """Estimate how repairs add up per vehicle over the months it was watched.

    Parameters
    ----------
    ground : Ground
        With vehicles and readings.
    costs : bool
        Adds up costs; else counts repairs.

    Returns
    -------
    MeanCumulative
        Ages in months since the first reading, or since the vehicle came into service.
    """
    spans = {one.vehicle: watched(one, ground) for one in ground.vehicles}
    place = {name: number for number, name in enumerate(spans)}
    found = [one for one in repairs_of(ground) if spans[one.vehicle][0] <= one.day < spans[one.vehicle][1]]
    amounts = [price_of(one, ground.costs) if costs else 1.0 for one in found]
    return mean_cumulative(
        np.array([place[one.vehicle] for one in found], dtype=np.int64),
        np.array([(one.day - spans[one.vehicle][0]) / MONTH_DAYS for one in found], dtype=np.float64),
        np.array(amounts, dtype=np.float64),
        np.array([(until - since) / MONTH_DAYS for since, until in spans.values()], dtype=np.float64),
    )


def usual_costs(costs: CostTable) -> NDArray[np.float64]:
    """Give the usual cost of one repair of each cause: halfway between planned and unplanned.

    Which share of repairs will come as complaints is not known beforehand; the fleet's own past costs
    outweigh the table as they come in.
    """
    return np.array([usual_cost(costs, code) for code in CAUSES])


def _history(ground: Ground, place: Mapping[str, int]) -> RepairHistory:
    depot_of = {one.vehicle: one.depot for one in ground.vehicles}
    found = repairs_of(ground)
    told = [told_cost(one, ground.costs) for one in found]
    return RepairHistory(
        cause=np.array([CAUSES.index(cause_of(one)) for one in found], dtype=np.int64),
        depot=np.array([place[depot_of[one.vehicle]] for one in found], dtype=np.int64),
        cost=np.array([np.nan if cost is None else cost for cost in told], dtype=np.float64),
        vehicle_months=_exposure(ground, place),
        dispersion=cumulative(ground, costs=False).dispersion,
    )


def counted_tickets(ground: Ground) -> int:
    """Count the open tickets that a budget reckons with."""
    place = dict.fromkeys(ground.depots, 0)
    return sum(_counts(one, place) for one in ground.tickets)


def _exposure(ground: Ground, place: Mapping[str, int]) -> NDArray[np.float64]:
    months = np.zeros(len(place))
    for vehicle in ground.vehicles:
        since, until = watched(vehicle, ground)
        months[place[vehicle.depot]] += (until - since) / MONTH_DAYS
    return months


def _counts(ticket: Ticket, place: Mapping[str, int]) -> bool:
    """Tell whether a ticket may still lead to a repair that costs."""
    judged = ticket.detail is not None and ticket.probability_fault is not None
    return is_open(ticket) and ticket.status != "done" and judged and ticket.depot in place


def _open_tickets(ground: Ground, place: Mapping[str, int], months: int) -> tuple[OpenTicket, ...]:
    firsts = months_ahead(ground.as_of, months + 1)
    pace = repair_pace(ground)
    return tuple(_open(one, place, firsts, pace) for one in ground.tickets if _counts(one, place))


def repair_pace(ground: Ground) -> float:
    """Give the rate at which tickets are repaired once they stand [1 / month].

    Repairs over the months that tickets have stood open, held towards one a month by one ticket's worth.
    Tickets that ended otherwise, or still wait, count with their months: so does what is put off.
    """
    done, months = 1.0, 1.0
    for one in ground.tickets:
        end = one.done_at or one.closed_at
        until = number_day(ground.as_of) + 1 if end is None else number_day(end.date())
        months += max(0, until - number_day(one.raised_at.date())) / MONTH_DAYS
        done += one.done_at is not None
    return done / months


def _open(ticket: Ticket, place: Mapping[str, int], firsts: Sequence[date], pace: float) -> OpenTicket:
    shares = dict(ticket.detail.causes) if ticket.detail else {}
    whole = max(sum(shares.values()), 1.0)  # shares are kept rounded, and may then sum to a little over one
    return OpenTicket(
        depot=place[ticket.depot],
        months=month_shares(ticket, firsts, pace),
        probability=ticket.probability_fault or 0.0,
        causes=tuple(shares.get(code, 0.0) / whole for code in CAUSES),
    )


def month_shares(ticket: Ticket, firsts: Sequence[date], pace: float) -> tuple[float, ...]:
    """Share a ticket's repair out over the coming months.

    A booked visit lies in its month. Else the work is wanted by the limit date with its 80 % interval,
    straight between its points; without one when it is due, and at once where it is not. From then on it
    waits as repairs here have waited, at an even pace. What falls before the first month counts in it.

    Parameters
    ----------
    ticket : Ticket
        Open.
    firsts : sequence of date
        First days of the coming months, and of the one behind them.
    pace : float
        See `repair_pace` [1 / month].

    Returns
    -------
    tuple of float
        One share for each month but the last; the rest up to 1 falls later.
    """
    if ticket.booked_on is not None:
        return _until(np.array([float(ticket.booked_on < first) for first in firsts[1:]]))
    if ticket.reaches_limit_on is None:
        on = ticket.due_by or firsts[0]
        wanted = np.array([float(on < first) for first in firsts])
    else:
        wanted = np.interp([number_day(first) for first in firsts], *_limit_curve(ticket))
    waits = 1.0 - np.exp(-pace * np.arange(1, len(firsts)))
    begun = 1.0 - np.exp(-pace * (np.arange(1, len(firsts)) - 0.5))
    fresh = np.convolve(np.diff(wanted), begun)[: len(waits)]
    return _until(wanted[0] * waits + fresh)


def _until(chances: NDArray[np.float64]) -> tuple[float, ...]:
    """Turn chances to have happened by the end of each month into shares of the months."""
    return tuple(float(max(0.0, share)) for share in np.diff(np.concatenate([[0.0], chances])))


def _limit_curve(ticket: Ticket) -> tuple[list[float], list[float]]:
    """Give days and chances of having reached the limit by them: 10, 50 and 90 %, and straight lines."""
    middle = float(number_day(ticket.reaches_limit_on or EPOCH))
    low = middle if ticket.reaches_limit_low is None else float(number_day(ticket.reaches_limit_low))
    days, chances = [low - (middle - low) / 4 - 1.0, low, middle + 0.5], [0.0, 0.1, 0.5]
    if ticket.reaches_limit_high is not None:
        high = max(float(number_day(ticket.reaches_limit_high)), middle + 0.5) + 0.5
        days, chances = [*days, high, high + (high - middle) / 4 + 1.0], [*chances, 0.9, 1.0]
    return days, chances


def months_ahead(as_of: date, months: int = MONTHS) -> list[date]:
    """Give the first days of the months that are forecast: the first whole one comes first.

    Examples
    --------
    >>> [one.isoformat() for one in months_ahead(date(2031, 11, 5))[:3]]
    ['2031-12-01', '2032-01-01', '2032-02-01']
    """
    first = (as_of.replace(day=1) + timedelta(days=32)).replace(day=1)
    found = [first]
    while len(found) < months:
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
