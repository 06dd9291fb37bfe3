"""The work list: what a mechanic does next."""

from collections.abc import Iterable
from datetime import date
from typing import Annotated, Final

from fastapi import APIRouter, Depends, Query, Request
from starlette.responses import HTMLResponse

from dashboards.links import work_url
from dashboards.rows import TicketLine
from dashboards.work import WorkView
from service.tickets.priority import ranked
from service.tickets.ticket import Ticket, is_calm
from service.web.pages.frames import make_frame, show
from service.web.pages.lines import ticket_line
from service.web.pages.situation import Situation, load_situation
from service.web.readers import Reader, allow, reader_of
from service.web.shell import shell_of

HANDS: Final = frozenset({"mechanic", "lead"})
"""Roles that have tickets in hand."""

router = APIRouter(dependencies=[Depends(allow("read"))])


MOST_LINES: Final = 80
"""Lines of the list on one page; chosen by us: with them a page stays well under 150,000 bytes."""

MOST_ASIDE: Final = 20
"""Lines of each group below it: in other hands, in proof, resting; chosen by us."""


@router.get("/work")
def work_page(
    request: Request, depot: str = "", page: Annotated[int, Query(ge=1, le=1000)] = 1
) -> HTMLResponse:
    """List open tickets in order, for the mechanic at the bench: what next, and where to look first."""
    shell = shell_of(request)
    with shell.store.begin(readonly=True) as work:
        situation = load_situation(shell, work)
    frame = make_frame(request, "Work", newest=situation.newest, data_up_to=situation.data_up_to)
    return show(make_view(situation, depot, reader_of(request), page), frame)


def make_view(situation: Situation, depot: str, reader: Reader, page: int = 1) -> WorkView:
    """Put the open tickets in order and into their groups.

    Parameters
    ----------
    situation : Situation
        How the fleet stands.
    depot : str
        Depot the list is held to; empty for all.
    reader : Reader
        A mechanic or lead sees the own tickets first, then those that nobody has, of the own depot first;
        anyone else sees one list in order.
    page : int
        Page of that list, from 1.

    Returns
    -------
    WorkView
        Each open ticket once, over all pages; groups below the list are cut, and say so.
    """
    tickets = [one for one in ranked(situation.open_tickets) if depot in ("", one.depot)]
    active = [one for one in tickets if not is_calm(one)]
    splits = reader.role in HANDS
    mine = [one for one in active if splits and one.assignee == reader.login]
    free = [one for one in active if splits and not one.assignee]
    free.sort(key=lambda one: reader.depot not in ("", one.depot))
    others = [one for one in active if splits and one.assignee not in ("", reader.login)]
    proof = [one for one in tickets if one.status == "done"]
    resting = [one for one in tickets if one.status != "done" and is_calm(one)]
    todo = free if splits else active
    first = (page - 1) * MOST_LINES

    def lines(found: list[Ticket], most: int = MOST_ASIDE) -> tuple[TicketLine, ...]:
        return tuple(
            ticket_line(one, situation.today_of(one.vehicle), situation.zone) for one in found[:most]
        )

    shown = lines(todo[first:], MOST_LINES)
    return WorkView(
        depot=depot,
        depots=tuple(sorted({one.depot for one in situation.vehicles if one.depot})),
        mine=lines(mine, MOST_LINES) if page == 1 else (),
        unassigned=shown if splits else (),
        others=lines(others),
        in_order=() if splits else shown,
        proof=lines(proof),
        resting=lines(resting),
        following=work_url(depot, page + 1) if len(todo) > first + MOST_LINES else "",
        hidden=sum(max(0, len(group) - MOST_ASIDE) for group in (others, proof, resting)),
        next_due=_next_due([*others, *resting], situation.today),
    )


def _next_due(tickets: Iterable[Ticket], today: date) -> date | None:
    """Give the next day on which a ticket that waits, or is in other hands, asks for somebody."""
    days = (one.deferred_until or one.due_by for one in tickets)
    return min((day for day in days if day is not None and day >= today), default=None)
