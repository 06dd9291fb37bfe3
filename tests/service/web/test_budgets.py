"""What each page may ask of the store, and weigh. The router is walked: a page without a budget fails."""

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import timedelta
from typing import Any, Final

import pytest
from fastapi.routing import APIRoute

from service.schedule.engine import Terms
from service.schedule.weekly import freeze_week
from service.web import pages
from tests.service.web.conftest import Service
from tests.service.web.fleet import NOW, TICKET, TODAY

MOST_BYTES: Final = 60_000
"""Most that one page of a small fleet may weigh without style and script, which browsers keep."""

LONG: Final[Mapping[str, int]] = {"/api/docs": 130_000}
"""Pages that list all there is, and may weigh more."""

STATEMENTS: Final[Mapping[str, int]] = {
    "/help": 2,
    "/help/words": 2,
    "/week": 13,
    "/week/{week}": 8,
    "/plan": 10,
    "/vehicles": 8,
    "/vehicles/{vehicle:path}/trends": 17,
    "/vehicles/{vehicle:path}": 16,
    "/work": 8,
    "/complaints/new": 3,
    "/work/new": 4,
    "/work/{ticket:path}/record": 4,
    "/work/{ticket:path}/sheet": 14,
    "/work/{ticket:path}": 14,
    "/coverage": 16,
    "/money": 10,
    "/money/budget": 8,
    "/track-record": 16,
    "/setup/costs": 4,
    "/exports": 4,
    "/dictionary": 2,
    "/jobs": 5,
    "/problems/{code}": 2,
    "/setup": 18,
    "/setup/vehicles": 6,
    "/setup/vehicles/new": 5,
    "/setup/vehicles/{vehicle}": 11,
    "/setup/sheets": 4,
    "/setup/sheets/{sheet}/{revision}": 3,
    "/setup/names": 9,
    "/setup/devices": 8,
    "/setup/load": 2,
    "/setup/retention": 7,
    "/account": 3,
    "/setup/people": 5,
    "/setup/people/{login}": 5,
    "/log": 3,
    "/api/docs": 2,
}
"""Most statements that a page may ask of the store: as measured, and one to spare."""

FILES: Final = re.compile(r"^/$|^/static/|^/paper\.css$|^/exports/(file|\{)|\.(csv|json)$|^/sign-in(/|$)")
"""Addresses that give files or lead elsewhere; the sign-in is for those who have none."""

KNOWN: Final[Mapping[str, str]] = {
    "vehicle": "V-0001",
    "ticket": TICKET,
    "week": "2031-W10",
    "code": "not-found",
    "sheet": "HARROW-24",
    "revision": "2",
    "login": "admin",
}
QUERIES: Final[Mapping[str, str]] = {
    "/vehicles/{vehicle:path}/trends": "?parameter=LONGFT1&state=warm_idle",
    "/plan": "?hours=20",
    "/work/new": "?vehicle=V-0001",
    "/exports": "?dataset=tickets",
}
"""Queries without which a page would have nothing to do."""


def _reader(path: str) -> str:
    """Give the role that sees the most of a page."""
    if path.startswith(("/setup", "/log")):
        return "admin"
    return "lead" if path.startswith("/work") else "manager"


def _pages() -> set[str]:
    return {
        route.path
        for router in pages.ROUTERS
        for route in router.routes
        if isinstance(route, APIRoute) and "GET" in (route.methods or ()) and not FILES.search(route.path)
    }


@pytest.fixture
def closed(fleet: Service) -> Service:
    """Give the fleet with a closed week on file."""
    with fleet.store.begin() as work:
        found = work.assessment()
        assert found is not None
        work.put_assessment(replace(found, day=TODAY - 2), NOW - timedelta(days=1))
        assert freeze_week(work, after_day=TODAY - 2, now=NOW - timedelta(days=1), terms=Terms())
        work.commit()
    return fleet


def test_every_page_has_a_budget() -> None:
    """A new page states what it may ask of the store; one that is gone leaves no budget behind."""
    assert _pages() == set(STATEMENTS)


def test_pages_keep_to_their_budgets(closed: Service, statements: Callable[[], Any]) -> None:
    """No page asks the store more than its budget, or weighs more than all may."""
    asked, heavy = {}, {}
    for path in STATEMENTS:
        address = re.sub(r"\{(\w+)(?::\w+)?\}", lambda part: KNOWN[part[1]], path) + QUERIES.get(path, "")
        closed.become(_reader(path))
        closed.client.get("/help")
        with statements() as found:
            answer = closed.client.get(address)
        assert answer.status_code == 200, address
        asked[path] = len(found)
        heavy[path] = len(answer.content)

    assert {path: count for path, count in asked.items() if count > STATEMENTS[path]} == {}
    assert {path: size for path, size in heavy.items() if size > LONG.get(path, MOST_BYTES)} == {}
