"""Readers: what a reader is told, and the roles of the practice fleet."""

from html import unescape
from pathlib import Path

import pytest

from dashboards.words import SENTENCES
from service.auth.rights import ROLES
from tests.service.web.conftest import Service, open_service


def test_refusal_names_roles(service: Service) -> None:
    """Who may not is told which roles may."""
    service.become("mechanic")

    answer = service.client.get("/exports")

    assert answer.status_code == 403
    assert "Your role is Mechanic; this is for: Workshop lead, Fleet manager, Analyst," in answer.text


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


def test_practice_fleet_has_no_accounts(main_url: str, tmp_path: Path) -> None:
    """Looking for my account in the practice fleet I read that nobody signs in there."""
    service = open_service(main_url, tmp_path, practice=True)
    answer = service.client.get("/account")
    service.store.close()

    assert answer.status_code == 404
    assert SENTENCES["nobody_signs_in"] in unescape(answer.text)
    assert "spelling" not in answer.text
