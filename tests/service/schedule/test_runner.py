"""Each due run happens exactly once, whoever is up, down, late or racing."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from threading import Barrier, Event, Thread

import pytest
from freezegun import freeze_time

from service.clock import Clock
from service.schedule.engine import Terms
from service.schedule.runner import Outcome, Runner
from service.store import Store, open_store
from service.tickets.words import to_day
from tests.service.schedule.made_up import MadeUp

ZONE = "Europe/Vienna"


@dataclass
class Watch:
    """A clock that is set by hand."""

    at: datetime

    def now(self) -> datetime:
        """Give the time it shows."""
        return self.at


def _runner(store: Store, models: MadeUp, watch: Watch, owner: str = "one") -> Runner:
    return Runner(
        store=store,
        now=watch.now,
        terms=Terms(zone=ZONE),
        engine=models.engine(),
        owner=owner,
        nightly_at=time(2, 30),
    )


def _names(outcomes: list[Outcome]) -> list[tuple[str, date]]:
    return [(o.due.entry.job, o.due.entry.local_day(o.due.at)) for o in outcomes]


def _walk(runner: Runner, watch: Watch, until: datetime, step: timedelta) -> list[Outcome]:
    done: list[Outcome] = []
    while watch.at < until:
        done += runner.tick()
        watch.at += step
    return done


@pytest.mark.parametrize(
    ("first", "last"),
    [
        (date(2031, 3, 24), date(2031, 4, 7)),
        (date(2031, 10, 20), date(2031, 11, 3)),
        (date(2026, 12, 21), date(2027, 1, 11)),
        (date(2032, 12, 20), date(2033, 1, 10)),
    ],
)
def test_weeks_with_clock_changes_and_week_53_run_each_job_once(
    store: Store, models: MadeUp, first: date, last: date
) -> None:
    """Hour by hour over clock changes and week 53: one evaluation a day, one report a week."""
    watch = Watch(datetime.combine(first, time(3), tzinfo=UTC))
    runner = _runner(store, models, watch)

    done = _walk(runner, watch, datetime.combine(last, time(3), tzinfo=UTC), timedelta(hours=1))

    nights = [day for job, day in _names(done) if job == "nightly"]
    assert nights == [first + timedelta(days=n) for n in range((last - first).days + 1)]
    assert models.asked == [to_day(day) - 1 for day in nights]
    with store.begin(readonly=True) as work:
        weeks = work.reports()
    assert len(weeks) == (last - first).days // 7
    assert len([1 for job, _ in _names(done) if job == "weekly"]) >= len(weeks)


def test_down_from_saturday_to_monday_catches_up_in_order(store: Store, models: MadeUp) -> None:
    """After a weekend down every missed night is evaluated, and the report frozen once."""
    watch = Watch(datetime(2031, 3, 7, 5, tzinfo=UTC))
    before = _runner(store, models, watch)
    before.tick()
    before.stop()
    models.asked.clear()
    watch.at = datetime(2031, 3, 10, 9, tzinfo=UTC)

    done = list(_runner(store, models, watch, "after the restart").tick())
    again = _runner(store, models, watch, "after the restart").tick()

    assert _names(done) == [
        ("nightly", date(2031, 3, 8)),
        ("nightly", date(2031, 3, 9)),
        ("nightly", date(2031, 3, 10)),
        ("weekly", date(2031, 3, 10)),
    ]
    assert models.asked == [to_day(date(2031, 3, day)) for day in (7, 8, 9)]
    assert again == ()
    with store.begin(readonly=True) as work:
        assert work.reports() == ("2031-W11",)


def test_two_processes_that_race_run_each_job_once(each_store: Store, models: MadeUp) -> None:
    """Two processes on one database, started together: each due run is done by one of them."""
    other = open_store(each_store.url, fleet_zone=ZONE)
    watch = Watch(datetime(2031, 3, 10, 9, tzinfo=UTC))
    barrier = Barrier(2)
    done: list[Outcome] = []

    def work(runner: Runner) -> None:
        barrier.wait()
        for _ in range(3):
            done.extend(runner.tick())

    threads = [
        Thread(target=work, args=(_runner(each, models, watch, name),))
        for each, name in ((each_store, "one"), (other, "two"))
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    other.close()

    assert sorted(_names(done)) == [("nightly", date(2031, 3, 10)), ("weekly", date(2031, 3, 10))]
    assert len(models.asked) == 1


def test_a_process_that_died_is_followed_by_another(each_store: Store, models: MadeUp) -> None:
    """A run whose process was killed is taken over once its signs of life have stopped."""
    watch = Watch(datetime(2031, 3, 6, 2, tzinfo=UTC))
    due = datetime(2031, 3, 6, 1, 30, tzinfo=UTC)
    with each_store.begin() as work:
        assert work.claim_run("nightly", due, watch.at, "killed")
        work.commit()
    runner = _runner(each_store, models, watch)

    assert [o.due.entry.job for o in runner.tick()] == ["weekly"]
    watch.at += timedelta(minutes=11)

    assert _names(list(runner.tick())) == [("nightly", date(2031, 3, 6))]


def test_nights_stay_in_order_when_a_process_is_killed(store: Store, models: MadeUp) -> None:
    """A night that was killed while catching up is done before the nights after it, not passed over."""
    watch = Watch(datetime(2031, 3, 11, 5, tzinfo=UTC))
    runner = _runner(store, models, watch)
    runner.tick()
    watch.at += timedelta(days=3)
    with store.begin() as work:
        assert work.claim_run("nightly", datetime(2031, 3, 12, 1, 30, tzinfo=UTC), watch.at, "killed")
        work.commit()

    assert runner.tick() == ()
    watch.at += timedelta(minutes=11)

    assert _names(list(runner.tick())) == [("nightly", date(2031, 3, n)) for n in (12, 13, 14)]


def test_a_first_night_that_was_killed_is_not_forgotten(store: Store, models: MadeUp) -> None:
    """The very first night killed and nobody up for two days: it is done first, then the nights after it."""
    watch = Watch(datetime(2031, 3, 11, 5, tzinfo=UTC))
    with store.begin() as work:
        assert work.claim_run("nightly", datetime(2031, 3, 11, 1, 30, tzinfo=UTC), watch.at, "killed")
        work.commit()
    watch.at += timedelta(days=2)

    done = _names(list(_runner(store, models, watch).tick()))

    assert [day for job, day in done if job == "nightly"] == [date(2031, 3, n) for n in (11, 12, 13)]


def test_a_run_killed_every_time_is_told(store: Store, models: MadeUp) -> None:
    """Killed three times, a run does not stand as running for ever: it has failed, and the next goes on."""
    watch = Watch(datetime(2031, 3, 11, 5, tzinfo=UTC))
    runner = _runner(store, models, watch)
    runner.tick()
    watch.at += timedelta(days=1)
    for _ in range(3):
        watch.at += timedelta(minutes=11)
        with store.begin() as work:
            assert work.claim_run("nightly", datetime(2031, 3, 12, 1, 30, tzinfo=UTC), watch.at, "killed")
            work.commit()
    watch.at += timedelta(days=1)

    assert _names(list(runner.tick())) == [("nightly", date(2031, 3, 13))]
    with store.begin(readonly=True) as work:
        (killed,) = [run for run in work.runs(job="nightly") if run.outcome == "failed"]
    assert (killed.attempt, killed.error.partition(":")[0]) == (3, "ProcessDied")


def test_a_failing_run_is_tried_three_times_then_the_next_goes_on(store: Store, models: MadeUp) -> None:
    """A failure is in the ledger with its error; after three the next night runs all the same."""
    watch = Watch(datetime(2031, 3, 11, 5, tzinfo=UTC))
    runner = _runner(store, models, watch)
    runner.tick()
    watch.at += timedelta(days=1)
    models.failing = 3
    for _ in range(3):
        with pytest.raises(RuntimeError, match="made to fail"):
            runner.tick()
        watch.at += timedelta(minutes=1)
    assert runner.tick() == ()

    watch.at += timedelta(days=1)

    assert _names(list(runner.tick())) == [("nightly", date(2031, 3, 13))]
    with store.begin(readonly=True) as work:
        failed = [run for run in work.runs(job="nightly") if run.outcome == "failed"]
    assert [(run.attempt, run.error) for run in failed] == [(3, "RuntimeError: made to fail")]


def test_the_scheduler_library_drives_it(store: Store, models: MadeUp) -> None:
    """Started for real it runs what is due by itself, and stops cleanly."""
    watch, evaluated = Watch(datetime(2031, 3, 11, 5, tzinfo=UTC)), Event()

    def tell(day: int) -> None:
        assert day > 0
        evaluated.set()

    models.hook = tell
    runner = _runner(store, models, watch)

    runner.start()
    assert evaluated.wait(20)
    runner.stop()

    assert models.asked == [to_day(date(2031, 3, 10))]


def test_a_sign_of_life_keeps_a_long_run(store: Store, models: MadeUp) -> None:
    """While a long evaluation runs its beats keep others from taking it over."""
    watch = Watch(datetime(2031, 3, 11, 5, tzinfo=UTC))
    runner = _runner(store, models, watch)
    seen: list[bool] = []

    def long_run(day: int) -> None:
        for _ in range(30):
            watch.at += timedelta(minutes=1)
            runner.beat()
        due = datetime(2031, 3, 11, 1, 30, tzinfo=UTC)
        with store.begin() as work:
            seen.append(work.claim_run("nightly", due, watch.at, f"another {day}"))
        seen.append(store.elect("scheduler", "another", watch.at))

    models.hook = long_run
    runner.tick()

    assert seen == [False, False]


def test_under_a_frozen_clock_a_week_runs_day_by_day(store: Store, models: MadeUp) -> None:
    """With the process's own clock frozen and moved on, a week has seven evaluations and one report."""
    with freeze_time("2031-03-10T06:00:00", ignore=["apscheduler"]) as frozen:
        runner = Runner(
            store=store, now=Clock().now, terms=Terms(zone=ZONE), engine=models.engine(), owner="one"
        )
        for _ in range(8):
            runner.tick()
            frozen.tick(timedelta(days=1))

    assert models.asked == [to_day(date(2031, 3, 9)) + n for n in range(8)]
    with store.begin(readonly=True) as work:
        assert work.reports() == ("2031-W12", "2031-W11")
