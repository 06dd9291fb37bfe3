"""Readers: every route names who it is for, and lets only them pass."""

import pytest
from fastapi import FastAPI
from fastapi.dependencies.models import Dependant
from fastapi.routing import APIRoute, iter_route_contexts

from service.auth.rights import RIGHTS, ROLES, ROLES_WITH, may
from service.web.readers import Allow, anyone
from tests.service.web.conftest import Service, open_service


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
        or call is anyone
        or getattr(call, "__qualname__", "").startswith("require.")
    ]


def test_every_route_has_one_guard(service: Service) -> None:
    """Each route names exactly one guard: a right, a token's scope, or anyone (ASVS 5.0.0 V8.2.1)."""
    routes = routes_of(service.app)

    assert len(routes) > 30
    for route in routes:
        if route.path not in ("/livez", "/readyz"):
            assert len(guards_of(route)) == 1, route.path


def test_table_of_rights() -> None:
    """Every right is somebody's, every role may read, and nobody without a role may do anything."""
    assert set(ROLES_WITH) == set(RIGHTS)
    for right in RIGHTS:
        assert set(ROLES_WITH[right]) <= set(ROLES)
        assert not may("", right)
    assert all(may(role, "read") for role in ROLES)


def test_refusal_names_roles(service: Service) -> None:
    """Who may not is told which roles may."""
    service.become("mechanic")

    answer = service.client.get("/exports")

    assert answer.status_code == 403
    assert "Your role is mechanic; this is for: lead, manager, analyst, integrator, admin." in answer.text


def test_ways_are_the_readers(service: Service) -> None:
    """The main ways show only pages that the reader may open."""
    service.become("mechanic")

    assert 'href="/exports"' not in service.client.get("/week").text


@pytest.mark.parametrize("role", ROLES)
def test_practice_roles(role: str, main_url: str, tmp_path: object) -> None:
    """A visitor of the practice fleet looks around in any role, without a sign-in."""
    practice = open_service(main_url, tmp_path, practice=True)  # type: ignore[arg-type]

    assert practice.post("/role", {"role": role, "back": "/week"}).status_code == 303
    assert f'value="{role}" selected' in practice.client.get("/week").text
    practice.store.close()


def test_no_roles_to_choose_elsewhere(service: Service) -> None:
    """A real fleet offers no choice of roles."""
    assert service.post("/role", {"role": "admin"}).status_code == 404
