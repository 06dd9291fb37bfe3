"""Every page of the service, found by walking its router, with example parameters of the practice fleet."""

import re
from typing import Final

from fastapi.routing import APIRoute

from service.web import pages

FILES: Final = frozenset(
    {
        "/",
        "/static/{name}",
        "/exports/{dataset}.{form}",
        "/dictionary.csv",
        "/api/openapi.json",
    }
)
"""Addresses that give files or lead elsewhere: no pages."""

PARTS: Final = {
    "vehicle": "W-0018",
    "ticket": "W-0018-T1",
    "week": "2031-W36",
    "code": "not-found",
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
}
"""Queries with which a page is looked at; without any where it is not named."""

_PART: Final = re.compile(r"\{(\w+)(?::\w+)?\}")


def page_routes() -> tuple[str, ...]:
    """Give the path of every route that answers with a page, in the router's order."""
    found = [
        route.path
        for router in pages.ROUTERS
        for route in router.routes
        if isinstance(route, APIRoute) and "GET" in (route.methods or ()) and route.path not in FILES
    ]
    return tuple(dict.fromkeys(found))


def unknown_parts() -> set[str]:
    """Give the names of address parts that have no example."""
    return {name for path in page_routes() for name in _PART.findall(path)} - PARTS.keys()


def addresses() -> tuple[str, ...]:
    """Give the addresses at which every page is looked at."""
    return tuple(
        _PART.sub(lambda found: PARTS.get(found[1], found[1]), path) + query
        for path in page_routes()
        for query in QUERIES.get(path, ("",))
    )
