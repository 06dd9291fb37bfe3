"""The ticket page, and the job sheet made of the same facts."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse

from dashboards.frame import Frame, Units
from dashboards.ticket import (
    Cause,
    Check,
    HistoryLine,
    JobSheetView,
    Proof,
    RankPart,
    TicketView,
    TrackRecord,
    Undo,
    Versions,
)
from dashboards.words import EVENTS, say
from ingest.parameters import STATES
from models.panel import SheetFacts
from service.schedule.knowledge import fleet_costs
from service.store import KeptWork, Work
from service.tickets.costs import starting_costs
from service.tickets.expected import expected_hours
from service.tickets.finding import FINDERS, offered_causes
from service.tickets.proof import first_progress
from service.tickets.rules import Rules
from service.tickets.sentence import describe
from service.tickets.spending import money
from service.tickets.ticket import Detail, Ticket, TicketEvent, is_open
from service.web.moving import Mover, allowed_events
from service.web.pages.acting import mover_of
from service.web.pages.charts import Background, draw_chart, load_background
from service.web.pages.comebacks import links_of
from service.web.pages.findings import other_causes, undoable
from service.web.pages.frames import make_frame, show, units_of
from service.web.pages.lines import days_late, problem_of, urgency_of
from service.web.pages.offers import Moment, offers_of
from service.web.pages.once import new_key
from service.web.query import number_day
from service.web.readers import allow, reader_of
from service.web.shell import shell_of

router = APIRouter(dependencies=[Depends(allow("read"))])

CHARTS: Final = 4
"""Most charts of a ticket, the loudest series first; chosen by us: a phone loads them in one breath."""

LATE_SHOWN: Final = 6
"""Most late readings from before a repair that a ticket lists; chosen by us."""

_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)


# Ticket numbers begin with the fleet's own, which may hold slashes: the longer address comes first.
@router.get("/work/{ticket:path}/sheet")
def job_sheet(request: Request, ticket: str) -> HTMLResponse:
    """Show one ticket as a page to print, for the mechanic without a screen."""
    view, frame = _load(request, ticket)
    return show(JobSheetView(ticket=view), frame)


@router.get("/work/{ticket:path}")
def ticket_page(request: Request, ticket: str) -> HTMLResponse:
    """Show one ticket to the mechanic: what moved, where to look first, how to stay safe, what was done."""
    view, frame = _load(request, ticket)
    return show(view, frame)


@dataclass(frozen=True, slots=True, kw_only=True)
class Around:
    """What stands around a ticket on its page.

    Parameters
    ----------
    mover : Mover
        The reader.
    at : datetime
        Now, aware.
    others : tuple of Ticket
        Every ticket of the vehicle, this one included.
    records : tuple of KeptWork
        Work done on the vehicle.
    hours : float
        Hours that the visit is expected to take [h].
    """

    mover: Mover
    at: datetime
    others: tuple[Ticket, ...]
    records: tuple[KeptWork, ...]
    hours: float


def _load(request: Request, number: str) -> tuple[TicketView, Frame]:
    shell = shell_of(request)
    with shell.store.begin(readonly=True) as work:
        ticket = work.ticket(number)
        events = work.ticket_events(number)
        zone = ZoneInfo(work.vehicle_zone(ticket.vehicle))
        newest = shell.memory.newest(work)
        records = work.work_records(vehicle=ticket.vehicle)
        background = load_background(
            shell, work, ticket.vehicle, zone, newest.assessment, records, ticket.detail
        )
        around = Around(
            mover=mover_of(reader_of(request)),
            at=shell.clock.now(),
            others=work.tickets(vehicle=ticket.vehicle),
            records=records,
            hours=_hours(work, ticket),
        )
    view = make_view(ticket, events, background, around, units=units_of(request))
    title = f"{ticket.vehicle}: {problem_of(ticket)}"
    return view, make_frame(request, title, newest=newest, zone=str(zone))


def _hours(work: Work, ticket: Ticket) -> float:
    starting = starting_costs()
    return expected_hours(ticket, fleet_costs(work.costs(), starting) or starting)


def make_view(
    ticket: Ticket,
    events: Iterable[TicketEvent],
    background: Background,
    around: Around,
    *,
    units: Units,
) -> TicketView:
    """Put a ticket's page together.

    Parameters
    ----------
    ticket : Ticket
        As it stands; its evidence is the frozen one.
    events : iterable of TicketEvent
        Its history, oldest first.
    background : Background
        For its charts.
    around : Around
        The reader, and what else there is of the vehicle.
    units : {"metric", "us"}
        For the sentence.

    Returns
    -------
    TicketView
        With what its reader may do, and no more.
    """
    detail = ticket.detail
    zone = background.zone
    today = around.at.astimezone(zone).date()
    charts = [] if detail is None else [draw_chart(one, background) for one in detail.readings[:CHARTS]]
    return TicketView(
        ticket=ticket.ticket,
        version=ticket.version,
        vehicle=ticket.vehicle,
        depot=ticket.depot,
        time_zone=str(zone),
        status=ticket.status,
        urgency=urgency_of(ticket),
        consequence=ticket.consequence,
        problem=problem_of(ticket),
        sentence=_sentence(ticket, units),
        chart=charts[0] if charts else None,
        other_charts=tuple(charts[1:]),
        checks=() if detail is None else _checks(detail),
        cautions=() if detail is None else tuple(one.text for one in detail.cautions),
        proof=_proof(ticket, background),
        history=tuple(_history(one, zone) for one in reversed(list(events))),
        raised_at=ticket.raised_at.astimezone(zone),
        due_by=ticket.due_by,
        days_late=days_late(ticket, today),
        booked_on=ticket.booked_on,
        deferred_until=ticket.deferred_until,
        resting_since=ticket.resting_since,
        pinned_until=ticket.pinned_until,
        inspected_on=_inspected_on(ticket, zone),
        assignee=ticket.assignee,
        series=() if detail is None else detail.readings,
        looked_at=() if detail is None else detail.also_looked_at,
        change_my_mind=() if detail is None else detail.would_change,
        causes=() if detail is None else tuple(Cause(code=c, probability=p) for c, p in detail.causes),
        probability_30d=ticket.probability_30d,
        probability_crossing=ticket.probability_crossing,
        probability_fault=ticket.probability_fault,
        track_record=None if detail is None else _track(detail),
        rank=_rank(ticket),
        versions=None if detail is None else _versions(detail),
        links=links_of(ticket, around.others, around.records, zone),
        actions=offers_of(ticket, around.mover, _moment(ticket, around, today)),
        may_record=bool(FINDERS & set(around.mover.roles))
        and "record_repair" in allowed_events(ticket, around.mover),
        record_causes=offered_causes(ticket),
        other_causes=other_causes(ticket),
        form_key=new_key(),
        undo=_undo(ticket, around, zone),
    )


def _moment(ticket: Ticket, around: Around, today: date) -> Moment:
    others = [one.ticket for one in around.others if is_open(one) and one.ticket != ticket.ticket]
    return Moment(at=around.at, today=today, hours=around.hours, others=others, rules=Rules())


def _undo(ticket: Ticket, around: Around, zone: ZoneInfo) -> Undo | None:
    record = undoable(around.records, ticket, around.mover, around.at)
    if record is None:
        return None
    until = record.recorded_at + timedelta(minutes=Rules().take_back_minutes)
    return Undo(record=record.number, kind=record.kind, until=until.astimezone(zone))


def _sentence(ticket: Ticket, units: Units) -> str:
    """Give the frozen sentence; written anew from the same numbers only for other units."""
    detail = ticket.detail
    if detail is None or units == "metric" or not detail.readings:
        return ticket.evidence
    versions = detail.versions
    sheet = None
    if versions.sheet and versions.revision is not None:
        sheet = SheetFacts(sheet=versions.sheet, revision=versions.revision, source=versions.source)
    return describe(
        ticket.vehicle,
        detail.readings[0],
        quiet=detail.quiet,
        sheet=sheet,
        as_of_day=number_day(versions.data_up_to),
        units=units,
    )


def _checks(detail: Detail) -> tuple[Check, ...]:
    return tuple(
        Check(
            text=one.text,
            minutes=one.minutes,
            cause=one.cause,
            likelihood=one.probability,
            good=one.good,
            bad=one.bad,
            tools=one.tools,
        )
        for one in detail.checks
    )


def _inspected_on(ticket: Ticket, zone: ZoneInfo) -> date | None:
    if ticket.status != "dismissed" or ticket.reason != "no_fault_found" or ticket.inspected_at is None:
        return None
    return ticket.inspected_at.astimezone(zone).date()


def _proof(ticket: Ticket, background: Background) -> Proof | None:
    """Say how far the proof has come; before the first evaluation since the repair, nothing is in yet."""
    if ticket.done_at is None or ticket.status != "done" or ticket.closed_at is not None:
        return None
    rules, done_on = Rules(), ticket.done_at.astimezone(background.zone).date()
    progress = ticket.proof or first_progress(ticket, rules)
    return Proof(
        have=progress.readings,
        need=progress.readings_needed,
        days=progress.days,
        need_days=progress.days_needed,
        text=progress.text,
        until=done_on + timedelta(days=rules.proof_timeout_days),
        before_repair=_late_before(ticket, ticket.done_at, background),
    )


def _late_before(ticket: Ticket, done_at: datetime, background: Background) -> tuple[datetime, ...]:
    """List readings in the ticket's state that were taken before the repair and arrived after it."""
    readings, done_us = background.readings, (done_at - _EPOCH) // timedelta(microseconds=1)
    if ticket.state not in STATES:
        return ()
    wanted = (readings.state == STATES.index(ticket.state)) & (readings.taken_us < done_us)
    late = wanted & (background.circumstances.received_us > done_us)
    return tuple(
        (_EPOCH + timedelta(microseconds=int(taken))).astimezone(background.zone)
        for taken in readings.taken_us[late][-LATE_SHOWN:]
    )


def _history(event: TicketEvent, zone: ZoneInfo) -> HistoryLine:
    """Write one line of history; who did it is told by role, never by name."""
    detail = without_heading(event.note, say(EVENTS, event.event))
    return HistoryLine(at=event.at.astimezone(zone), who=event.role, event=event.event, detail=detail)


def without_heading(note: str, heading: str) -> str:
    """Take off the words of a note that its heading says already.

    Examples
    --------
    >>> without_heading("Raised: a drift passes the ticket level.", "Raised")
    'a drift passes the ticket level.'
    >>> without_heading("Verified by data: 9 readings.", "Verified by readings")
    '9 readings.'
    >>> without_heading("Repair recorded, done 5 Nov 2031: deposits.", "Repair recorded")
    'done 5 Nov 2031: deposits.'
    >>> without_heading("Raised the hood.", "Raised")
    'Raised the hood.'
    """
    for separator in (": ", ", "):
        start, found, rest = note.partition(separator)
        if found and heading.startswith(start):
            return rest
    start, found, rest = note.partition(": ")
    alike = start.split()[:2] == heading.split()[:2]
    return rest if found and alike else note


def _track(detail: Detail) -> TrackRecord | None:
    record = detail.track_record
    if record.inspected == 0:
        return None
    return TrackRecord(found=record.found, of=record.inspected, low=record.low, high=record.high)


def _versions(detail: Detail) -> Versions:
    versions = detail.versions
    return Versions(
        sheet=versions.sheet,
        revision=versions.revision,
        rule=versions.rule,
        method=versions.method,
        data_up_to=versions.data_up_to,
    )


def _rank(ticket: Ticket) -> tuple[RankPart, ...]:
    parts = [RankPart(name="Consequence class", text=str(ticket.consequence))]
    if ticket.probability_30d is not None:
        parts.append(RankPart(name="Within 30 days", text=f"{100 * ticket.probability_30d:.0f} %"))
    if ticket.gain is None:
        return tuple(parts)
    gain = money(ticket.gain)
    if ticket.saved is not None:
        saved = money(ticket.saved)
        name = "Saved if acted on: probability times what unplanned costs more"
        parts.append(RankPart(name=name, text=f"{saved:,}"))
        name = "Less looking for nothing: chance that nothing is found, times a look"
        parts.append(RankPart(name=name, text=f"{gain - saved:,}"))
    parts.append(RankPart(name="Expected gain of acting now", text=f"{gain:,}"))
    return tuple(parts)
