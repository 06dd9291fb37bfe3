"""The work list: what a mechanic does next."""

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse

from dashboards.rows import TicketLine
from dashboards.work import WorkView
from service.tickets.priority import ranked
from service.tickets.ticket import Ticket, is_calm
from service.web.pages.frames import make_frame, show
from service.web.pages.lines import ticket_line
from service.web.pages.situation import Situation, load_situation
from service.web.readers import allow
from service.web.shell import shell_of

router = APIRouter(dependencies=[Depends(allow("read"))])


@router.get("/work")
def work_page(request: Request, depot: str = "") -> HTMLResponse:
    """List open tickets in order, for the mechanic at the bench: what next, and where to look first."""
    shell = shell_of(request)
    with shell.store.begin(readonly=True) as work:
        situation = load_situation(shell, work)
    frame = make_frame(request, "Work", assessed_at=situation.newest.made_at, data_up_to=situation.data_up_to)
    return show(make_view(situation, depot), frame)


def make_view(situation: Situation, depot: str) -> WorkView:
    """Put the open tickets in order and into their groups; without accounts nothing is the reader's own.

    Parameters
    ----------
    situation : Situation
        How the fleet stands.
    depot : str
        Depot the list is held to; empty for all.

    Returns
    -------
    WorkView
        Each open ticket once.
    """
    tickets = [one for one in ranked(situation.open_tickets) if depot in ("", one.depot)]
    proof = [one for one in tickets if one.status == "done"]
    resting = [one for one in tickets if one.status != "done" and is_calm(one)]
    active = [one for one in tickets if not is_calm(one)]
    dues = [one.due_by for one in active if one.due_by is not None and one.due_by >= situation.today]

    def lines(found: list[Ticket]) -> tuple[TicketLine, ...]:
        return tuple(ticket_line(one, situation.today, situation.zone) for one in found)

    return WorkView(
        depot=depot,
        depots=tuple(sorted({one.depot for one in situation.vehicles if one.depot})),
        mine=(),
        unassigned=(),
        others=(),
        in_order=lines(active),
        proof=lines(proof),
        resting=lines(resting),
        next_due=min(dues, default=None),
    )
