"""Forms: who may send them, how large they are, and what becomes of what was typed."""

from html import unescape

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboards.words import SAVED
from service.web.forms import go, local
from tests.service.web.conftest import Service

UNITS = {"units": "us", "back": "/help"}


def test_token_is_needed(service: Service) -> None:
    """A form without the page's token is refused, and what was typed is shown again (ASVS 5.0.0 V3.5.1)."""
    answer = service.client.post("/units", data={**UNITS, "note": "hose <split>"}, follow_redirects=False)

    assert answer.status_code == 403
    assert "set-cookie" not in answer.headers
    assert "hose <split>" in unescape(answer.text)
    assert 'name="units" value="us"' in answer.text


def test_shown_again_can_be_sent(service: Service) -> None:
    """The form that is shown again carries a token that is taken."""
    assert service.post("/units", UNITS).status_code == 303


def test_password_is_not_shown_again(service: Service) -> None:
    """What is shown again never shows a password."""
    answer = service.client.post("/units", data={**UNITS, "new_password": "swordfish"})

    assert "swordfish" not in answer.text


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "https://elsewhere.example"},
        {"origin": "null"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
    ],
)
def test_other_sites_are_refused(service: Service, headers: dict[str, str]) -> None:
    """A form that a browser says another site sent is refused, token or not (ASVS 5.0.0 V3.5.1)."""
    answer = service.post("/units", UNITS, headers=headers)

    assert answer.status_code == 403
    assert "came from elsewhere" in answer.text


@pytest.mark.parametrize("headers", [{"origin": "http://testserver"}, {"sec-fetch-site": "same-origin"}])
def test_own_pages_are_fine(service: Service, headers: dict[str, str]) -> None:
    """A form of a page of this service is taken."""
    assert service.post("/units", UNITS, headers=headers).status_code == 303


def test_with_files(service: Service) -> None:
    """A form with files is read like one without."""
    answer = service.post("/units", UNITS, files={"sheet": ("a.json", b"{}")})

    assert answer.status_code == 303


def test_too_large(service: Service) -> None:
    """A form that is larger than any page's is refused (ASVS 5.0.0 V5.2.1)."""
    answer = service.post("/units", {**UNITS, "note": "x" * 300_000})

    assert answer.status_code == 413


def test_too_many_fields(service: Service) -> None:
    """A form with more fields than any page has is refused."""
    answer = service.post("/units", {**UNITS, **{f"f{number}": "1" for number in range(600)}})

    assert answer.status_code == 422


def test_no_form(service: Service) -> None:
    """A body that is no form is refused by its type."""
    assert service.client.post("/units", json=UNITS).status_code == 415


def test_said_once(service: Service) -> None:
    """After a form the page says what was done, and only words of the catalogue."""
    assert SAVED["units"] in service.client.get("/help?saved=units").text
    assert "Saved." not in service.client.get("/help?saved=%3Cb%3E").text


def test_go_keeps_query_and_part() -> None:
    """The address gone to keeps its query and its part of the page."""
    assert go("/work?depot=N#todo", saved="units").headers["location"] == "/work?depot=N&saved=units#todo"


@given(st.text(max_size=30))
def test_local_never_leaves(path: str) -> None:
    """Whatever address is asked for, the reader stays with this service."""
    kept = local(path)

    assert kept.startswith("/")
    assert not kept.startswith(("//", "/\\"))
    assert kept.isprintable()
