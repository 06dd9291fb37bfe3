"""The ticket page, and the job sheet made of the same facts."""

from collections.abc import Iterable
from datetime import date, timedelta
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
    TicketLink,
    TicketView,
    TrackRecord,
    Versions,
)
from dashboards.words import EVENTS, say
from models.panel import SheetFacts
from service.store import Work
from service.tickets.rules import Rules
from service.tickets.sentence import describe
from service.tickets.ticket import Detail, Ticket, TicketEvent
from service.web.pages.charts import Background, draw_chart, load_background
from service.web.pages.frames import make_frame, show, units_of
from service.web.pages.lines import days_late, problem_of, urgency_of
from service.web.query import number_day
from service.web.readers import allow
from service.web.shell import shell_of

router = APIRouter(dependencies=[Depends(allow("read"))])

CHARTS: Final = 4
"""Most charts of a ticket, the loudest series first; chosen by us: a phone loads them in one breath."""

_LINKS: Final = ("comeback_of", "comeback_by", "merged_into")


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
        links = _load_links(work, ticket)
    today = shell.clock.now().astimezone(zone).date()
    view = make_view(ticket, events, background, links, today=today, units=units_of(request))
    title = f"{ticket.vehicle}: {problem_of(ticket)}"
    return view, make_frame(request, title, assessed_at=newest.made_at, zone=str(zone))


def _load_links(work: Work, ticket: Ticket) -> tuple[TicketLink, ...]:
    found = []
    for kind in _LINKS:
        number = getattr(ticket, kind)
        if number:
            other = work.ticket(number)
            found.append(TicketLink(kind=kind, ticket=number, done_then=other.done_cause))
    return tuple(found)


def make_view(
    ticket: Ticket,
    events: Iterable[TicketEvent],
    background: Background,
    links: tuple[TicketLink, ...],
    *,
    today: date,
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
    links : tuple of TicketLink
        Tickets that belong with it.
    today : date
        In the vehicle's zone.
    units : {"metric", "us"}
        For the sentence.

    Returns
    -------
    TicketView
        Pages offer no actions while nobody can sign in.
    """
    detail = ticket.detail
    zone = background.zone
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
        proof=_proof(ticket, zone),
        history=tuple(_history(one, zone) for one in reversed(list(events))),
        raised_at=ticket.raised_at.astimezone(zone),
        due_by=ticket.due_by,
        days_late=days_late(ticket, today),
        booked_on=ticket.booked_on,
        deferred_until=ticket.deferred_until,
        resting_since=ticket.resting_since,
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
        links=links,
        actions=(),
        record_causes=(),
        form_key="",
        undo_until=None,
    )


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


def _proof(ticket: Ticket, zone: ZoneInfo) -> Proof | None:
    if ticket.proof is None or ticket.done_at is None or ticket.status != "done":
        return None
    until = ticket.done_at.astimezone(zone).date() + timedelta(days=Rules().proof_timeout_days)
    return Proof(
        have=ticket.proof.readings,
        need=ticket.proof.readings_needed,
        days=ticket.proof.days,
        need_days=ticket.proof.days_needed,
        text=ticket.proof.text,
        until=until,
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
    if ticket.gain is not None:
        parts.append(RankPart(name="Expected gain of acting now", text=f"{ticket.gain:,.0f}"))
    return tuple(parts)
