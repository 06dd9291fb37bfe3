"""The track record: how tickets ended and what was missed, gathered once for the page and for the file."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from service.store import Work
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
from service.web.ground import MONTH_DAYS, Ground, watched
from service.web.query import number_day
from service.web.spending import Period, complaints_of, fixed_of

Row = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """What is known of how tickets ended.

    Parameters
    ----------
    found, missed, back : Share
        Inspections that found a fault; complaints of a fault without a ticket; repairs that came back.
    closings : mapping of str to int
        Repairs by how they were closed, as of `achieved.closings`.
    complaints : int
        On record.
    warning : Warned
        Days between ticket and complaint, or repair.
    comebacks : tuple of Comebacks
        By cause and kind of work.
    false_rate : FalseTickets
        Over the vehicle-months in service.
    checked : Calibration
        Stated probabilities beside what happened.
    """

    found: Share
    missed: Share
    back: Share
    closings: dict[str, int]
    complaints: int
    warning: Warned
    comebacks: tuple[Comebacks, ...]
    false_rate: FalseTickets
    checked: Calibration


def gather_record(
    ground: Ground | None,
    tickets: Sequence[Ticket],
    stated: Iterable[tuple[Ticket, Ticket]],
    today: date,
    period: Period | None = None,
) -> Record:
    """Gather the record as of a day.

    Parameters
    ----------
    ground : Ground or None
        Vehicles, work and days in service; None before the first reading.
    tickets : sequence of Ticket
        As they stood then.
    stated : iterable of (Ticket, Ticket)
        As of `Work.statements`.
    today : date
        The day.
    period : Period or None
        Only complaints and days in service within it count; None for all. Tickets are the caller's choice.
    """
    known = [one for one in (complaints_of(ground) if ground else ()) if not period or period.holds(one.day)]
    back = comebacks(tickets, {one.number: one.kind for one in ground.work} if ground else {})
    checked = [statement_of(first, later, number_day(today)) for first, later in stated]
    return Record(
        found=fault_found(tickets),
        missed=missed(known, fixed_of(ground) if ground else (), tickets),
        back=Share(count=sum(one.share.count for one in back), of=sum(one.share.of for one in back)),
        closings=dict(closings(tickets)),
        complaints=len(known),
        warning=warning_days(tickets),
        comebacks=back,
        false_rate=false_tickets(tickets, _vehicle_months(ground, period)),
        checked=calibration([one for one in checked if one is not None]),
    )


def stated_by(work: Work, as_of: datetime | None = None) -> tuple[tuple[Ticket, Ticket], ...]:
    """Give what tickets stated and what came of it, as it was known at a moment; None for now."""
    return work.statements(timedelta(days=HORIZON_DAYS), as_of=as_of)


def _vehicle_months(ground: Ground | None, period: Period | None) -> float:
    if ground is None:
        return 0.0
    spans = [watched(one, ground) for one in ground.vehicles]
    if period is not None:
        first, behind = number_day(period.first), number_day(period.last) + 1
        spans = [(max(since, first), min(until, behind)) for since, until in spans]
    return sum(max(0, until - since) for since, until in spans) / MONTH_DAYS


def record_rows(record: Record, today: date) -> list[Row]:
    """Write the record as rows, one for each figure, each with its number and 95 % interval."""
    rate, warning = record.false_rate, record.warning
    hundreds = "1 per 100 vehicle-months"
    rows = [
        _share("fault_found", record.found),
        _share("complaints_missed", record.missed),
        _row(
            "warning_days",
            n=warning.count,
            value=warning.middle,
            low=warning.low,
            high=warning.high,
            unit="d",
        ),
        _share("comebacks", record.back),
        *(_share("comebacks", one.share, cause=one.cause, work=one.kind) for one in record.comebacks),
        _row("false_tickets", n=rate.count, value=rate.rate, low=rate.low, high=rate.high, unit=hundreds),
        *(
            _share(
                "came_true",
                Share(count=one.happened, of=one.count),
                stated_low=one.low,
                stated_high=one.high,
                stated=one.stated if one.count else None,
            )
            for one in record.checked.bins
        ),
        _row("brier_score", n=record.checked.count, value=record.checked.brier, unit="1"),
        *(
            _row("brier_score", n=count, value=brier, unit="1", method=method)
            for method, count, brier in record.checked.by_method
        ),
    ]
    return [{"as_of": today, **row} for row in rows]


def _share(measure: str, share: Share, **more: Any) -> Row:
    low, high = share.interval if share.of else (None, None)
    return _row(
        measure, n=share.of, count=share.count, value=share.value, low=low, high=high, unit="1", **more
    )


def _row(measure: str, *, n: int, unit: str, **more: Any) -> Row:
    empty = ("cause", "work", "count", "value", "low", "high", "stated_low", "stated_high", "stated")
    texts = {"cause": "", "work": "", "method": ""}
    return {"measure": measure, **dict.fromkeys(empty), **texts, "n": n, "unit": unit, **more}
