"""Every door of the service, walked through from the router: who passes, and what forms need.

A new route is walked through by these tests without being named in them.
"""

import re
from collections.abc import Iterator, Mapping
from typing import Final

import pytest
from fastapi import FastAPI
from fastapi.dependencies.models import Dependant
from fastapi.routing import APIRoute, iter_route_contexts

from service.auth.rights import RIGHTS, ROLES, ROLES_WITH, Right, may
from service.web.guards import AllowToken
from service.web.readers import Allow, anyone, public
from service.web.shell import SAFE
from service.web.steps import STEPS, UNNAMED
from tests.service.web.conftest import Service
from tests.service.web.fleet import TICKET

KNOWN: Final[Mapping[str, str]] = {
    "vehicle": "V-0001",
    "ticket": TICKET,
    "week": "2031-W09",
    "dataset": "tickets",
    "form": "csv",
    "name": "forelamp.css",
    "code": "not-found",
    "login": "admin",
}
"""What stands for the parts of addresses; any other part is `1`."""

PUBLIC: Final = {
    "/",
    "/help",
    "/help/words",
    "/dictionary",
    "/dictionary.csv",
    "/dictionary/{dataset}.schema.json",
    "/problems/{code}",
    "/static/{name}",
    "/api/docs",
    "/api/openapi.json",
    "/livez",
    "/readyz",
    "/sign-in",
    "/sign-in/provider",
    "/sign-in/return",
    "/sign-in/left",
    "/sign-in/stay",
    "/sign-out",
    "/units",
    "/paper.css",
    "/role",
}
"""Addresses that anybody may open: each says the same in every installation, or asks for a password. One that
is added here needs a reason (ASVS 5.0.0 V13.4.5)."""

IN_PROSE: Final = re.compile(r"\{(\w+)(?::path)?\}")


def routes_of(app: FastAPI) -> list[APIRoute]:
    """List every route of the service, in the order in which they are asked."""
    found = [one.original_route for one in iter_route_contexts(app.routes)]
    return [one for one in found if isinstance(one, APIRoute)]


def guards_of(route: APIRoute) -> list[object]:
    """Find what guards a route: the calls of its dependencies that are known guards."""

    def walk(node: Dependant) -> list[object]:
        return [node.call, *(call for inner in node.dependencies for call in walk(inner))]

    return [
        call
        for call in walk(route.dependant)
        if isinstance(call, Allow)
        or call in (anyone, public)
        or getattr(call, "__qualname__", "").startswith("require.")
    ]


def address_of(route: APIRoute) -> str:
    """Fill in the parts of a route's address."""
    return IN_PROSE.sub(lambda part: KNOWN.get(part[1], "1"), route.path)


def doors(app: FastAPI) -> Iterator[tuple[str, str, Right, APIRoute]]:
    """Give method, address, right and route of every page and form that asks for a right."""
    for route in routes_of(app):
        for guard in guards_of(route):
            if isinstance(guard, Allow):
                for method in sorted((route.methods or set()) - {"HEAD"}):
                    yield method, address_of(route), guard.right, route


def test_every_route_has_one_guard(service: Service) -> None:
    """Each route names exactly one guard: a right, a token's scope, or nobody's (ASVS 5.0.0 V8.2.1)."""
    routes = routes_of(service.app)

    assert len(routes) > 30
    for route in routes:
        assert len(guards_of(route)) == 1, route.path


def test_open_addresses_are_listed(service: Service) -> None:
    """Only addresses that are listed as such are open to everybody."""
    found = {one.path for one in routes_of(service.app) if guards_of(one)[0] in (anyone, public)}

    assert found == PUBLIC


def test_table_of_rights() -> None:
    """Every right is somebody's, every role may read, and nobody without a role may do anything."""
    assert set(ROLES_WITH) == set(RIGHTS)
    for right in RIGHTS:
        assert set(ROLES_WITH[right]) <= set(ROLES)
        assert not may("", right)
    assert all(may(role, "read") for role in ROLES)


@pytest.mark.parametrize("role", ROLES)
def test_every_route_and_role(fleet: Service, role: str) -> None:
    """Each role passes exactly the doors that its rights open (ASVS 5.0.0 V8.2.1, V8.3.1)."""
    fleet.become(role)
    token = fleet.form_token()

    for method, address, right, _ in doors(fleet.app):
        answer = fleet.client.request(method, address, data={"token": token}, follow_redirects=False)

        refused = answer.status_code == 403 and "role-not-allowed" in answer.text
        assert refused is not may(role, right), (method, address, right, answer.status_code)
        assert answer.status_code < 500, (method, address, answer.text)


def test_nobody_passes(fleet: Service) -> None:
    """Without a sign-in no page opens and no form is taken; pages lead to the sign-in (ASVS V8.3.1)."""
    client = fleet.stranger()

    for method, address, _, _ in doors(fleet.app):
        answer = client.request(method, address, data={"x": "1"}, follow_redirects=False)

        assert answer.status_code == (303 if method in SAFE else 401), (method, address)
        if method in SAFE:
            assert answer.headers["location"].startswith("/sign-in"), address


def test_every_form_needs_its_token(fleet: Service) -> None:
    """No form is taken without the page's token, and nothing is changed then (ASVS 5.0.0 V3.5.1)."""
    walked = 0
    for route in routes_of(fleet.app):
        for method in sorted((route.methods or set()) - SAFE):
            guard = guards_of(route)[0]
            if not (isinstance(guard, Allow) or guard in (anyone, public)):
                continue  # programs show a token instead of a cookie
            walked += 1
            role = ROLES_WITH[guard.right][0] if isinstance(guard, Allow) else "admin"
            fleet.become(role)
            before = _everything(fleet)
            for fields in ({}, {"token": ""}, {"token": "0" * 64}):
                answer = fleet.client.request(
                    method, address_of(route), data={"x": "1", **fields}, follow_redirects=False
                )
                assert answer.status_code == 403, (method, route.path, answer.status_code)
            foreign = fleet.client.request(
                method,
                address_of(route),
                data={"token": fleet.form_token()},
                headers={"sec-fetch-site": "cross-site"},
                follow_redirects=False,
            )
            assert foreign.status_code == 403, (method, route.path)
            assert _everything(fleet) == before, (method, route.path)
    assert walked >= 7


def test_reading_changes_nothing(fleet: Service) -> None:
    """No address that is read with GET changes the store (ASVS 5.0.0 V3.5.3)."""
    fleet.become("admin")
    before = _everything(fleet)

    for route in routes_of(fleet.app):
        if "GET" in (route.methods or set()):
            fleet.client.get(address_of(route), follow_redirects=False)

    assert _everything(fleet) == before


def test_files_take_a_token(fleet: Service) -> None:
    """A file's stable address answers to a program with the scope `read`, and to no other token."""
    client = fleet.stranger()

    assert client.get("/exports/tickets.csv", headers=fleet.token("read")).status_code == 200
    refused = client.get("/exports/tickets.csv", headers=fleet.token("send"))
    assert (refused.status_code, refused.json()["code"]) == (403, "insufficient-scope")
    wrong = client.get("/exports/tickets.csv", headers={"authorization": "Bearer nonsense"})
    assert wrong.status_code == 401
    assert client.get("/exports/tickets.csv", follow_redirects=False).status_code == 303


def test_tokens_open_files_only(fleet: Service) -> None:
    """A token opens no page beside files: pages are for people."""
    headers = fleet.token("admin")
    client = fleet.stranger()

    for method, address, _, route in doors(fleet.app):
        if not isinstance(guards_of(route)[0], AllowToken):
            answer = client.request(method, address, headers=headers, follow_redirects=False)
            assert answer.status_code == 401, (method, address)


def _everything(service: Service) -> str:
    """Write down every row of every table; sign-ins come and go with the readers of these tests."""
    with service.store._engine.connect() as connection:
        names = set(connection.exec_driver_sql(_TABLES[service.store.kind]).scalars().all())
        found = []
        for name in sorted(names - {"sign_in", "person", "alembic_version"}):
            rows = connection.exec_driver_sql(f"SELECT * FROM {name}")  # noqa: S608 (our own tables)
            found.append(f"{name}: {sorted(repr(tuple(row)) for row in rows)}")
        return "\n".join(found)


_TABLES: Final = {
    "sqlite": "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'",
    "postgresql": "SELECT tablename FROM pg_tables WHERE schemaname = 'public'",
}


def test_every_change_has_words(fleet: Service) -> None:
    """Whatever changes something is named in plain words in the event log; no word outlives its route."""
    changing = {route.path_format for route in routes_of(fleet.app) if set(route.methods or ()) - set(SAFE)}

    assert changing == set(STEPS) | UNNAMED
