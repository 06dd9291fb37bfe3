"""Who runs what is due: one process of several, elected through the store, exactly once each.

A run is claimed in the ledger before it starts, so that of processes that race only one runs it. Dues that
passed while everything was down are run in order when somebody is up again: none is skipped silently. A job
that runs twice for the same due changes nothing the second time.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from threading import Lock
from typing import Any, Final

import orjson
from apscheduler.schedulers.background import BackgroundScheduler
from apscheduler.triggers.interval import IntervalTrigger

from service.schedule.digest import Digest, make_digest
from service.schedule.engine import Engine, Terms
from service.schedule.evaluate import evaluate
from service.schedule.retain import Keep, lines_of, look, retain
from service.schedule.timetable import (
    DIGEST,
    NIGHTLY,
    NIGHTLY_AT,
    RETAIN,
    Due,
    Entry,
    TimetableTrigger,
    due_between,
    fleet_zone,
    latest_due,
    timetable,
)
from service.schedule.weekly import freeze_week, week_of
from service.store import Store
from service.tickets.words import to_day

POST: Final = "scheduler"
"""Name of the post that one process holds."""

BEAT: Final = timedelta(minutes=1)
"""How often the holder gives a sign of life and looks for what is due; chosen by us."""

ATTEMPTS: Final = 3
"""How often a failing run is tried before the next one may go on."""

MAIL_ATTEMPTS: Final = 60
"""The same for mail, once a minute; chosen by us: an hour without the mail server."""

DIED: Final = "ProcessDied: the process that ran it ended without a word, each time that it was tried"
"""What the ledger says of a run whose processes were all killed, by hand or for want of memory."""

BY_SCHEDULE: Final = "schedule"
"""Who is named for what the schedule removes."""

REREAD_AT_ONCE: Final = 200_000
"""Stored snapshots that are read again in one go when names have got a meaning, before what is due runs;
chosen by us: a minute or less."""

Now = Callable[[], datetime]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """One run that this process has done."""

    due: Due
    counts: dict[str, int]


class Runner:
    """Takes part in running the schedule.

    Parameters
    ----------
    store : Store
        Open and migrated.
    now : callable
        Gives the present time, aware.
    terms : Terms
        What the fleet's owner asks for.
    engine : Engine
        The models.
    owner : str
        Unique to the process.
    nightly_at : time
        Local time of the nightly evaluation.
    mail : callable or None
        Sends the digest to people, once a week; None where no mail is set up.
    keep : Keep or None
        How long each class is kept; None for ever, without a line in the timetable.
    publish : callable or None
        Takes the digest of each weekly report; called again with the same digest when a run is repeated.
    """

    def __init__(  # noqa: PLR0913 - each is one choice of whoever starts it
        self,
        *,
        store: Store,
        now: Now,
        terms: Terms,
        engine: Engine,
        owner: str,
        nightly_at: time = NIGHTLY_AT,
        publish: Callable[[Digest], None] | None = None,
        mail: Callable[[Digest], None] | None = None,
        keep: Keep | None = None,
    ) -> None:
        self._store = store
        self._now = now
        self._terms = terms
        self._engine = engine
        self._owner = owner
        self._keep = keep
        self._entries = timetable(
            fleet_zone(terms.zone), nightly_at=nightly_at, mails=mail is not None, retains=keep is not None
        )
        self._mail = mail
        self._publish = publish
        self._running: Due | None = None
        self._alone = Lock()
        self._scheduler: BackgroundScheduler | None = None

    def start(self) -> None:
        """Start waking up: at each due instant, and every minute to be elected and to catch up."""
        scheduler = BackgroundScheduler(
            timezone="UTC",
            job_defaults={"misfire_grace_time": None, "coalesce": True, "max_instances": 1},
        )
        for entry in self._entries:
            scheduler.add_job(self.tick, TimetableTrigger(entry), id=f"due-{entry.job}")
        minute = IntervalTrigger(seconds=int(BEAT.total_seconds()), timezone="UTC")
        scheduler.add_job(self.tick, id="first")
        # While a long run is under way the next tick finds so at once: that is no instance to warn of.
        scheduler.add_job(self.tick, minute, id="catch-up", max_instances=2)
        scheduler.add_job(self.beat, minute, id="beat")
        scheduler.start()
        self._scheduler = scheduler

    def stop(self) -> None:
        """Stop waking up, wait for the run under way, and give the post up."""
        if self._scheduler is not None:
            self._scheduler.shutdown(wait=True)
            self._scheduler = None
        self._store.resign(POST, self._owner)

    def beat(self) -> None:
        """Give a sign of life while a run is under way, so that nobody takes it over."""
        due, now = self._running, self._now()
        if due is None:
            return
        self._store.elect(POST, self._owner, now)
        with self._store.begin() as work:
            work.beat_run(due.entry.job, due.at, now, self._owner)
            work.commit()

    def tick(self) -> tuple[Outcome, ...]:
        """Run everything that is due, if this process holds the post.

        Returns
        -------
        tuple of Outcome
            Runs that this call has done, in order.

        Raises
        ------
        Exception
            What a job raised, after the ledger has it; the run is tried again at the next tick, at most
            three times in all.
        """
        if not self._alone.acquire(blocking=False):
            return ()  # another thread of this process is at it, in order
        try:
            if not self._store.elect(POST, self._owner, self._now()):
                return ()
            self._store.reread_all(self._now(), most=REREAD_AT_ONCE)
            return tuple(self._run_in_order())
        finally:
            self._alone.release()

    def _waiting(self) -> tuple[Due, ...]:
        """List what is due and not done; at the very first start only the newest of each job."""
        now = self._now()
        found: list[Due] = []
        with self._store.begin(readonly=True) as work:
            for entry in self._entries:
                last = work.last_run(entry.job)
                first = work.first_run(entry.job) if last is None else None
                if last is not None:
                    found.extend(due_between(last.due_at, now, [entry]))
                elif first is not None:  # the very first run never came to its end
                    found += [Due(entry=entry, at=first.due_at), *due_between(first.due_at, now, [entry])]
                else:
                    found.append(latest_due(entry, now))
        return tuple(sorted(found, key=lambda due: (due.at, due.entry.job)))

    def _run_in_order(self) -> Iterator[Outcome]:
        """Run what is due; later ones wait while an earlier is with somebody, alive or just killed."""
        for due in self._waiting():
            if self._claim(due):
                yield self._run(due)
                continue
            with self._store.begin() as work:
                if work.is_held(due.entry.job, due.at, self._now()):
                    return
                if work.give_up_run(due.entry.job, due.at, self._now(), DIED):
                    work.commit()

    def _claim(self, due: Due) -> bool:
        with self._store.begin() as work:
            attempts = MAIL_ATTEMPTS if due.entry.job == DIGEST else ATTEMPTS
            claimed = work.claim_run(due.entry.job, due.at, self._now(), self._owner, attempts=attempts)
            work.commit()
        return claimed

    def _run(self, due: Due) -> Outcome:
        self._running = due
        try:
            counts = self._job(due)
        except Exception as err:
            self._finish(due, "failed", {}, f"{type(err).__name__}: {err}")
            raise
        finally:
            self._running = None
        self._finish(due, "done", counts, "")
        return Outcome(due=due, counts=counts)

    def _job(self, due: Due) -> dict[str, int]:
        entry: Entry = due.entry
        day_before = entry.local_day(due.at) - timedelta(days=1)
        if entry.job == NIGHTLY:
            report = evaluate(
                self._store, as_of=day_before, now=self._now(), terms=self._terms, engine=self._engine
            )
            return report.counts()
        if entry.job == DIGEST:
            return self._send(due)
        if entry.job == RETAIN and self._keep is not None:
            return self._retain(due, self._keep)
        with self._store.begin() as work:
            week = freeze_week(work, after_day=to_day(day_before), now=self._now(), terms=self._terms)
            work.commit()
            kept = work.report(week_of(entry.local_day(due.at)).label)
        if kept is not None and self._publish is not None:
            report = orjson.loads(kept.body)
            self._publish(make_digest(report, workshop_hours=self._terms.workshop_hours))
        return {"reports": 1 if week else 0}

    def _retain(self, due: Due, keep: Keep) -> dict[str, int]:
        """Remove what is too old; the very first run only counts, so that somebody may read it in time."""
        now = self._now()
        lines = lines_of(keep, now, self._terms.zone)
        with self._store.begin(readonly=True) as work:
            earlier = [one for one in work.runs(job=RETAIN) if one.outcome == "done" and one.due_at < due.at]
            if not earlier:
                return look(work, lines).counts()
        return retain(self._store, lines, now=now, who=BY_SCHEDULE, engine=self._engine).counts()

    def _send(self, due: Due) -> dict[str, int]:
        """Mail a week's digest; one of an earlier week is out of date and is not sent."""
        with self._store.begin(readonly=True) as work:
            kept = work.report(week_of(due.entry.local_day(due.at)).label)
        late = due.at < latest_due(due.entry, self._now()).at
        if kept is None or late or self._mail is None:
            return {"mails": 0}
        self._mail(make_digest(orjson.loads(kept.body), workshop_hours=self._terms.workshop_hours))
        return {"mails": 1}

    def _finish(self, due: Due, outcome: str, counts: dict[str, Any], error: str) -> None:
        with self._store.begin() as work:
            work.finish_run(
                due.entry.job, due.at, self._now(), outcome, owner=self._owner, counts=counts, error=error
            )
            work.commit()
