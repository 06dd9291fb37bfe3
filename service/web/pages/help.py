"""Help and glossary."""

from typing import Final

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, RedirectResponse

from dashboards.glossary import help_view, words_view
from dashboards.help import HelpView, Term, Topic
from dashboards.words import ROLE_MAY
from dashboards.words import ROLES as ROLE_WORDS
from service.auth.rights import ROLES
from service.web.catalogue import PROBLEMS
from service.web.pages.frames import make_frame, show
from service.web.readers import anyone
from service.web.shell import shell_of

router = APIRouter(dependencies=[Depends(anyone)])

_SIGNED_IN: Final = (
    "Each person signs in with an account that an administrator made; the role says which pages and forms"
    " open. A viewer, mechanic or lead can be held to one depot: other depots' vehicles are then not there."
    " Every change is in the event log under the name of the person or token. If a sign-in ends while you"
    " type, nothing is lost: you sign in and send the form again."
)
_PRACTICE: Final = (
    "This is the practice fleet: nobody signs in, it listens on its own machine only, and at the top of each"
    " page you choose the role in which you look around."
)


@router.get("/")
def home() -> RedirectResponse:
    """Lead to the week: no click after the address."""
    return RedirectResponse("/week", status_code=307)


@router.get("/help")
def help_page(request: Request) -> HTMLResponse:
    """Say how to read the pages, who may read them, and how programs talk to the service."""
    practice = shell_of(request).settings.practice
    return show(HelpView(topics=help_topics(practice=practice)), make_frame(request, "Help"))


@router.get("/help/words")
def words_page(request: Request) -> HTMLResponse:
    """Say what the words mean, for anyone."""
    return show(words_view(), make_frame(request, "Words"))


def help_topics(*, practice: bool) -> tuple[Topic, ...]:
    """Write the parts of the help.

    Parameters
    ----------
    practice : bool
        Whether it is the practice fleet, where nobody signs in.

    Returns
    -------
    tuple of Topic
        Who may do what is told from the table of rights.
    """
    return (
        *help_view().topics,
        Topic(
            anchor="who",
            heading="Who may read and who may change",
            text=_PRACTICE if practice else _SIGNED_IN,
            terms=tuple(Term(word=ROLE_WORDS[role], meaning=ROLE_MAY[role]) for role in ROLES),
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
