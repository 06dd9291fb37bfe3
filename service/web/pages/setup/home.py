"""The home of the setup: what is missing, as the integrator's tasks."""

from collections.abc import Iterable
from datetime import datetime, time, timedelta
from typing import Final

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse

from dashboards.formats import count
from dashboards.setup.home import Area, SetupView, Task
from dashboards.words import HELD, say
from service.auth.rights import Right, may
from service.schedule.timetable import DIGEST
from service.store import Work
from service.web.pages.coverage import gap_of
from service.web.pages.frames import make_frame, show
from service.web.pages.setup.devices import clock_minutes
from service.web.pages.setup.sheets import Revisions
from service.web.pages.situation import Situation, load_situation
from service.web.pages.tray import waiting_names
from service.web.readers import allow, reader_of
from service.web.shell import shell_of

router = APIRouter(dependencies=[Depends(allow("vehicles"))])

EXAMPLES: Final = 3
"""Things named with each task; chosen by us."""

SAID_READ: Final = 100
"""Newest remarks on sheets that are looked at; chosen by us."""

ODOMETER_DAYS: Final = 28
"""Days back for which an odometer that fell is asked about; chosen by us: then it is history."""

ODOMETER_KM: Final = 10.0
"""Fall of an odometer that is asked about [km]; chosen by us: loggers round, and read out of order."""

AREAS: Final[tuple[tuple[str, str, Right], ...]] = (
    ("vehicles", "/setup/vehicles", "vehicles"),
    ("sheets", "/setup/sheets", "sheets"),
    ("names", "/setup/names", "names"),
    ("devices", "/setup/devices", "devices"),
    ("load", "/setup/load", "vehicles"),
    ("held", "/coverage#aside", "names"),
    ("costs", "/setup/costs", "costs"),
    ("people", "/setup/people", "people"),
    ("retention", "/setup/retention", "retention"),
)
"""Parts of the setup: code, page, and the right that changes them."""


@router.get("/setup")
def setup_page(request: Request) -> HTMLResponse:
    """Say what is missing, for integrator and administrator."""
    shell = shell_of(request)
    with shell.store.begin(readonly=True) as work:
        situation = load_situation(shell, work)
        tasks, holds = _look(situation, work)
    view = SetupView(
        registered=situation.registered,
        tasks=tasks,
        areas=tuple(
            Area(code=code, href=href, holds=holds.get(code, ""))
            for code, href, right in AREAS
            if may(reader_of(request).role, right)
        ),
    )
    return show(view, make_frame(request, "Setup"))


def _failed_mail(work: Work) -> list[str]:
    """Name the newest digest if its mail failed; nothing once a later one went out."""
    newest = work.runs(job=DIGEST, limit=1)
    return [f"due {one.due_at:%Y-%m-%d}" for one in newest if one.outcome == "failed"]


def _look(situation: Situation, work: Work) -> tuple[tuple[Task, ...], dict[str, str]]:
    revisions = work.sheet_revisions()
    on_file = {kept.sheet for _, kept in revisions if kept.standing == "in_force"}
    drafts = [f"{kept.sheet} revision {kept.revision}" for _, kept in revisions if kept.standing == "draft"]
    serving = situation.vehicles
    held = {code: held for (kind, code), held in work.refusal_counts().items() if kind == "quarantined"}
    uses = [one for one in work.token_uses() if clock_minutes(one) is not None]
    tokens = work.tokens()
    names = waiting_names(work)
    found = (
        _task("without_sheet", [one.vehicle for one in serving if not one.spec_sheet], "/setup/vehicles"),
        _task(
            "unknown_sheet",
            [one.vehicle for one in serving if one.spec_sheet and one.spec_sheet not in on_file],
            "/setup/sheets",
        ),
        _task("drafts", drafts, "/setup/sheets"),
        _task("sheet_wrong", _said_wrong(work, revisions), "/setup/sheets"),
        _task("names", [one.name for one in names], "/setup/names"),
        _task("held", [say(HELD, code) for code in held], "/coverage#aside", total=sum(held.values())),
        _task(
            "silent",
            [one.vehicle for one in serving if gap_of(one.vehicle, situation) == "silent"],
            "/coverage",
        ),
        _task("odometer_back", _odometers_back(situation, work), "/setup/vehicles"),
        _task("digest_failed", _failed_mail(work), "/jobs"),
        _task("clocks", [one.name for one in uses], "/setup/devices"),
    )
    holds = {
        "vehicles": f"{situation.registered} registered",
        "sheets": count(len(revisions), "revision"),
        "names": f"{len(names)} waiting",
        "devices": count(sum(one.revoked_at is None for one in tokens), "token") + " in use",
        "held": f"{sum(held.values())} held",
    }
    return tuple(task for task in found if task is not None), holds


def _odometers_back(situation: Situation, work: Work) -> list[str]:
    """Ask about each odometer that fell of late: an instrument was changed, or somebody mistyped."""
    since = datetime.combine(situation.today - timedelta(days=ODOMETER_DAYS), time(), situation.zone)
    serving = {one.vehicle for one in situation.vehicles}
    return [
        f"{vehicle}: {before:,.0f} km, then {now:,.0f} km"
        for vehicle, before, now in work.odometers_back(since, by_km=ODOMETER_KM)
        if vehicle in serving
    ]


def _said_wrong(work: Work, revisions: Revisions) -> list[str]:
    """Name what mechanics say is wrong, until a later revision of that sheet comes into force."""
    newest: dict[str, datetime] = {}
    for _, kept in revisions:
        if kept.approved_at is not None:
            newest[kept.sheet] = max(kept.approved_at, newest.get(kept.sheet, kept.approved_at))
    said = work.log_entries(what="sheet said to be wrong", limit=SAID_READ).rows
    found = []
    for line in said:
        sheet = max((name for name in newest if line.after.startswith(name)), key=len, default="")
        if not sheet or newest[sheet] < line.at:
            found.append(f"{line.subject}: {line.after.partition(': told')[0]}")
    return found


def _task(kind: str, things: Iterable[str], href: str, *, total: int = 0) -> Task | None:
    found = list(things)
    if not found:
        return None
    return Task(kind=kind, count=total or len(found), examples=tuple(found[:EXAMPLES]), href=href)
