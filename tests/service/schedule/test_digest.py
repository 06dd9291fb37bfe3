"""The digest carries the point in its subject and names nobody."""

from datetime import UTC, date, datetime
from typing import Any

import orjson

from service.schedule.digest import Digest, first_sentence, make_digest
from service.schedule.engine import Terms
from service.schedule.replay import Span, replay
from service.schedule.runner import Runner
from service.store import Store
from tests.service.schedule.made_up import MadeUp

NOW = datetime(2031, 6, 1, tzinfo=UTC)
TERMS = Terms(zone="Europe/Vienna")


def _report(store: Store, models: MadeUp, first: date, last: date, week: str) -> dict[str, Any]:
    span = Span(first=first, last=last)
    replay(store, span, reports=True, now=NOW, terms=TERMS, engine=models.engine())
    with store.begin(readonly=True) as work:
        frozen = work.report(week)
    assert frozen is not None
    body: dict[str, Any] = orjson.loads(frozen.body)
    return body


def test_the_subject_carries_the_point(store: Store, models: MadeUp) -> None:
    """Week, how many to pull in with hours, past due, cannot be judged."""
    models.silent.add("V-4")
    report = _report(store, models, date(2031, 3, 10), date(2031, 3, 16), "2031-W12")

    digest = make_digest(report, workshop_hours=20.0)

    assert digest.subject == "Week 12: 1 to pull in (1.6 of 20 h), 0 past due, 1 cannot be judged"
    assert (
        "V-2 (Pull in now, due 17 Mar 2031): long-term fuel trim, bank 1 (LONGFT1) rising at warm idle; "
        "likely: too little fuel is delivered." in digest.text
    )
    assert "Silent:\n- V-4" in digest.text
    assert "This is the first report" in digest.text


def test_a_quiet_week_is_said_with_how_many_were_judged(store: Store, models: MadeUp) -> None:
    """Nothing to pull in: never just a tick, but of how many judged."""
    models.since.clear()
    report = _report(store, models, date(2031, 3, 10), date(2031, 3, 23), "2031-W13")

    assert first_sentence(report) == (
        "No vehicle needs pulling in. 4 of 4 judged; 0 to watch; 0 tickets past due; "
        "0 of 4 in service cannot be judged."
    )
    assert "Nothing changed." in make_digest(report).text


def test_a_stale_evaluation_is_said_in_line_one(store: Store, models: MadeUp) -> None:
    """An older evaluation is named first."""
    report = _report(store, models, date(2031, 3, 10), date(2031, 3, 16), "2031-W12")

    text = make_digest(report | {"stale_days": 2}).text

    assert text.startswith("The newest evaluation is of 16 Mar 2031, 2 days before")


def test_markup_in_names_stays_text(store: Store, models: MadeUp) -> None:
    """A vehicle's number with angle brackets cannot become markup."""
    report = _report(store, models, date(2031, 3, 10), date(2031, 3, 16), "2031-W12")
    report["coming"][0]["vehicle"] = "<b>V-2</b>"

    assert "&lt;b&gt;V-2" in make_digest(report).html


def test_the_runner_publishes_each_week_once(store: Store, models: MadeUp) -> None:
    """Down over the weekend, up on Monday: one digest."""
    published: list[Digest] = []
    at = [datetime(2031, 3, 16, 5, tzinfo=UTC)]

    def now() -> datetime:
        return at[0]

    runner = Runner(
        store=store, now=now, terms=TERMS, engine=models.engine(), owner="one", publish=published.append
    )
    runner.tick()
    at[0] = datetime(2031, 3, 17, 9, tzinfo=UTC)
    for _ in range(3):
        runner.tick()

    assert [digest.week for digest in published] == ["2031-W12"]
