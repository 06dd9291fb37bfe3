"""A replay gives the tickets that nightly runs would have given."""

from datetime import UTC, date, datetime, time, timedelta
from time import process_time

import pytest

from ingest.records import Vehicle, WorkRecord
from service.schedule.engine import Terms
from service.schedule.errors import ReplayRefused, WrongSpan
from service.schedule.evaluate import evaluate
from service.schedule.replay import Span, replay
from service.store import Store
from service.tickets.byhand import Changed
from service.tickets.effects import Facts
from service.tickets.lifecycle import apply, event_row
from service.tickets.plain import to_plain
from service.tickets.ticket import Ticket
from service.tickets.words import to_day
from tests.service.schedule.made_up import MadeUp

NOW = datetime(2031, 6, 1, tzinfo=UTC)
SPAN = Span(first=date(2031, 3, 1), last=date(2031, 4, 30))
TERMS = Terms(zone="Europe/Vienna")


def _tickets(store: Store) -> list[dict[str, object]]:
    with store.begin(readonly=True) as work:
        return [to_plain(ticket) for ticket in work.tickets()]


def _repair(store: Store) -> None:
    with store.begin() as work:
        done_at = datetime(2031, 3, 25, 9, tzinfo=UTC)
        work.put_work([WorkRecord(vehicle="V-2", done_at=done_at, kind="repair", cause="unknown")], NOW)
        work.commit()


def test_replay_equals_nightly_runs(each_store: Store, models: MadeUp) -> None:
    """The tickets, their times and numbers are those of one evaluation after the other."""
    _repair(each_store)
    replay(each_store, SPAN, now=NOW, terms=TERMS, engine=models.engine())
    replayed = _tickets(each_store)

    replay(
        each_store,
        Span(first=SPAN.first, last=SPAN.first),
        restart=True,
        now=NOW,
        terms=TERMS,
        engine=models.engine(),
    )
    for n in range(1, 61):
        evaluate(
            each_store, as_of=SPAN.first + timedelta(days=n), now=NOW, terms=TERMS, engine=models.engine()
        )

    assert _tickets(each_store) == replayed
    assert [(t["ticket"], str(t["raised_at"])[:10], t["status"]) for t in replayed] == [
        ("V-2-T1", "2031-03-10", "done")
    ]


def test_work_done_later_is_not_known_earlier(store: Store, models: MadeUp) -> None:
    """A repair of 25 March moves nothing as of 24 March."""
    _repair(store)

    replay(
        store, Span(first=SPAN.first, last=date(2031, 3, 24)), now=NOW, terms=TERMS, engine=models.engine()
    )

    assert _tickets(store)[0]["status"] == "raised"


def test_a_second_replay_is_refused_and_a_restart_repeats_it(store: Store, models: MadeUp) -> None:
    """Tickets live forward only; a restart takes back and gives the same again."""
    replay(store, SPAN, now=NOW, terms=TERMS, engine=models.engine())
    first = _tickets(store)

    with pytest.raises(ReplayRefused, match="--restart"):
        replay(store, SPAN, now=NOW, terms=TERMS, engine=models.engine())
    replay(store, SPAN, restart=True, now=NOW, terms=TERMS, engine=models.engine())

    assert _tickets(store) == first


def test_a_restart_from_the_middle_puts_tickets_back(each_store: Store, models: MadeUp) -> None:
    """Tickets raised before the first date stand as they did before it, then go on."""
    _repair(each_store)
    replay(each_store, SPAN, now=NOW, terms=TERMS, engine=models.engine())
    first = _tickets(each_store)

    replay(
        each_store,
        Span(first=date(2031, 3, 20), last=SPAN.last),
        restart=True,
        now=NOW,
        terms=TERMS,
        engine=models.engine(),
    )

    assert _tickets(each_store) == first


def test_what_people_did_is_never_taken_back(store: Store, models: MadeUp) -> None:
    """A ticket that somebody accepted stops even a restart, and is named."""
    replay(store, SPAN, now=NOW, terms=TERMS, engine=models.engine())
    with store.begin() as work:
        ticket = work.ticket("V-2-T1")
        taken = apply(ticket, "accept", role="lead", at=NOW, by="lead", facts=Facts())
        row = event_row(ticket, taken, event="accept", role="lead", by="lead", at=NOW)
        work.put_ticket(taken, [row], read_version=ticket.version)
        work.commit()

    with pytest.raises(ReplayRefused, match="V-2-T1"):
        replay(store, SPAN, restart=True, now=NOW, terms=TERMS, engine=models.engine())


@pytest.mark.parametrize(
    "span",
    [
        Span(first=date(2031, 3, 2), last=date(2031, 3, 1)),
        Span(first=date(2031, 3, 1), last=date(2031, 3, 2), every=0),
    ],
)
def test_dates_that_make_no_span_are_refused(store: Store, models: MadeUp, span: Span) -> None:
    """A last date before the first, or no step, is refused with a sentence."""
    with pytest.raises(WrongSpan):
        replay(store, span, now=NOW, terms=TERMS, engine=models.engine())


def test_every_seventh_day_is_evaluated(store: Store, models: MadeUp) -> None:
    """The step says which dates are evaluated."""
    walk = replay(
        store,
        Span(first=date(2031, 3, 3), last=date(2031, 3, 30), every=7),
        now=NOW,
        terms=TERMS,
        engine=models.engine(),
    )

    assert (walk.dates, walk.last) == (4, date(2031, 3, 24))
    assert models.asked == [to_day(date(2031, 3, day)) for day in (3, 10, 17, 24)]


def test_reports_of_the_mondays_are_frozen_on_the_way(store: Store, models: MadeUp) -> None:
    """With reports each Monday of the span gets its report, as the schedule would have made it."""
    walk = replay(store, SPAN, reports=True, now=NOW, terms=TERMS, engine=models.engine())

    assert walk.reports[0] == "2031-W10"
    assert len(walk.reports) == 9


def test_the_newest_date_has_its_trends(store: Store, models: MadeUp) -> None:
    """After a replay the trends of its last date are there, as after a nightly run."""
    replay(store, SPAN, now=NOW, terms=TERMS, engine=models.engine())

    with store.begin(readonly=True) as work:
        assert work.trend_day() == to_day(SPAN.last)
        assert [trend.vehicle for trend in work.trends()] == ["V-1", "V-2", "V-3", "V-4"]


def test_a_date_costs_little_beside_the_models(store: Store, models: MadeUp) -> None:
    """200 vehicles, 20 of them with tickets: below 20 ms a date apart from the models."""
    with store.begin() as work:
        work.put_vehicles([Vehicle(vehicle=f"W-{n:03}", depot="North") for n in range(200)], NOW)
        work.commit()
    models.since.update({f"W-{n:03}": to_day(SPAN.first) + n for n in range(20)})

    began = process_time()
    walk = replay(store, SPAN, now=NOW, terms=TERMS, engine=models.engine())
    each = (process_time() - began) / walk.dates

    assert each < 0.02


def test_people_act_between_dates(each_store: Store, models: MadeUp) -> None:
    """Who is asked before each date sees the tickets of the one before; what they do is kept."""
    seen: list[tuple[date, tuple[str, ...]]] = []

    def people(on: date, tickets: tuple[Ticket, ...]) -> list[Changed]:
        seen.append((on, tuple(ticket.status for ticket in tickets)))
        at = datetime.combine(on, time(8), UTC)
        raised = [ticket for ticket in tickets if ticket.status == "raised"]
        moved = [apply(ticket, "accept", role="lead", at=at, by="workshop") for ticket in raised]
        return [
            Changed(
                ticket=after,
                events=(event_row(before, after, event="accept", role="lead", by="workshop", at=at),),
                read_version=before.version,
            )
            for before, after in zip(raised, moved, strict=True)
        ]

    span = Span(first=date(2031, 3, 8), last=date(2031, 3, 14))
    walk = replay(each_store, span, now=NOW, terms=TERMS, engine=models.engine(), people=people)

    assert seen[0] == (date(2031, 3, 9), ())
    assert dict(seen)[date(2031, 3, 11)] == ("raised",)
    assert dict(seen)[date(2031, 3, 12)] == ("accepted",)
    assert walk.dates == 7
    with each_store.begin(readonly=True) as work:
        (ticket,) = work.tickets()
        rows = work.ticket_events(ticket.ticket)
    assert ticket.status == "accepted"
    assert [(row.event, row.by) for row in rows if row.role == "lead"] == [("accept", "workshop")]
    with pytest.raises(ReplayRefused, match="V-2-T1"):
        replay(each_store, span, restart=True, now=NOW, terms=TERMS, engine=models.engine())
