"""Who may do what with a token, on every route of the API."""

from datetime import timedelta
from typing import Any

import pytest

from service.auth import SCOPES, issue
from tests.service.web.conftest import Service
from tests.service.web.fleet import NOW


def _operations(service: Service) -> list[tuple[str, str, str]]:
    document: dict[str, Any] = service.app.openapi()
    return [
        (method, path.replace("{number}", "1").replace("{form}", "csv"), one["x-scope"])
        for path, item in document["paths"].items()
        for method, one in item.items()
        if path.startswith("/api/v1")
    ]


def test_every_route_is_guarded(service: Service) -> None:
    """No route of the API answers without a token, and none is left undescribed."""
    routes = [(m, p) for m, p, _ in _operations(service)]
    assert len(routes) > 15

    for method, path in routes:
        answer = service.client.request(method, path)

        assert (method, path, answer.status_code) == (method, path, 401)
        assert answer.headers["www-authenticate"] == 'Bearer realm="forelamp"'


@pytest.mark.parametrize("held", SCOPES)
def test_scopes(service: Service, held: str) -> None:
    """A token opens the routes of its own scope and no others; admin opens all."""
    headers = service.token(held)

    for method, path, needed in _operations(service):
        answer = service.client.request(method, path, headers=headers)

        may = held in (needed, "admin")
        assert (path, method, answer.status_code == 403) == (path, method, not may), answer.text
        if not may:
            assert answer.json()["code"] == "insufficient-scope"
            assert 'error="insufficient_scope"' in answer.headers["www-authenticate"]


@pytest.mark.parametrize(
    "header", ["Bearer nonsense", "Bearer flt_" + "A" * 43, "Basic dTpw", "bearer", "Bearer a b"]
)
def test_wrong_token(service: Service, header: str) -> None:
    """A token that is none of ours is a 401."""
    answer = service.client.get("/api/v1/vehicles", headers={"Authorization": header})

    assert answer.status_code == 401


def test_token_in_query(service: Service) -> None:
    """A token in the address is no token: addresses end up in logs."""
    secret = service.token("read")["Authorization"].removeprefix("Bearer ")

    assert service.client.get(f"/api/v1/vehicles?access_token={secret}").status_code == 401


def test_revoked(service: Service) -> None:
    """A revoked token is refused at once."""
    headers = service.token("read")
    assert service.client.get("/api/v1/vehicles", headers=headers).status_code == 200

    with service.store.begin() as work:
        work.revoke_token(work.tokens()[0].name, NOW)
        work.commit()

    assert service.client.get("/api/v1/vehicles", headers=headers).status_code == 401


def test_expired(service: Service) -> None:
    """An expired token is refused."""
    early = NOW - timedelta(days=2)
    secret, token = issue("old", ["read"], now=early, expires_at=early + timedelta(days=1))
    with service.store.begin() as work:
        work.put_token(token)
        work.commit()

    answer = service.client.get("/api/v1/vehicles", headers={"Authorization": f"Bearer {secret}"})

    assert answer.json()["code"] == "token-invalid"


def test_secret_is_not_kept(service: Service) -> None:
    """The store holds the digest of a token, never the token."""
    secret = service.token("read")["Authorization"].removeprefix("Bearer ")

    with service.store.begin(readonly=True) as work:
        kept = work.tokens()[0]

    assert secret not in repr(kept)
