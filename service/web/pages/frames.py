"""What surrounds every page: the ways around, the age of the data, the notices."""

from datetime import date, datetime, timedelta
from typing import Final
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from fastapi import Request
from starlette.responses import HTMLResponse

from dashboards.frame import Banner, Frame, Link, Session, Units
from dashboards.render import View, render
from dashboards.words import SAVED, SENTENCES
from service.auth.rights import ROLES, Right, may
from service.auth.sessions import seconds_left
from service.web.memory import Newest
from service.web.readers import Reader, reader_of
from service.web.shell import Shell, shell_of

WAYS: Final[tuple[tuple[str, str, Right], ...]] = (
    ("/week", "Week", "read"),
    ("/plan", "Plan", "plan"),
    ("/vehicles", "Vehicles", "read"),
    ("/work", "Work", "read"),
    ("/coverage", "Coverage", "read"),
    ("/money", "Money", "money"),
    ("/exports", "Exports", "export"),
    ("/jobs", "Jobs", "read"),
    ("/setup", "Setup", "vehicles"),
    ("/log", "Log", "log"),
)
"""Main ways in the order in which they are shown, each with the right it needs: others do not see it."""

STALE_AFTER: Final = timedelta(hours=30)
"""Age of an evaluation from which the pages say so; chosen by us: a night, and six hours to finish."""

UNITS_COOKIE: Final = "units"


def zone_of(shell: Shell) -> ZoneInfo:
    """Find the fleet's time zone."""
    return ZoneInfo(shell.settings.fleet_zone)


def today_of(shell: Shell) -> date:
    """Give today's date in the fleet's time zone."""
    return shell.clock.now().astimezone(zone_of(shell)).date()


def units_of(request: Request) -> Units:
    """Read which units the reader wants: the account's, else the cookie's, else metric."""
    kept = reader_of(request).units
    if kept in ("metric", "us"):
        return "us" if kept == "us" else "metric"
    return "us" if request.cookies.get(UNITS_COOKIE) == "us" else "metric"


def make_frame(
    request: Request,
    title: str,
    *,
    newest: Newest | None = None,
    assessed_at: datetime | None = None,
    data_up_to: datetime | None = None,
    zone: str = "",
    lost: str = "",
) -> Frame:
    """Make the frame of a page.

    Parameters
    ----------
    request : Request
        For address, cookie and settings.
    title : str
        The page's one heading.
    newest : Newest or None
        Evaluation that the page shows, and whether a later run failed; None where it shows none.
    assessed_at : datetime or None
        When what the page shows was made, where that is not the newest evaluation.
    data_up_to : datetime or None
        Aware; None where the page does not know, or there is none.
    zone : str
        Zone shown; the fleet's by default.
    lost : str
        What the page's day has lost to erasure and retention since; empty for nothing.

    Returns
    -------
    Frame
        Times in the zone.
    """
    shell = shell_of(request)
    reader = reader_of(request)
    failed_at = None
    if newest is not None:
        assessed_at, failed_at = newest.made_at, newest.failed_at
    name = zone or shell.settings.fleet_zone
    local = ZoneInfo(name)
    return Frame(
        title=title,
        nav=tuple(
            Link(href=href, text=text, current=_is_under(request.url.path, href))
            for href, text, right in WAYS
            if may(reader.role, right)
        ),
        zone=name,
        data_up_to=None if data_up_to is None else data_up_to.astimezone(local),
        assessed_at=None if assessed_at is None else assessed_at.astimezone(local),
        banners=(*_said(request), *_banners(shell, assessed_at, failed_at), *_lost(lost)),
        units=units_of(request),
        role=reader.role,
        login="" if shell.settings.practice else reader.login,
        roles=ROLES if shell.settings.practice else (),
        token=reader.form_token,
        session=_session(reader, shell),
        here=_without_saved(request),
    )


def _session(reader: Reader, shell: Shell) -> Session | None:
    """Say how long the sign-in lasts from now on: the page itself has just used it."""
    if reader.expires_at is None:
        return None
    now, idle = shell.clock.now(), timedelta(minutes=shell.settings.session_idle_minutes)
    left, can_stay = seconds_left(now, seen_at=now, expires_at=reader.expires_at, idle=idle)
    return Session(left_s=left, idle_s=int(idle.total_seconds()), can_stay=can_stay)


def _is_under(path: str, way: str) -> bool:
    return path == way or path.startswith(f"{way}/")


def _said(request: Request) -> tuple[Banner, ...]:
    """Say what a form did that led here; codes that nobody knows say nothing."""
    code = request.query_params.get("saved", "")
    return (Banner(kind="saved", detail=SAVED[code]),) if code in SAVED else ()


def _lost(lost: str) -> tuple[Banner, ...]:
    """Say what a past day has lost since."""
    return (Banner(kind="removed", detail=f"This day has lost {lost} since."),) if lost else ()


def _without_saved(request: Request) -> str:
    """Give the page's address, so that coming back to it does not say again that something was saved."""
    kept = urlencode([one for one in request.query_params.multi_items() if one[0] != "saved"])
    return request.url.path + (f"?{kept}" if kept else "")


def _banners(shell: Shell, assessed_at: datetime | None, failed_at: datetime | None) -> tuple[Banner, ...]:
    found = [Banner(kind="practice")] if shell.settings.practice else []
    if failed_at is not None:
        found.append(Banner(kind="failed", detail=SENTENCES["help_failed"]))
    if assessed_at is not None:
        age = shell.clock.now() - assessed_at
        if age > STALE_AFTER:
            found.append(Banner(kind="stale", detail=f"The last good evaluation is {_in_words(age)} old."))
    return tuple(found)


def _in_words(age: timedelta) -> str:
    hours = int(age / timedelta(hours=1))
    return f"{hours} hours" if hours < 72 else f"{hours // 24} days"


def show(view: View, frame: Frame, status: int = 200) -> HTMLResponse:
    """Render a page."""
    return HTMLResponse(render(view, frame), status)
