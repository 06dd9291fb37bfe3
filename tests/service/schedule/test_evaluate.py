"""One evaluation keeps its assessment and its tickets, once."""

from datetime import UTC, date, datetime

import pytest

from service.schedule.engine import Terms
from service.schedule.errors import TooContested
from service.schedule.evaluate import evaluate
from service.store import StaleVersion, Store
from service.tickets.completeness import missing_parts
from service.tickets.effects import Facts
from service.tickets.lifecycle import apply, event_row
from service.tickets.words import to_day
from tests.service.schedule.made_up import MadeUp

NOW = datetime(2031, 3, 13, tzinfo=UTC)
TERMS = Terms(zone="Europe/Vienna")


def test_an_evaluation_raises_complete_tickets_and_keeps_the_assessment(store: Store, models: MadeUp) -> None:
    """A finding becomes a stored, complete ticket; the assessment is stored beside it."""
    report = evaluate(store, as_of=date(2031, 3, 12), now=NOW, terms=TERMS, engine=models.engine())

    with store.begin(readonly=True) as work:
        (ticket,) = work.tickets()
        events = work.ticket_events("V-2-T1")
        assert work.assessed_days() == (to_day(date(2031, 3, 12)),)
    assert report.opened == ("V-2-T1",)
    assert report.counts() == {"vehicles": 4, "findings": 1, "folded": 0, "tickets_open": 1}
    assert missing_parts(ticket) == ()
    assert "Sheet HARROW-24 revision 1" in ticket.evidence
    assert [event.event for event in events] == ["raise"]


def test_the_same_evaluation_again_changes_nothing(store: Store, models: MadeUp) -> None:
    """Run twice for one date: the same tickets, no further history."""
    evaluate(store, as_of=date(2031, 3, 12), now=NOW, terms=TERMS, engine=models.engine())
    report = evaluate(store, as_of=date(2031, 3, 12), now=NOW, terms=TERMS, engine=models.engine())

    assert report.actions == {}
    with store.begin(readonly=True) as work:
        assert len(work.ticket_events()) == 1


def test_an_earlier_date_leaves_the_tickets_alone(store: Store, models: MadeUp) -> None:
    """As of a date before the newest evaluation only the assessment is kept, and the report says so."""
    evaluate(store, as_of=date(2031, 3, 12), now=NOW, terms=TERMS, engine=models.engine())
    models.since["V-3"] = to_day(date(2031, 3, 1))

    report = evaluate(store, as_of=date(2031, 3, 11), now=NOW, terms=TERMS, engine=models.engine())

    assert report.actions == {}
    assert "2031-03-12" in report.notes[0]
    with store.begin(readonly=True) as work:
        assert [ticket.ticket for ticket in work.tickets()] == ["V-2-T1"]
        assert len(work.assessed_days()) == 2


def test_what_people_do_meanwhile_is_kept(store: Store, models: MadeUp) -> None:
    """A ticket accepted while the models compute stays accepted; the evaluation goes by what is there."""
    evaluate(store, as_of=date(2031, 3, 12), now=NOW, terms=TERMS, engine=models.engine())

    def accept(day: int) -> None:
        with store.begin() as work:
            ticket = work.ticket("V-2-T1")
            taken = apply(ticket, "accept", role="lead", at=NOW, by=f"lead {day}", facts=Facts())
            row = event_row(ticket, taken, event="accept", role="lead", by="lead", at=NOW)
            work.put_ticket(taken, [row], read_version=ticket.version)
            work.commit()

    models.hook = accept
    evaluate(store, as_of=date(2031, 3, 13), now=NOW, terms=TERMS, engine=models.engine())

    with store.begin(readonly=True) as work:
        assert work.ticket("V-2-T1").status == "accepted"


def test_tickets_that_keep_changing_are_given_up_with_a_word(
    store: Store, models: MadeUp, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When others win every time, the evaluation says so instead of looping for ever."""

    def always_late(*_: object, **__: object) -> None:
        raise StaleVersion("V-2-T1", 1, 2)

    monkeypatch.setattr("service.store.work.Work.put_ticket", always_late)

    with pytest.raises(TooContested, match="5 times"):
        evaluate(store, as_of=date(2031, 3, 12), now=NOW, terms=TERMS, engine=models.engine())

    with store.begin(readonly=True) as work:
        assert work.assessed_days() == ()
