"""Every page of the service, found by walking its router, with example parameters of the practice fleet."""

import re
from dataclasses import dataclass
from typing import Final

from fastapi.routing import APIRoute
from playwright.sync_api import Page, Response

from service.auth.rights import ROLES_WITH, Role, may
from service.web import pages
from service.web.readers import PRACTICE_ROLE, ROLE_COOKIE, Allow

FILES: Final = frozenset(
    {
        "/",
        "/static/{name}",
        "/paper.css",
        "/exports/file",
        "/sign-in",
        "/sign-in/left",
        "/sign-in/return",
        "/account",
        "/exports/{dataset}.{form}",
    }
)
"""Addresses that give files or lead elsewhere, and those of signing in, which have tests of their own."""

PARTS: Final = {
    "vehicle": "W-0018",
    "ticket": "W-0018-T1",
    "week": "2031-W36",
    "code": "not-found",
    "sheet": "OSKREN-20",
    "revision": "1",
    "login": "ann",
}
"""Example of each part of an address, as the practice fleet has it."""

QUERIES: Final = {
    "/week/{week}": ("", "?reading=as_known_now"),
    "/vehicles": ("", "?word=steady&sort=vehicle"),
    "/vehicles/{vehicle:path}/trends": (
        "?parameter=TAC_PCT&state=warm_idle",
        "?parameter=TAC_PCT&state=warm_idle&axis=km",
    ),
    "/exports": ("", "?dataset=tickets"),
    "/plan": ("", "?hours=2", "?hours=20&out=W-0018"),
    "/work/new": ("?vehicle=W-0018",),
    "/complaints/new": ("", "?vehicle=W-0018"),
}
"""Queries with which a page is looked at; without any where it is not named."""

SEEN_BY: Final[dict[str, Role]] = {"/work/{ticket:path}/record": "mechanic", "/work": "mechanic"}
"""Roles that see more of a page than the one chosen by rights."""

_PART: Final = re.compile(r"\{(\w+)(?::\w+)?\}")


@dataclass(frozen=True, slots=True)
class Look:
    """One page as one role sees it."""

    address: str
    role: Role

    def open(self, page: Page, origin: str) -> Response:
        """Go there in that role; the page must answer with 200."""
        page.context.add_cookies([{"name": ROLE_COOKIE, "value": self.role, "url": origin}])
        answer = page.goto(origin + self.address)
        assert answer is not None
        assert answer.status == 200, (self.address, self.role, answer.status)
        return answer


def page_routes() -> tuple[APIRoute, ...]:
    """Give every route that answers with a page, in the router's order."""
    found = {
        route.path: route
        for router in pages.ROUTERS
        for route in router.routes
        if isinstance(route, APIRoute)
        and "GET" in (route.methods or ())
        and route.path not in FILES
        and not route.path.endswith((".csv", ".json"))
    }
    return tuple(found.values())


def role_for(route: APIRoute) -> Role:
    """Choose a role that may see a page: a manager where possible, else the first that may."""
    rights = [one.call.right for one in route.dependant.dependencies if isinstance(one.call, Allow)]
    fitting = [PRACTICE_ROLE, *(role for right in rights for role in ROLES_WITH[right])]
    return next(role for role in fitting if all(may(role, right) for right in rights))


def unknown_parts() -> set[str]:
    """Give the names of address parts that have no example."""
    return {name for route in page_routes() for name in _PART.findall(route.path)} - PARTS.keys()


def looks() -> tuple[Look, ...]:
    """Give the addresses at which every page is looked at."""
    return tuple(
        Look(
            _PART.sub(lambda found: PARTS.get(found[1], found[1]), route.path) + query,
            SEEN_BY.get(route.path) or role_for(route),
        )
        for route in page_routes()
        for query in QUERIES.get(route.path, ("",))
    )
