"""Headers of every answer, and what the logs say of it."""

import base64
import hashlib
import json
import logging

import pytest

from dashboards.assets import STYLE_SOURCES
from service.settings import Settings
from service.web.binding import OpenPages, check_binding
from tests.service.web.conftest import Service
from tests.service.web.fleet import TICKET, snapshot


@pytest.mark.parametrize(
    "address", ["/week", "/nothing", "/api/v1/vehicles", "/livez", "/static/forelamp.css", "/api/docs"]
)
def test_security_headers(service: Service, address: str) -> None:
    """Pages, files, answers and errors carry the same protection."""
    headers = service.client.get(address).headers

    policy = headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "script-src 'self'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe-inline" not in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"


def test_pages_are_not_stored(service: Service) -> None:
    """Caches keep neither pages nor answers of the API."""
    assert service.client.get("/week").headers["cache-control"] == "no-store"
    assert service.client.get("/livez").headers["cache-control"] == "no-store"


def test_no_inline_script(fleet: Service) -> None:
    """No page needs what the policy forbids: scripts and styles written into it, or handlers."""
    for address in ("/week", "/vehicles", "/vehicles/V-0001", f"/work/{TICKET}", "/coverage", "/exports"):
        page = fleet.client.get(address).text
        assert "onclick=" not in page
        assert " style=" not in page
        scripts = [part.partition(">")[0] for part in page.split("<script")[1:]]
        assert all("src=" in one or 'type="application/json"' in one for one in scripts), address


def test_empty_style_hash(service: Service) -> None:
    """The chart script may add its one empty style element, and no other."""
    empty = base64.b64encode(hashlib.sha256(b"").digest()).decode()
    policy = service.client.get("/week").headers["content-security-policy"]

    assert f"'sha256-{empty}'" in policy
    assert f"style-src {STYLE_SOURCES};" in policy


def test_log_line(fleet: Service, caplog: pytest.LogCaptureFixture) -> None:
    """A request is one line of JSON with its id, route, status and counts, and without any content."""
    headers = fleet.token("send")
    caplog.set_level(logging.INFO, "forelamp.web")
    caplog.clear()

    answer = fleet.client.post("/api/v1/snapshots", json=snapshot(device="SECRET-DEVICE"), headers=headers)

    lines = [json.loads(one.message) for one in caplog.records if one.name == "forelamp.web"]
    assert len(lines) == 1
    assert lines[0]["request_id"] == answer.headers["x-request-id"]
    assert (lines[0]["route"], lines[0]["status"], lines[0]["accepted"]) == ("/api/v1/snapshots", 200, 1)
    assert lines[0]["caller"].startswith("send")
    assert "SECRET-DEVICE" not in caplog.text
    assert headers["Authorization"].removeprefix("Bearer ") not in caplog.text


def test_log_has_no_numbers(fleet: Service, caplog: pytest.LogCaptureFixture) -> None:
    """Fleet numbers, ticket numbers and queries stay out of the log: routes are logged, not addresses."""
    caplog.set_level(logging.INFO, "forelamp.web")
    caplog.clear()

    fleet.client.get(f"/work/{TICKET}?x=hidden")
    fleet.client.get("/vehicles/V-0404")

    own = " ".join(one.message for one in caplog.records if one.name == "forelamp.web")
    assert "/work/{ticket}" in own
    assert "V-0001" not in own
    assert "V-0404" not in own
    assert "hidden" not in own


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.0.2.7", "fleet.example"])  # noqa: S104 - refused
def test_open_pages_are_refused(host: str) -> None:
    """Without TLS in front the service listens on its own machine only; a practice fleet always does."""
    with pytest.raises(OpenPages, match="FORELAMP_TLS_IN_FRONT"):
        check_binding(Settings(host=host))
    with pytest.raises(OpenPages, match="practice fleet"):
        check_binding(Settings(host=host, tls_in_front=True, practice=True))

    check_binding(Settings(host=host, tls_in_front=True))


@pytest.mark.parametrize("host", ["127.0.0.1", "::1", "localhost"])
def test_own_machine_is_fine(host: str) -> None:
    """On its own machine the service needs no proxy."""
    check_binding(Settings(host=host))
