"""The track record: how tickets ended, what was missed, and whether stated probabilities came true."""

import math
from collections.abc import Iterable
from datetime import date, timedelta

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse

from dashboards.track import BinLine, ComebackLine, FalseRate, Portion, TaughtLine, TrackView, Warning
from models.beliefs import learn_beliefs
from models.statistics.calibration import Bin
from models.statistics.proportion import CauseShift
from service.tickets.achieved import (
    HORIZON_DAYS,
    Calibration,
    Comebacks,
    FalseTickets,
    Share,
    Warned,
    calibration,
    closings,
    comebacks,
    false_tickets,
    fault_found,
    missed,
    statement_of,
    warning_days,
)
from service.tickets.ticket import Ticket
from service.web.ground import MONTH_DAYS, Ground, gather, watched
from service.web.pages.frames import make_frame, show, today_of
from service.web.pages.money import complaints_of, fixed_of
from service.web.query import number_day
from service.web.readers import allow
from service.web.shell import shell_of

router = APIRouter(dependencies=[Depends(allow("read"))])


@router.get("/track-record")
def track_page(request: Request) -> HTMLResponse:
    """Show everybody how good tickets have been."""
    shell = shell_of(request)
    today = today_of(shell)
    with shell.store.begin(readonly=True) as work:
        newest = shell.memory.newest(work)
        ground = gather(work, today, None)
        tickets = ground.tickets if ground else work.tickets()
        stated = work.statements(timedelta(days=HORIZON_DAYS))
        taught = learn_beliefs(work.fleet_facts(as_of_day=number_day(today)), number_day(today))
    view = _view(ground, tickets, _calibrated(stated, today), taught, shell.settings.false_tickets)
    return show(view, make_frame(request, "Track record", newest=newest))


def _calibrated(stated: Iterable[tuple[Ticket, Ticket]], today: date) -> Calibration:
    found = [statement_of(first, later, number_day(today)) for first, later in stated]
    return calibration([one for one in found if one is not None])


def _view(
    ground: Ground | None,
    tickets: Iterable[Ticket],
    checked: Calibration,
    taught: Iterable[CauseShift],
    asked: float,
) -> TrackView:
    known = tuple(tickets)
    complaints = complaints_of(ground) if ground else ()
    ends = closings(known)
    kinds = {one.number: one.kind for one in ground.work} if ground else {}
    back = comebacks(known, kinds)
    months = _vehicle_months(ground)
    return TrackView(
        found=_portion(fault_found(known)),
        by_data=ends["by_data"],
        by_hand=ends["by_hand"],
        without_proof=ends["without_proof"],
        waiting=ends["waiting"],
        missed=_portion(missed(complaints, fixed_of(ground) if ground else (), known)),
        complaints=len(complaints),
        warning=_warning(warning_days(known)),
        back=_portion(
            Share(count=sum(one.share.count for one in back), of=sum(one.share.of for one in back))
        ),
        comebacks=tuple(_comeback(one) for one in back),
        false_rate=_rate(false_tickets(known, months), asked),
        bins=tuple(_bin(one) for one in checked.bins),
        brier=checked.brier,
        checked=checked.count,
        undecided=checked.undecided,
        taught=_taught(taught),
    )


def _vehicle_months(ground: Ground | None) -> float:
    if ground is None:
        return 0.0
    spans = (watched(one, ground) for one in ground.vehicles)
    return sum(until - since for since, until in spans) / MONTH_DAYS


def _portion(share: Share) -> Portion:
    low, high = share.interval
    return Portion(count=share.count, of=share.of, share=share.value, low=low, high=high, enough=share.enough)


def _warning(found: Warned) -> Warning:
    enough = found.count >= 10
    return Warning(middle=found.middle, low=found.low, high=found.high, count=found.count, enough=enough)


def _comeback(one: Comebacks) -> ComebackLine:
    return ComebackLine(cause=one.cause, kind=one.kind, portion=_portion(one.share))


def _rate(found: FalseTickets, asked: float) -> FalseRate:
    return FalseRate(
        count=found.count,
        vehicle_months=found.vehicle_months,
        rate=found.rate,
        low=found.low,
        high=found.high,
        asked=asked,
    )


def _bin(one: Bin) -> BinLine:
    return BinLine(
        low=one.low,
        high=one.high,
        stated=None if math.isnan(one.stated) else one.stated,
        portion=_portion(Share(count=one.happened, of=one.count)),
    )


def _taught(shifts: Iterable[CauseShift]) -> tuple[TaughtLine, ...]:
    """Give the causes that repairs named, most first; nothing where none has been named."""
    rows = [
        TaughtLine(cause=one.cause, found=int(one.found), before=one.before, after=one.after)
        for one in shifts
        if one.found
    ]
    return tuple(sorted(rows, key=lambda row: (-row.found, row.cause)))
