"""The track record: how tickets ended, what was missed, and whether stated probabilities came true."""

from collections.abc import Iterable

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse

from dashboards.track import (
    BinLine,
    ComebackLine,
    FalseRate,
    Portion,
    TaughtLine,
    TrackView,
    VersionLine,
    Warning,
)
from models.causes.beliefs import learn_beliefs
from models.statistics.calibration import Bin
from models.statistics.proportion import CauseShift
from service.auth.rights import may
from service.tickets.achieved import Comebacks, FalseTickets, Share, Warned
from service.web.ground import gather
from service.web.pages.frames import make_frame, show, today_of
from service.web.query import number_day
from service.web.readers import allow, reader_of
from service.web.record import Record, gather_record, stated_by
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
        record = gather_record(ground, tickets, stated_by(work), today)
        taught = learn_beliefs(work.fleet_facts(as_of_day=number_day(today)), number_day(today))
    view = _view(
        record,
        taught,
        shell.settings.false_tickets,
        may_export=may(reader_of(request).role, "export"),
    )
    return show(view, make_frame(request, "Track record", newest=newest))


def _view(record: Record, taught: Iterable[CauseShift], asked: float, *, may_export: bool) -> TrackView:
    return TrackView(
        found=_portion(record.found),
        by_data=record.closings["by_data"],
        by_hand=record.closings["by_hand"],
        without_proof=record.closings["without_proof"],
        waiting=record.closings["waiting"],
        missed=_portion(record.missed),
        complaints=record.complaints,
        warning=_warning(record.warning),
        back=_portion(record.back),
        comebacks=tuple(_comeback(one) for one in record.comebacks),
        false_rate=_rate(record.false_rate, asked),
        bins=tuple(_bin(one) for one in record.checked.bins),
        brier=record.checked.brier,
        checked=record.checked.count,
        undecided=record.checked.undecided,
        versions=tuple(
            VersionLine(method=method, checked=count, brier=brier)
            for method, count, brier in record.checked.by_method
        ),
        taught=_taught(taught),
        may_export=may_export,
    )


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
    portion = _portion(Share(count=one.happened, of=one.count))
    return BinLine(
        low=one.low,
        high=one.high,
        stated=one.stated if one.count else None,
        portion=portion,
        agrees=portion.low <= one.stated <= portion.high if one.count else None,
    )


def _taught(shifts: Iterable[CauseShift]) -> tuple[TaughtLine, ...]:
    """Give the causes that repairs named, most first; nothing where none has been named."""
    rows = [
        TaughtLine(cause=one.cause, found=int(one.found), before=one.before, after=one.after)
        for one in shifts
        if one.found
    ]
    return tuple(sorted(rows, key=lambda row: (-row.found, row.cause)))
