"""Of several processes exactly one runs a job, and what is frozen stays."""

import threading
from datetime import UTC, datetime, timedelta

import pytest

from service.store import ReadOnlyWork, Store, open_store

DUE = datetime(2031, 3, 4, 2, 0, tzinfo=UTC)
JOB = "evaluate"


def claim(store: Store, owner: str, at: datetime, **options: int) -> bool:
    """Claim the run in a unit of work of its own."""
    with store.begin() as work:
        won = work.claim_run(JOB, DUE, at, owner, **options)
        work.commit()
    return won


def test_one_of_many_wins(store_url: str) -> None:
    """Of six processes that claim a run at once, exactly one gets it."""
    won: list[bool] = []

    def race(owner: str) -> None:
        opened = open_store(store_url)
        won.append(claim(opened, owner, DUE))
        opened.close()

    threads = [threading.Thread(target=race, args=(f"p{number}",)) for number in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert sorted(won) == [False] * 5 + [True]


def test_dead_owner_is_replaced(store: Store) -> None:
    """A run whose owner went silent is taken over; the old owner cannot close it any more."""
    assert claim(store, "first", DUE)
    assert not claim(store, "second", DUE + timedelta(minutes=9))
    assert claim(store, "second", DUE + timedelta(minutes=11))
    with store.begin() as work:
        assert not work.beat_run(JOB, DUE, DUE + timedelta(minutes=12), "first")
        assert not work.finish_run(JOB, DUE, DUE + timedelta(minutes=12), "done", owner="first")
        assert work.finish_run(
            JOB, DUE, DUE + timedelta(minutes=12), "done", owner="second", counts={"vehicles": 4}
        )
        (run,) = work.runs()
        assert (run.attempt, run.outcome, run.counts) == (2, "done", {"vehicles": 4})


def test_beats_keep_a_run(store: Store) -> None:
    """A run whose owner gives signs of life is not taken over however long it takes."""
    claim(store, "first", DUE)
    with store.begin() as work:
        assert work.beat_run(JOB, DUE, DUE + timedelta(hours=1), "first")
        work.commit()

    assert not claim(store, "second", DUE + timedelta(hours=1, minutes=5))


def test_failed_is_tried_again_a_few_times(store: Store) -> None:
    """A failed run may be tried again up to the number of attempts; a done one never."""
    for attempt in range(2):
        assert claim(store, "one", DUE + timedelta(minutes=attempt), attempts=2)
        with store.begin() as work:
            work.finish_run(JOB, DUE, DUE, "failed", owner="one", error="out of memory")
            work.commit()

    assert not claim(store, "one", DUE + timedelta(days=1), attempts=2)
    with store.begin(readonly=True) as work:
        assert work.last_run(JOB) is None
        failed = work.last_run(JOB, outcome="failed")
        assert failed is not None
        assert failed.error == "out of memory"


def test_one_holds_a_post(store_url: str) -> None:
    """Only one process holds a post; it passes on when given up or, for a silent holder, in time."""
    first, second = open_store(store_url), open_store(store_url)

    assert first.elect("scheduler", "a", DUE)
    assert first.elect("scheduler", "a", DUE + timedelta(minutes=1))
    assert not second.elect("scheduler", "b", DUE + timedelta(minutes=1))
    first.resign("scheduler", "a")
    assert second.elect("scheduler", "b", DUE + timedelta(minutes=1))
    second.close()
    assert first.elect("scheduler", "a", DUE + timedelta(hours=1))
    first.close()


def test_report_is_frozen(store: Store) -> None:
    """A week's report is written once; a second one changes nothing and is told so."""
    with store.begin() as work:
        assert work.freeze_report("2031-W10", '{"a": 1}', DUE)
        assert not work.freeze_report("2031-W10", '{"a": 2}', DUE)
        report = work.report("2031-W10")
        assert report is not None
        assert report.body == '{"a": 1}'
        assert work.reports() == ("2031-W10",)
        assert work.report("2031-W11") is None


def test_reading_cannot_commit(store: Store) -> None:
    """A unit of work for reading refuses to keep anything."""
    with store.begin(readonly=True) as work, pytest.raises(ReadOnlyWork):
        work.commit()


def test_reader_does_not_wait(store: Store) -> None:
    """A reader sees the last committed state while a writer is at work."""
    with store.begin() as writing, store.begin(readonly=True) as reading:
        writing.freeze_report("2031-W10", "{}", DUE)
        assert reading.reports() == ()
        writing.commit()
