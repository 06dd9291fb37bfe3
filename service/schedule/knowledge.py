"""What an evaluation knows beside findings: vehicles, costs, work done, and proofs of repairs."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import STATES
from models.findings import Assessment, SeriesReading
from models.panel import Daily, Fleet
from models.series import PLACE, SERIES
from service.store.values import Cost, KeptWork
from service.tickets.compose import VehicleFacts
from service.tickets.costs import CauseCost, CostTable
from service.tickets.matching import WorkDone
from service.tickets.proof import Proof, weigh
from service.tickets.rules import Rules
from service.tickets.ticket import Ticket, is_open

BEFORE_DAYS: Final = 28
BEFORE_READINGS: Final = 10
"""The newest ten daily values of the four weeks before a repair say where the series stood; chosen by us:
enough for a steady median, few enough for a drift."""

RESETS: Final = frozenset({"memory_cleared", "battery_replaced"})
"""Work and breaks after which the engine computer relearns."""


def vehicle_facts(fleet: Fleet, sheet_of: dict[str, str]) -> dict[str, VehicleFacts]:
    """Give what tickets say about each vehicle.

    Parameters
    ----------
    fleet : Fleet
        As of the evaluation day.
    sheet_of : dict of str to str
        Spec sheet that each vehicle names, known or not.
    """
    return {
        vehicle: VehicleFacts(
            depot=fleet.depots[depot] if depot >= 0 else "",
            spec_sheet=sheet_of.get(vehicle, ""),
            sheet=fleet.sheets[sheet] if sheet >= 0 else None,
        )
        for vehicle, depot, sheet in zip(
            fleet.vehicles, fleet.depot.tolist(), fleet.sheet.tolist(), strict=True
        )
    }


def work_done(records: Iterable[KeptWork]) -> tuple[WorkDone, ...]:
    """Turn kept work records into what tickets need."""
    return tuple(
        WorkDone(
            number=record.number,
            vehicle=record.vehicle,
            done_at=record.done_at,
            day=record.day,
            kind=record.kind,
            cause=record.cause,
            ticket=record.ticket,
        )
        for record in records
    )


def fleet_costs(rows: Sequence[Cost], prices: CostTable) -> CostTable | None:
    """Give the fleet's cost table; None where the fleet has given no costs.

    Causes that the fleet has no figures for keep those of `prices`.
    """
    if not rows:
        return None
    own = {
        row.cause: CauseCost(
            planned_hours=row.planned_hours,
            unplanned_hours=row.unplanned_hours,
            planned_parts=row.planned_parts,
            unplanned_parts=row.unplanned_parts,
            downtime=row.downtime,
            labour_rate=row.labour_rate,
            look_cost=row.look_cost,
        )
        for row in rows
    }
    return replace(
        prices,
        causes={**prices.causes, **own},
        currency=rows[0].currency,
        price_date=min(row.price_date for row in rows),
        revision=max(row.revision for row in rows),
        source=rows[0].source,
        own=frozenset(own),
    )


def to_prove(ticket: Ticket) -> tuple[SeriesReading, int] | None:
    """Give the followed series that readings after a repair must prove, and the repair's day; or None."""
    if not is_open(ticket) or not ticket.detail or ticket.done_day is None:
        return None
    lead = ticket.detail.readings[0]
    return (lead, ticket.done_day) if lead.series in PLACE else None


def weigh_repairs(
    tickets: Iterable[Ticket],
    repaired: tuple[Sequence[str], Daily],
    assessment: Assessment,
    work: Sequence[WorkDone],
    rules: Rules,
) -> tuple[Proof, ...]:
    """Weigh the readings after each repair that awaits proof, or that did not cure.

    A reset after the repair starts the relearn days anew: a trim near zero straight after it proves
    nothing. Series that the engine computer does not learn count from the day after the repair.
    """
    vehicles, daily = repaired
    place_of = {vehicle: place for place, vehicle in enumerate(vehicles)}
    found = []
    for ticket in tickets:
        place, waiting = place_of.get(ticket.vehicle), to_prove(ticket)
        if place is None or waiting is None:
            continue
        lead, done_day = waiting
        name = lead.series
        days, values, readings = series_values(daily, place, name)
        learned = SERIES[PLACE[name]].learned
        start = _last_reset(ticket, assessment, work) if learned else done_day
        normal = values[(days >= lead.baseline_from) & (days <= lead.baseline_to)]
        before = values[(days >= done_day - BEFORE_DAYS) & (days < done_day)]
        found.append(
            weigh(
                ticket,
                days=days,
                values=values,
                readings=readings,
                relearned_from=start + (rules.relearn_days if learned else 1),
                as_of_day=assessment.day,
                normal=float(np.median(normal)) if len(normal) else None,
                before=float(np.median(before[-BEFORE_READINGS:])) if len(before) else None,
            )
        )
    return tuple(found)


def series_values(
    daily: Daily, place: int, name: str
) -> tuple[NDArray[np.int32], NDArray[np.float64], NDArray[np.int32]]:
    """Give one series of one vehicle as plain daily values, with the readings behind each.

    Parameters
    ----------
    daily : Daily
        Sorted by vehicle.
    place : int
        Place of the vehicle.
    name : str
        Name of the series, one of `models.series.NAMES`.

    Returns
    -------
    days : int32 array of shape (k,)
    values : float64 array of shape (k,)
        Never NaN.
    readings : int32 array of shape (k,)
    """
    first, last = np.searchsorted(daily.vehicle, [place, place + 1])
    own = daily.rows(slice(int(first), int(last)))
    series = SERIES[PLACE[name]]
    with np.errstate(invalid="ignore", divide="ignore"):
        values = series.formula(own)
    wanted = [STATES.index(state) for state in series.states]
    keep = np.isin(own.state, wanted) & np.isfinite(values)
    return own.day[keep], values[keep], own.readings[keep]


def _last_reset(ticket: Ticket, assessment: Assessment, work: Sequence[WorkDone]) -> int:
    done_day = ticket.done_day if ticket.done_day is not None else 0
    later = [
        record.day
        for record in work
        if record.vehicle == ticket.vehicle and record.kind in RESETS and record.day > done_day
    ]
    later += [
        found.day
        for found in assessment.breaks
        if found.vehicle == ticket.vehicle and found.reason in RESETS and found.day > done_day
    ]
    return max([done_day, *(day for day in later if day <= assessment.day)])
