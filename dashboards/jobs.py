"""The jobs page: each run of the schedule."""

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """One run of a job."""

    job: Annotated[str, "Name of the job, a code of `words.JOBS`."]
    due: Annotated[datetime, "When it was due."]
    started: Annotated[datetime | None, "When it started; None when it has not."]
    ended: Annotated[datetime | None, "When it ended; None when it has not."]
    outcome: Annotated[str, "How it went, a code of `words.OUTCOMES`."]
    counts: Annotated[tuple[tuple[str, int], ...], "What it counted, name and number."]
    error: Annotated[str, "What went wrong; empty when nothing."]


@dataclass(frozen=True, slots=True, kw_only=True)
class NextRun:
    """One job that is to come."""

    job: Annotated[str, "Name of the job, a code of `words.JOBS`."]
    due: Annotated[datetime, "When it is due."]


@dataclass(frozen=True, slots=True, kw_only=True)
class JobsView:
    """For the administrator: did the night's work run, and if not, why."""

    upcoming: Annotated[tuple[NextRun, ...], "What comes next."]
    runs: Annotated[tuple[Run, ...], "Runs, the newest first."]
