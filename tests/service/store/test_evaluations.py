"""Assessments, trends and tickets come back as they were, also as of an earlier day."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from models.findings import Assessment, Corrected, Finding, SeriesReading, Trend, VehicleState
from service.store import AlreadyThere, NotFound, StaleVersion, Store
from service.tickets.ticket import Ticket, TicketEvent

NOW = datetime(2031, 3, 4, 2, 0, tzinfo=UTC)
DAY = (date(2031, 3, 4) - date(1970, 1, 1)).days
READING = SeriesReading(
    series="LONGFT1@warm_idle",
    parameter="LONGFT1",
    state="warm_idle",
    unit="%",
    direction="up",
    baseline=0.8,
    level=5.25,
    baseline_from=DAY - 90,
    baseline_to=DAY - 60,
    baseline_days=20,
    recent_days=9,
    noise=float(np.float64(1.1)),
    drift_per_week=0.5,
    drift_low=0.3,
    drift_high=0.7,
    strength=6.1,
    reaches_limit_on=DAY + 20,
)


def assessment(day: int) -> Assessment:
    """Build an assessment with one finding."""
    finding = Finding(
        vehicle="V-1",
        group="mixture",
        tier="ticket",
        rule="drift",
        method="ramp 1",
        score=12.0,
        ticket_level=9.0,
        watch_level=7.0,
        onset_day=day - 20,
        causes=(("unmetered_air", 0.7), ("unknown", 0.3)),
        lead=READING,
        series=(READING,),
        probability_30d=0.4,
        probability_crossing=0.3,
        probability_fault=0.9,
    )
    return Assessment(
        day=day,
        method="ramp 1",
        findings=(finding,),
        vehicles=(VehicleState(vehicle="V-1", word="steady", reason="", last_day=day, readings=3),),
    )


def event(ticket: Ticket, name: str) -> TicketEvent:
    """Build an event that led to the ticket's version."""
    return TicketEvent(
        ticket=ticket.ticket,
        version=ticket.version,
        at=ticket.updated_at,
        event=name,
        role="system",
        by="system",
        status_before="",
        status_after=ticket.status,
        facts={"score": 12.5, "days": 3, "late": True, "note": None},
    )


TICKET = Ticket(
    ticket="V-1-T1",
    vehicle="V-1",
    depot="North",
    raised_at=NOW,
    updated_at=NOW,
    reaches_limit_on=date(2031, 4, 1),
    probability_30d=0.1 + 0.2,
    series=("LONGFT1@warm_idle",),
)


def test_assessment_returns_whole(store: Store) -> None:
    """An assessment reads back equal; the newest not after a day is found; the same day replaces."""
    with store.begin() as work:
        for day in (DAY - 1, DAY):
            work.put_assessment(assessment(day), NOW)
        work.put_assessment(replace(assessment(DAY), notes=("again",)), NOW)

        assert work.assessment() == replace(assessment(DAY), notes=("again",))
        assert work.assessment(DAY - 1) == assessment(DAY - 1)
        assert work.assessment(DAY - 2) is None
        assert work.assessed_days() == (DAY - 1, DAY)
        assert work.assessed_at(DAY) == NOW
        assert work.last_assessed() == (DAY, NOW)


def test_missing_numbers_survive(store: Store) -> None:
    """A number that is not known stays not known."""
    trend = Trend(vehicle="V-1", reading=replace(READING, noise=float("nan")))
    with store.begin() as work:
        work.put_assessment(assessment(DAY), NOW, trends=[trend])
        (kept,) = work.trends()

    assert np.isnan(kept.reading.noise)


def test_trends_of_mondays_and_newest(store: Store) -> None:
    """Over three weeks the trends of every Monday and of the last day are kept."""
    with store.begin() as work:
        for day in range(DAY - 20, DAY + 1):
            work.put_assessment(
                assessment(day), NOW, trends=[Trend(vehicle=name, reading=READING) for name in ("V-2", "V-1")]
            )
        kept = [day for day in range(DAY - 25, DAY + 1) if work.trend_day(day) == day]
        assert kept == [*(DAY - 1 - 7 * week for week in (2, 1, 0)), DAY]
        assert date(2031, 3, 3).weekday() == 0
        assert [trend.vehicle for trend in work.trends()] == ["V-1", "V-2"]
        assert work.trends(vehicle="V-2") == (Trend(vehicle="V-2", reading=READING),)
        assert work.trends(DAY - 30) == ()


def test_ticket_returns_whole(store: Store) -> None:
    """A ticket reads back equal, and so does its history, in order."""
    with store.begin() as work:
        work.put_ticket(TICKET, [event(TICKET, "raise")], read_version=0)

        assert work.ticket("V-1-T1") == TICKET
        assert work.tickets(open_only=True, depot="North") == (TICKET,)
        assert work.ticket_events("V-1-T1") == (event(TICKET, "raise"),)
        with pytest.raises(AlreadyThere):
            work.put_ticket(TICKET, read_version=0)
        with pytest.raises(NotFound):
            work.ticket("V-1-T9")


def test_two_edits_of_one_version(store: Store) -> None:
    """Two people act on the same version: one wins, the other is told the version that stands."""
    accepted = replace(TICKET, status="accepted", version=2, updated_at=NOW + timedelta(hours=1))
    with store.begin() as work:
        work.put_ticket(TICKET, read_version=0)
        work.put_ticket(accepted, read_version=1)

        with pytest.raises(StaleVersion, match="version 2") as raised:
            work.put_ticket(replace(accepted, status="dismissed"), read_version=1)

        assert (raised.value.read, raised.value.found) == (1, 2)
        assert work.ticket("V-1-T1") == accepted


def test_tickets_as_of(store: Store) -> None:
    """As of an earlier time a ticket stands as it stood then, and later ones are not there."""
    later = NOW + timedelta(days=3)
    closed = replace(TICKET, status="dismissed", closed_at=later, updated_at=later, version=4)
    with store.begin() as work:
        work.put_ticket(TICKET, read_version=0)
        work.put_ticket(closed, read_version=1)

        assert work.tickets(as_of=NOW - timedelta(days=1)) == ()
        assert work.tickets(as_of=NOW + timedelta(days=1), open_only=True) == (TICKET,)
        assert work.tickets(as_of=later, open_only=True) == ()
        assert work.tickets(open_only=True) == ()


def test_ticket_pages(store: Store) -> None:
    """Tickets raised while somebody pages come at the end; none is repeated or left out."""
    seen: list[str] = []
    with store.begin() as work:
        for number in range(1, 8):
            work.put_ticket(replace(TICKET, ticket=f"V-1-T{number}"), read_version=0)
        cursor, turn = "", 0
        while cursor or not seen:
            page = work.ticket_page(limit=3, cursor=cursor)
            seen += [ticket.ticket for ticket in page.rows]
            cursor = page.cursor
            turn += 1
            work.put_ticket(replace(TICKET, ticket=f"V-2-T{turn}"), read_version=0)

    assert seen[:7] == [f"V-1-T{number}" for number in range(1, 8)]
    assert len(seen) == len(set(seen))


def test_corrected_days_come_back(store: Store) -> None:
    """The newest evaluation's corrected days come back as they were; those of an earlier one give way."""
    days, values = np.array([DAY - 1, DAY], dtype=np.int32), np.array([1.25, -0.5], dtype=np.float32)
    plain = Corrected(vehicle="V-1", series="LONGFT1@warm_idle", day=days, value=values)
    gone = Corrected(vehicle="V-2", series="LONGFT1@warm_idle", day=days, value=values)
    with store.begin() as work:
        work.put_corrected(DAY - 1, [gone])
        work.put_corrected(DAY, [plain])
        work.commit()

    with store.begin(readonly=True) as work:
        found, none = work.corrected("V-1"), work.corrected("V-2")

    assert [one.series for one in found] == ["LONGFT1@warm_idle"]
    np.testing.assert_array_equal(found[0].day, days)
    np.testing.assert_array_equal(found[0].value, values)
    assert none == ()
