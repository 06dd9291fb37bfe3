"""The ledger of job runs: of several processes exactly one wins each run."""

from collections.abc import Mapping
from datetime import datetime, timedelta

from service.store.unit import Unit
from service.store.values import Run

STALE_AFTER = timedelta(minutes=10)
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
        stale_after: timedelta = STALE_AFTER,
        attempts: int = 3,
    ) -> bool:
        """Claim a run: True for exactly one caller; also when the owner died or the run failed and may be tried again.

        Commit at once, so that others see the claim.
        """
        raise NotImplementedError

    def beat_run(self, job: str, due_at: datetime, now: datetime, owner: str) -> bool:
        """Give a sign of life; False when the run belongs to somebody else by now."""
        raise NotImplementedError

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
        """Close a run as `done` or `failed`; False when the run belongs to somebody else by now."""
        raise NotImplementedError

    def runs(self, *, job: str = "", limit: int = 200) -> tuple[Run, ...]:
        """List runs, latest due first."""
        raise NotImplementedError

    def last_run(self, job: str, *, outcome: str = "done") -> Run | None:
        """Give the latest due run of a job with that outcome; None where there is none."""
        raise NotImplementedError
