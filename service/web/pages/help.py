"""Help and glossary."""

from typing import Final

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, RedirectResponse

from dashboards.glossary import help_view, words_view
from dashboards.help import HelpView, Term, Topic
from service.web.catalogue import PROBLEMS
from service.web.pages.frames import make_frame, show
from service.web.readers import anyone
from service.web.shell import shell_of

router = APIRouter(dependencies=[Depends(anyone)])

_GUARDED: Final = (
    "The pages ask nobody who they are. A reverse proxy stands before them and signs people in; whoever it"
    " lets through may read every page."
)
_LOCAL: Final = (
    "The pages ask nobody who they are, so the service listens on its own machine only. To offer them to"
    " others, put a reverse proxy that signs people in before it, and set FORELAMP_PAGES_BEHIND_PROXY=true."
)


@router.get("/")
def home() -> RedirectResponse:
    """Lead to the week: no click after the address."""
    return RedirectResponse("/week", status_code=307)


@router.get("/help")
def help_page(request: Request) -> HTMLResponse:
    """Say how to read the pages, who may read them, and how programs talk to the service."""
    behind_proxy = shell_of(request).settings.pages_behind_proxy
    return show(HelpView(topics=help_topics(behind_proxy)), make_frame(request, "Help"))


@router.get("/help/words")
def words_page(request: Request) -> HTMLResponse:
    """Say what the words mean, for anyone."""
    return show(words_view(), make_frame(request, "Words"))


def help_topics(behind_proxy: bool) -> tuple[Topic, ...]:
    """Write the parts of the help.

    Parameters
    ----------
    behind_proxy : bool
        Whether a proxy signs people in.

    Returns
    -------
    tuple of Topic
        What is not there yet is said to be not there yet.
    """
    return (
        *help_view().topics,
        Topic(
            anchor="who",
            heading="Who may read and who may change",
            text=(
                f"{_GUARDED if behind_proxy else _LOCAL} Accounts for people are not part of this version;"
                " until they are, the pages show and change nothing. Tickets are moved, and records sent,"
                " through the interface for programs or the command line, with a token."
            ),
            terms=(),
        ),
        Topic(
            anchor="programs",
            heading="For programs",
            text=(
                "Snapshots come in, and lists and files go out, under /api/v1. Every request needs a token;"
                " 'forelamp token add NAME --scope send' issues one and shows it once. The description is at"
                " /api/docs, for programs at /api/openapi.json. Each problem's type is the address of a page."
            ),
            terms=tuple(Term(word=one.code, meaning=one.title) for one in PROBLEMS.values()),
        ),
    )
