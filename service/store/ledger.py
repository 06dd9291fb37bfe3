"""The ledger of job runs: of several processes exactly one wins each run."""

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any, Final

from sqlalchemy import ColumnElement, and_, not_, or_, select, update

from service.store.columns import from_us, to_us
from service.store.packing import from_text, to_text
from service.store.tables import RUN
from service.store.unit import Unit
from service.store.values import Run

STALE_AFTER: Final = timedelta(minutes=10)
"""A run whose owner gave no sign for so long is taken for dead; chosen by us: ten missed one-minute beats."""


class Ledger(Unit):
    """Runs of jobs."""

    def claim_run(
        self,
        job: str,
        due_at: datetime,
        now: datetime,
        owner: str,
        *,
        attempts: int = 3,
    ) -> bool:
        """Claim a run; commit at once, so that others see the claim.

        Parameters
        ----------
        job : str
            Name of the job.
        due_at, now : datetime
            Aware. The run is named by the job and the time it was due.
        owner : str
            Who claims it; unique to the process.
        attempts : int
            How often a run may be tried in all, dead owners and failures together.

        Returns
        -------
        bool
            True for exactly one caller at a time; never again once the run is `done`. A run whose owner was
            silent for `STALE_AFTER` may be taken over.
        """
        fresh = {
            "owner": owner,
            "started_at": now,
            "beat_us": to_us(now),
            "finished_at": None,
            "outcome": "",
            "counts": "",
            "error": "",
        }
        statement = self._insert(RUN).values(job=job, due_us=to_us(due_at), attempt=1, **fresh)
        silent = and_(RUN.c.finished_at.is_(None), _is_silent(now))
        claimed = self._connection.execute(
            statement.on_conflict_do_update(
                index_elements=["job", "due_us"],
                set_=fresh | {"attempt": RUN.c.attempt + 1},
                where=and_(RUN.c.attempt < attempts, or_(silent, RUN.c.outcome == "failed")),
            ).returning(RUN.c.owner)
        )
        return claimed.first() is not None

    def is_held(self, job: str, due_at: datetime, now: datetime) -> bool:
        """Tell whether somebody is at a run: it is not closed, and its last sign of life is not too old."""
        query = select(RUN.c.owner).where(
            RUN.c.job == job,
            RUN.c.due_us == to_us(due_at),
            RUN.c.finished_at.is_(None),
            not_(_is_silent(now)),
        )
        return self._connection.scalar(query) is not None

    def give_up_run(self, job: str, due_at: datetime, now: datetime, error: str) -> bool:
        """Close a run as `failed` whose owner died without a word; False where none is open and silent."""
        silent = and_(
            RUN.c.job == job,
            RUN.c.due_us == to_us(due_at),
            RUN.c.finished_at.is_(None),
            _is_silent(now),
        )
        values = {"finished_at": now, "outcome": "failed", "error": error}
        return self._connection.execute(update(RUN).where(silent).values(**values)).rowcount == 1

    def beat_run(self, job: str, due_at: datetime, now: datetime, owner: str) -> bool:
        """Give a sign of life; False when the run is closed or belongs to somebody else by now."""
        return self._change_run(job, due_at, owner, {"beat_us": to_us(now)})

    def finish_run(
        self,
        job: str,
        due_at: datetime,
        now: datetime,
        outcome: str,
        *,
        owner: str,
        counts: Mapping[str, int] | None = None,
        error: str = "",
    ) -> bool:
        """Close a run as `done` or `failed`; False when it is closed or belongs to somebody else by now.

        Raises
        ------
        ValueError
            Another outcome.
        """
        if outcome not in {"done", "failed"}:
            raise ValueError(f"A run ends as 'done' or 'failed', not as {outcome!r}.")
        values = {
            "finished_at": now,
            "beat_us": to_us(now),
            "outcome": outcome,
            "counts": to_text(dict(counts or {})),
            "error": error,
        }
        return self._change_run(job, due_at, owner, values)

    def runs(self, *, job: str = "", limit: int = 200) -> tuple[Run, ...]:
        """List runs, latest due first."""
        query = select(RUN).order_by(RUN.c.due_us.desc(), RUN.c.job).limit(limit)
        if job:
            query = query.where(RUN.c.job == job)
        return tuple(_run(row) for row in self._connection.execute(query))

    def last_run(self, job: str, *, outcome: str = "done") -> Run | None:
        """Give the latest due run of a job with that outcome; None where there is none."""
        query = select(RUN).where(RUN.c.job == job, RUN.c.outcome == outcome)
        row = self._connection.execute(query.order_by(RUN.c.due_us.desc()).limit(1)).one_or_none()
        return None if row is None else _run(row)

    def first_run(self, job: str) -> Run | None:
        """Give the earliest due run of a job, whatever became of it; None where none was ever claimed."""
        query = select(RUN).where(RUN.c.job == job).order_by(RUN.c.due_us).limit(1)
        row = self._connection.execute(query).one_or_none()
        return None if row is None else _run(row)

    def _change_run(self, job: str, due_at: datetime, owner: str, values: dict[str, Any]) -> bool:
        mine = and_(
            RUN.c.job == job,
            RUN.c.due_us == to_us(due_at),
            RUN.c.owner == owner,
            RUN.c.finished_at.is_(None),
        )
        return self._connection.execute(update(RUN).where(mine).values(**values)).rowcount == 1


def _is_silent(now: datetime) -> ColumnElement[bool]:
    """Give the condition on a run whose owner gave no sign of life for too long, or only by a wrong clock.

    A sign from far ahead was given before the clock was put right; whoever is alive has given another since.
    """
    return not_(RUN.c.beat_us.between(to_us(now - STALE_AFTER), to_us(now + STALE_AFTER)))


def _run(row: Any) -> Run:
    return Run(
        job=row.job,
        due_at=from_us(row.due_us),
        owner=row.owner,
        attempt=row.attempt,
        started_at=row.started_at,
        beat_at=from_us(row.beat_us),
        finished_at=row.finished_at,
        outcome=row.outcome,
        counts=from_text(row.counts, dict[str, int]) if row.counts else {},
        error=row.error,
    )
