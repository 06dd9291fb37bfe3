"""When jobs are due: local wall time on local days, computed here, kept and compared in UTC.

A local time that a clock change skips is due at the instant the clock would have shown it without the change;
one that comes twice is due the first time. So every local day has each job exactly once.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any, Final
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from apscheduler.triggers.base import BaseTrigger

from service.schedule.errors import UnknownZone

NIGHTLY: Final = "nightly"
WEEKLY: Final = "weekly"
DIGEST: Final = "digest"
RETAIN: Final = "retain"

NIGHTLY_AT: Final = time(2, 10)
WEEKLY_AT: Final = time(6, 30)
DIGEST_AT: Final = time(6, 31)
"""A minute behind the report that it is made of."""

RETAIN_AT: Final = time(3, 30)
"""Behind the night's evaluation, on the day on which the fewest wait for answers."""

MONDAY: Final = 0
SUNDAY: Final = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One line of the timetable.

    Parameters
    ----------
    job : str
        Name of the job.
    at : time
        Local wall time.
    zone : ZoneInfo
        The fleet's time zone.
    weekday : int or None
        Day of the week, Monday is 0; None for every day.
    """

    job: str
    at: time
    zone: ZoneInfo
    weekday: int | None = None

    def falls_on(self, on: date) -> bool:
        """Tell whether the job is due on a local day."""
        return self.weekday is None or on.weekday() == self.weekday

    def due_at(self, on: date) -> datetime:
        """Give the instant at which the job is due on a local day, aware UTC."""
        return datetime.combine(on, self.at, tzinfo=self.zone).astimezone(UTC)

    def local_day(self, due_at: datetime) -> date:
        """Give the local day of a due instant."""
        return due_at.astimezone(self.zone).date()


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """One due run: which line of the timetable, and when."""

    entry: Entry
    at: datetime


def fleet_zone(name: str) -> ZoneInfo:
    """Look a time zone up.

    Raises
    ------
    UnknownZone
        There is none of that name.
    """
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as err:
        raise UnknownZone(name) from err


def timetable(
    zone: ZoneInfo, *, nightly_at: time = NIGHTLY_AT, mails: bool = False, retains: bool = False
) -> tuple[Entry, ...]:
    """Give the lines: nightly evaluation, Monday's report, its mail if any, Sunday's retention if any."""
    digest = (Entry(job=DIGEST, at=DIGEST_AT, zone=zone, weekday=MONDAY),)
    retain = (Entry(job=RETAIN, at=RETAIN_AT, zone=zone, weekday=SUNDAY),)
    return (
        Entry(job=NIGHTLY, at=nightly_at, zone=zone),
        Entry(job=WEEKLY, at=WEEKLY_AT, zone=zone, weekday=MONDAY),
        *(digest if mails else ()),
        *(retain if retains else ()),
    )


def due_between(start: datetime, end: datetime, entries: Iterable[Entry]) -> tuple[Due, ...]:
    """List every due run after `start` and up to `end`, in order of time: no thread, no skip.

    Examples
    --------
    >>> from zoneinfo import ZoneInfo
    >>> entry = Entry(job="nightly", at=time(2, 10), zone=ZoneInfo("Europe/Vienna"))
    >>> dues = due_between(datetime(2031, 3, 29, tzinfo=UTC), datetime(2031, 3, 31, tzinfo=UTC), [entry])
    >>> [due.at.isoformat() for due in dues]
    ['2031-03-29T01:10:00+00:00', '2031-03-30T01:10:00+00:00']
    """
    found = [due for entry in entries for due in _walk(entry, start, end)]
    return tuple(sorted(found, key=lambda due: (due.at, due.entry.job)))


def latest_due(entry: Entry, now: datetime) -> Due:
    """Give the newest run that was due by now."""
    on = now.astimezone(entry.zone).date()
    while not entry.falls_on(on) or entry.due_at(on) > now:
        on -= timedelta(days=1)
    return Due(entry=entry, at=entry.due_at(on))


def next_due(entry: Entry, after: datetime) -> datetime:
    """Give the first due instant after a time, aware UTC."""
    on = after.astimezone(entry.zone).date() - timedelta(days=1)
    while not entry.falls_on(on) or entry.due_at(on) <= after:
        on += timedelta(days=1)
    return entry.due_at(on)


class TimetableTrigger(BaseTrigger):  # type: ignore[misc]  # the library ships no types
    """Wakes the scheduler at each due instant of one line, in UTC.

    The library's own cron trigger may fire twice, or loop, where a clock change repeats or skips the hour.
    """

    def __init__(self, entry: Entry) -> None:
        self.entry = entry

    def get_next_fire_time(self, previous_fire_time: datetime | None, now: datetime) -> datetime:
        """Give the first due instant after the last one, or after now."""
        after = now if previous_fire_time is None else max(previous_fire_time, now)
        return next_due(self.entry, after.astimezone(UTC))

    def __getstate__(self) -> dict[str, Any]:
        """Give what the library may keep."""
        return {"entry": self.entry}

    def __setstate__(self, state: dict[str, Any]) -> None:
        """Take it back."""
        self.entry = state["entry"]


def _walk(entry: Entry, start: datetime, end: datetime) -> Iterator[Due]:
    on = start.astimezone(entry.zone).date() - timedelta(days=1)
    last = end.astimezone(entry.zone).date() + timedelta(days=1)
    while on <= last:
        if entry.falls_on(on) and start < (due := entry.due_at(on)) <= end:
            yield Due(entry=entry, at=due)
        on += timedelta(days=1)
