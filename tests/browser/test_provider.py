"""Signing in through a provider in a real browser: its own rules on forms and cookies let it through."""

import re
import shutil
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from service.store import Person
from tests.browser.inside import NOW, serving
from tests.service.web.idp import CLIENT, SECRET, Idp, running


@pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "no-scripts"])
def test_whole_way(
    request: pytest.FixtureRequest, sqlite_template: Path, tmp_path: Path, scripts: bool
) -> None:
    """Two presses lead through the provider to the page that was asked for, with and without scripts."""
    page: Page = request.getfixturevalue("desk" if scripts else "scriptless")
    path = tmp_path / "store.db"
    shutil.copy(sqlite_template, path)
    with (
        running(Idp(now=NOW)) as provider,
        serving(
            path,
            oidc_issuer=provider.issuer,
            oidc_client_id=CLIENT,
            oidc_client_secret=SECRET,
            oidc_label="Harrow sign-in",
        ) as service,
    ):
        with service.store.begin() as work:
            work.put_person(Person(login="ann", role="manager", password="", created_at=NOW))
            work.commit()
        faults: list[str] = []
        page.on("console", lambda one: faults.append(one.text) if one.type == "error" else None)

        page.goto(f"{service.address}/vehicles?depot=North")
        page.get_by_role("button", name="Sign in through Harrow sign-in").click()

        expect(page).to_have_url(re.compile(re.escape(f"{service.address}/vehicles?depot=North")))
        expect(page.get_by_role("link", name="Your account, ann")).to_be_visible()
        assert faults == []
