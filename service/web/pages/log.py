"""The event log, for administrators."""

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse

from dashboards.links import log_url
from dashboards.log import LogLine, LogView
from service.web.pages.frames import make_frame, show, zone_of
from service.web.readers import allow
from service.web.shell import shell_of

router = APIRouter(dependencies=[Depends(allow("log"))])

LINES_SHOWN = 100
"""Events on one page; chosen by us: a day's work of a large fleet."""


@router.get("/log")
def log_page(
    request: Request, who: str = "", what: str = "", subject: str = "", cursor: str = ""
) -> HTMLResponse:
    """Show who changed what, for the administrator who asks why something is as it is."""
    shell = shell_of(request)
    filters = {"who": who.strip(), "what": what.strip(), "subject": subject.strip()}
    with shell.store.begin(readonly=True) as work:
        page = work.log_entries(**filters, limit=LINES_SHOWN, cursor=cursor)
    zone = zone_of(shell)
    lines = tuple(
        LogLine(
            number=one.number,
            at=one.at.astimezone(zone),
            who=one.who,
            what=one.what,
            subject=one.subject,
            before=one.before,
            after=one.after,
            source=one.source,
        )
        for one in page.rows
    )
    following = log_url(**filters, cursor=page.cursor) if page.cursor else ""
    return show(LogView(lines=lines, **filters, following=following), make_frame(request, "Event log"))
