"""The list of vehicles."""

from collections.abc import Callable, Mapping
from datetime import date
from typing import Any, Final

from fastapi import APIRouter, Depends, Query, Request
from starlette.responses import HTMLResponse

from dashboards.links import list_url
from dashboards.rows import Urgency
from dashboards.vehicles import DepotLine, VehicleLine, VehiclesView
from service.web.pages.frames import make_frame, show
from service.web.pages.lines import count_words, why_of
from service.web.pages.situation import Situation, load_situation
from service.web.query import choose
from service.web.readers import allow
from service.web.shell import shell_of
from service.web.urgency import URGENCIES

router = APIRouter(dependencies=[Depends(allow("read"))])

PAGE_ROWS: Final = 100
"""Vehicles on one page; chosen by us: a small fleet fits on one."""

SORTS: Final = ("urgency", "vehicle", "depot", "last")


@router.get("/vehicles")
def vehicles_page(  # one argument for each filter that a link may carry
    request: Request,
    query: str = "",
    depot: str = "",
    word: str = "",
    sort: str = "urgency",
    first: int = Query(1, ge=1),
) -> HTMLResponse:
    """List vehicles for anyone who looks for one: which, where, how they stand."""
    choose("word", word, ("", *URGENCIES))
    choose("sort", sort, SORTS)
    shell = shell_of(request)
    with shell.store.begin(readonly=True) as work:
        situation = load_situation(shell, work)
    view = make_view(situation, query=query, depot=depot, word=word, sort=sort, first=first)
    frame = make_frame(request, "Vehicles", newest=situation.newest, data_up_to=situation.data_up_to)
    return show(view, frame)


def make_view(
    situation: Situation, *, query: str, depot: str, word: str, sort: str, first: int
) -> VehiclesView:
    """Filter, sort and cut the list.

    Parameters
    ----------
    situation : Situation
        How the fleet stands.
    query, depot, word, sort : str
        Filters and order; empty for none.
    first : int
        Number of the first row wanted, from 1.

    Returns
    -------
    VehiclesView
        Totals speak of the filter, not of the page.
    """
    lines = [line for line in _lines(situation) if _fits(line, query, depot, word)]
    lines.sort(key=_KEYS[sort])
    shown = lines[first - 1 : first - 1 + PAGE_ROWS]

    def address(place: int) -> str:
        kept = "" if sort == "urgency" else sort
        start = "" if place == 1 else str(place)
        return list_url(query=query, depot=depot, word=word, sort=kept, first=start)

    return VehiclesView(
        rows=tuple(shown),
        counts=count_words(line.urgency for line in lines),
        total=len(lines),
        registered=situation.registered,
        depots=_roll_up(situation),
        query=query,
        depot=depot,
        word=word,
        sort=sort,
        first=first if shown else 0,
        previous=address(max(1, first - PAGE_ROWS)) if first > 1 else "",
        following=address(first + PAGE_ROWS) if first - 1 + PAGE_ROWS < len(lines) else "",
    )


def _lines(situation: Situation) -> list[VehicleLine]:
    tickets = situation.tickets_by_vehicle()
    lines = []
    for vehicle in situation.vehicles:
        own = tickets.get(vehicle.vehicle, [])
        state = situation.states.get(vehicle.vehicle)
        seen = situation.seen.get(vehicle.vehicle)
        taken = None if seen is None or seen.taken_at is None else seen.taken_at.astimezone(situation.zone)
        word = situation.words[vehicle.vehicle]
        lines.append(
            VehicleLine(
                vehicle=vehicle.vehicle,
                urgency=word,
                why=why_of(word, "" if state is None else state.reason, own),
                depot=vehicle.depot,
                sheet=vehicle.spec_sheet,
                last_reading_on=None if taken is None else taken.date(),
                open_tickets=len(own),
            )
        )
    return lines


def _fits(line: VehicleLine, query: str, depot: str, word: str) -> bool:
    return (
        query.casefold() in line.vehicle.casefold()
        and depot in ("", line.depot)
        and word in ("", line.urgency)
    )


_RANK: Final[Mapping[Urgency, int]] = {
    "pull_in_now": 0,
    "plan_this_week": 1,
    "watch": 2,
    "cannot_say": 3,
    "steady": 4,
}
_KEYS: Final[Mapping[str, Callable[[VehicleLine], Any]]] = {
    "urgency": lambda line: (_RANK[line.urgency], line.vehicle),
    "vehicle": lambda line: line.vehicle,
    "depot": lambda line: (line.depot, line.vehicle),
    "last": lambda line: (line.last_reading_on or date.min, line.vehicle),
}


def _roll_up(situation: Situation) -> tuple[DepotLine, ...]:
    words: dict[str, list[str]] = {}
    for vehicle in situation.vehicles:
        words.setdefault(vehicle.depot, []).append(situation.words[vehicle.vehicle])
    if len(words) < 2:
        return ()
    return tuple(DepotLine(depot=depot, counts=count_words(found)) for depot, found in sorted(words.items()))
