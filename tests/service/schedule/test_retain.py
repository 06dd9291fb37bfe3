"""Retention as a job: first it counts, then it removes, by whole months in the fleet's zone."""

import doctest
from datetime import UTC, date, datetime, timedelta

import pytest

from ingest.records import Vehicle
from service.schedule import retain as module
from service.schedule.engine import Terms
from service.schedule.retain import Keep, lines_of
from service.schedule.runner import Runner
from service.schedule.timetable import RETAIN
from service.store import Lines, Store
from service.tickets.words import to_day
from tests.service.schedule.made_up import MadeUp
from tests.service.store.conftest import build_arrival

OLD = datetime(2028, 5, 20, 12, tzinfo=UTC)


def test_examples() -> None:
    """The examples in the docstrings hold."""
    assert doctest.testmod(module).failed == 0


def test_for_ever() -> None:
    """Nought months is for ever."""
    keep = Keep(readings=0, trends=0, tickets=0)

    assert lines_of(keep, datetime(2031, 3, 4, tzinfo=UTC), "UTC") == Lines()


@pytest.mark.parametrize(
    ("now", "zone", "first"),
    [
        (datetime(2031, 3, 31, 23, tzinfo=UTC), "UTC", date(2029, 2, 1)),
        (datetime(2031, 3, 31, 23, tzinfo=UTC), "Europe/Oslo", date(2029, 3, 1)),
        (datetime(2031, 1, 1, 2, tzinfo=UTC), "America/Chicago", date(2028, 11, 1)),
        (datetime(2031, 1, 31, tzinfo=UTC), "UTC", date(2028, 12, 1)),
    ],
)
def test_lines_begin_with_a_month(now: datetime, zone: str, first: date) -> None:
    """A line is the first of a month, counted from the fleet's own today."""
    assert lines_of(Keep(), now, zone).readings == to_day(first)


@pytest.fixture
def old(store: Store) -> Store:
    """Give a store with readings of 2028."""
    with store.begin() as work:
        work.put_vehicles([Vehicle(vehicle="V-1")], OLD)
        moments = [OLD + timedelta(days=day) for day in range(5)]
        work.add_arrival(build_arrival(moments), received_at=OLD, source="L-1")
        work.commit()
    return store


class Sundays:
    """A clock and the job's runs on it."""

    def __init__(self, store: Store, models: MadeUp, keep: Keep) -> None:
        self.store = store
        self.now = datetime(2031, 3, 2, 4, tzinfo=UTC)
        self.runner = Runner(
            store=store,
            now=lambda: self.now,
            terms=Terms(zone="UTC"),
            engine=models.engine(),
            owner="one",
            keep=keep,
        )

    def run(self) -> list[dict[str, int]]:
        """Run what is due; give the counts of the job."""
        return [one.counts for one in self.runner.tick() if one.due.entry.job == RETAIN]

    def readings(self) -> int:
        """Count what is left."""
        with self.store.begin(readonly=True) as work:
            return work.snapshot_count()


def test_the_first_run_only_counts(old: Store, models: MadeUp) -> None:
    """The first run tells what would go; the next Sunday's removes it, and the one after finds nothing."""
    job = Sundays(old, models, Keep())

    assert job.run() == [{"would_remove_snapshot": 5, "held_rows": 0}]
    assert job.readings() == 5

    job.now += timedelta(days=7)
    assert job.run() == [{"removed_snapshot": 5, "held_rows": 0}]
    assert job.readings() == 0

    job.now += timedelta(days=7)
    assert job.run() == [{"held_rows": 0}]
    with old.begin(readonly=True) as work:
        assert [one.after for one in work.log_entries(what="retention").rows] == ["5 removed_snapshot"]


def test_days_are_folded_before_they_go(old: Store, models: MadeUp) -> None:
    """What waits to be folded is folded first: the summaries are whole although the readings are gone."""
    job = Sundays(old, models, Keep())
    job.run()
    job.now += timedelta(days=7)
    job.run()

    with old.begin(readonly=True) as work:
        assert work.touched_count() == 0
        assert work.day_range() is not None


def test_a_late_run_goes_by_its_own_day(old: Store, models: MadeUp) -> None:
    """After a month without the service missed Sundays are caught up; nothing is removed twice."""
    job = Sundays(old, models, Keep())
    job.run()
    job.now += timedelta(days=35)

    assert job.run()[0] == {"removed_snapshot": 5, "held_rows": 0}
    with old.begin(readonly=True) as work:
        assert sum(one.portion.rows for one in work.removals()) == 5
