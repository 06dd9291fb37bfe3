"""Old readings go, and everything that was found in them stays found."""

from datetime import datetime, timedelta

import numpy as np

from models.findings import Assessment
from models.panel import Wish
from service.schedule.engine import Terms, models_engine
from service.schedule.evaluate import evaluate
from service.schedule.replay import Span, replay
from service.schedule.retain import retain
from service.store import Lines
from service.tickets.ticket import Ticket
from service.tickets.words import to_day
from tests.story.conftest import FIRST, Town

ONSET = 60
KEPT = 85
"""Days of the history whose readings go: the whole baseline and the first weeks of the fault."""


def _found(town: Town) -> tuple[Assessment | None, tuple[Ticket, ...]]:
    with town.store.begin(readonly=True) as work:
        return work.assessment(), work.tickets()


def test_findings_outlive_their_readings(town: Town) -> None:
    """After retention the same night finds the same, and a replay of past nights gives the same tickets."""
    ramp = np.clip((np.arange(town.days) - ONSET) / 42, 0, 1)
    town.at("LONGFT1", "warm_idle")[3] += 9.0 * ramp
    town.at("IAC", "warm_idle")[3] -= 5.0 * ramp
    town.register()
    town.send()
    first = town.last - timedelta(days=21)
    town.nights(first, every=7)
    assessment, tickets = _found(town)
    assert [one.vehicle for one in tickets] == [town.name(3)]
    engine, terms = models_engine(), Terms(wish=Wish())

    line = to_day(FIRST) + KEPT
    done = retain(town.store, Lines(readings=line), now=town.evening, who="schedule", engine=engine)
    assert sum(one.rows for one in done.portions) == (KEPT - 1) * town.vehicles * 3
    late = [town._snapshot(3, day, "warm_idle") for day in range(0, KEPT, 2)]
    answer = town.service.client.post(
        "/api/v1/snapshots", json=late, headers=town.service.token("send")
    ).json()
    assert {one["code"] for one in answer["rejected"]} == {"day-removed"}
    assert (answer["accepted"], answer["duplicates"], len(answer["rejected"])) == (0, 0, len(late))

    evaluate(town.store, as_of=town.last, now=town.evening, terms=terms, engine=engine)
    assert _found(town) == (assessment, tickets)

    span = Span(first=first, last=town.last - timedelta(days=1), every=7)
    replay(town.store, span, restart=True, now=town.evening, terms=terms, engine=engine)
    evaluate(town.store, as_of=town.last, now=town.evening, terms=terms, engine=engine)
    assert _found(town) == (assessment, tickets)


def test_files_and_pages_say_what_is_lost(town: Town) -> None:
    """An as-of before the cut tells how many readings it has lost, in file, answer and page."""
    town.register()
    town.send()
    town.night()
    later = town.evening + timedelta(days=400)
    line = to_day(FIRST) + KEPT
    retain(town.store, Lines(readings=line), now=later, who="schedule", engine=models_engine())

    as_of = town.last.isoformat()
    gone = (KEPT - 1) * town.vehicles * 3
    answer = town.service.client.get(f"/exports/snapshots.csv?as_of={as_of}")
    assert answer.headers["forelamp-removed-rows"] == str(gone)
    assert f"{gone:,} rows to retention" in town.page(f"/exports?dataset=snapshots&as_of={as_of}")
    assert "forelamp-removed-rows" in answer.headers
    before = town.service.client.get(
        f"/exports/snapshots.csv?as_of={(FIRST - timedelta(days=9)).isoformat()}"
    )
    assert before.headers["forelamp-removed-rows"] == "0"
    for dataset, lost in (("snapshots", str(gone)), ("trends", "0"), ("tickets", "0"), ("risk", "0")):
        page = town.service.client.get(f"/api/v1/{dataset}?as_of={as_of}", headers=town.service.token("read"))
        assert page.headers["forelamp-removed-rows"] == lost
    week = datetime.combine(town.last, datetime.min.time()) + timedelta(days=1)
    year, number, _ = week.isocalendar()
    assert f"This day has lost {gone:,} rows to retention since." in town.page(f"/week/{year}-W{number:02d}")
