"""The jobs page."""

from datetime import time
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse

from dashboards.jobs import JobsView, NextRun, Run
from service.schedule.timetable import next_due, timetable
from service.store import Run as KeptRun
from service.web.pages.frames import make_frame, show, zone_of
from service.web.readers import allow
from service.web.shell import Shell, shell_of

router = APIRouter(dependencies=[Depends(allow("read"))])

RUNS_SHOWN = 100
"""Runs on the page, newest first; chosen by us: three months of nights."""


@router.get("/jobs")
def jobs_page(request: Request) -> HTMLResponse:
    """Say whether the night's work ran, and if not why, for the administrator."""
    shell = shell_of(request)
    with shell.store.begin(readonly=True) as work:
        runs = work.runs(limit=RUNS_SHOWN)
        newest = shell.memory.newest(work)
    zone = zone_of(shell)
    view = JobsView(upcoming=_upcoming(shell, zone), runs=tuple(_line(run, zone) for run in runs))
    return show(view, make_frame(request, "Jobs", newest=newest))


def _upcoming(shell: Shell, zone: ZoneInfo) -> tuple[NextRun, ...]:
    now = shell.clock.now()
    coming = [
        NextRun(job=entry.job, due=next_due(entry, now).astimezone(zone))
        for entry in timetable(
            zone,
            nightly_at=time.fromisoformat(shell.settings.evaluate_at),
            mails=bool(shell.settings.smtp_url and shell.settings.digest_to),
            retains=True,
        )
    ]
    return tuple(sorted(coming, key=lambda one: one.due))


def _line(run: KeptRun, zone: ZoneInfo) -> Run:
    return Run(
        job=run.job,
        due=run.due_at.astimezone(zone),
        started=run.started_at.astimezone(zone),
        ended=None if run.finished_at is None else run.finished_at.astimezone(zone),
        outcome=run.outcome or "running",
        counts=tuple(sorted(run.counts.items())),
        error=run.error,
    )
