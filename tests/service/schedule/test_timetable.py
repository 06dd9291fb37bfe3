"""Every local day has each job exactly once, whatever the clocks do."""

from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise

import pytest
from freezegun import freeze_time

from service.clock import Clock
from service.schedule.errors import UnknownZone
from service.schedule.timetable import (
    NIGHTLY,
    WEEKLY,
    Entry,
    TimetableTrigger,
    due_between,
    fleet_zone,
    latest_due,
    next_due,
    timetable,
)
from service.schedule.weekly import week_of

ZONES = ("Europe/Vienna", "America/New_York", "Australia/Lord_Howe", "Asia/Kathmandu", "UTC")


@pytest.mark.parametrize("zone", ZONES)
@pytest.mark.parametrize("at", [time(2, 10), time(2, 30), time(1, 45), time(0, 0)])
def test_each_local_day_of_a_year_has_the_nightly_job_once(zone: str, at: time) -> None:
    """Both clock-change nights included, the job is due once on every local day."""
    entry = Entry(job=NIGHTLY, at=at, zone=fleet_zone(zone))

    dues = due_between(datetime(2030, 12, 31, tzinfo=UTC), datetime(2032, 1, 2, tzinfo=UTC), [entry])

    days = [entry.local_day(due.at) for due in dues]
    wanted = [date(2031, 1, 1) + timedelta(days=n) for n in range(365)]
    assert [day for day in days if day.year == 2031] == wanted


def test_walking_in_small_steps_is_walking_at_once() -> None:
    """Asking minute by minute over a clock change gives the same dues as asking once."""
    entries = timetable(fleet_zone("Europe/Vienna"), nightly_at=time(2, 30))
    start, end = datetime(2031, 10, 24, tzinfo=UTC), datetime(2031, 10, 28, tzinfo=UTC)
    steps = [start + timedelta(minutes=n) for n in range(int((end - start).total_seconds() // 60) + 1)]

    stepped = [due for one, other in pairwise(steps) for due in due_between(one, other, entries)]

    assert tuple(stepped) == due_between(start, end, entries)


@pytest.mark.parametrize("day", ["2031-03-30", "2031-10-26"])
def test_the_library_is_woken_once_on_a_clock_change_night(day: str) -> None:
    """The trigger that the scheduler library asks fires once in the night of a clock change."""
    trigger = TimetableTrigger(Entry(job=NIGHTLY, at=time(2, 30), zone=fleet_zone("Europe/Vienna")))
    fired: list[datetime] = []
    previous = None
    with freeze_time(f"{day}T00:00:00", tick=False):
        now = Clock().now() - timedelta(hours=3)
    for _ in range(60 * 30):
        due = trigger.get_next_fire_time(previous, now)
        if due <= now + timedelta(minutes=1):
            fired.append(due)
            previous = due
        now += timedelta(minutes=1)

    local = [due.astimezone(fleet_zone("Europe/Vienna")).date() for due in fired]
    assert local.count(date.fromisoformat(day)) == 1


@pytest.mark.parametrize(
    ("monday", "label"),
    [
        (date(2026, 12, 28), "2026-W53"),
        (date(2027, 1, 4), "2027-W01"),
        (date(2032, 12, 27), "2032-W53"),
        (date(2033, 1, 3), "2033-W01"),
    ],
)
def test_week_53_is_labelled_right(monday: date, label: str) -> None:
    """Years with 53 weeks have a week 53, and its days belong to it into January."""
    assert week_of(monday).label == label
    assert week_of(monday + timedelta(days=6)).label == label


def test_the_report_is_due_every_monday_once() -> None:
    """Over two years with a week 53 every ISO week has one report, on its Monday."""
    entries = [entry for entry in timetable(fleet_zone("Europe/Vienna")) if entry.job == WEEKLY]

    dues = due_between(datetime(2026, 1, 1, tzinfo=UTC), datetime(2028, 1, 1, tzinfo=UTC), entries)

    labels = [week_of(entries[0].local_day(due.at)).label for due in dues]
    assert len(labels) == len(set(labels)) == 104
    assert "2026-W53" in labels


def test_latest_and_next_due_meet() -> None:
    """No due lies between the latest one and the next."""
    entry = timetable(fleet_zone("Europe/Vienna"))[1]
    now = datetime(2031, 3, 31, 4, 29, tzinfo=UTC)

    assert latest_due(entry, now).at == datetime(2031, 3, 24, 5, 30, tzinfo=UTC)
    assert next_due(entry, now) == datetime(2031, 3, 31, 4, 30, tzinfo=UTC)


def test_an_unknown_zone_is_named() -> None:
    """A zone nobody knows is refused with its name."""
    with pytest.raises(UnknownZone, match="Middle/Nowhere"):
        fleet_zone("Middle/Nowhere")
