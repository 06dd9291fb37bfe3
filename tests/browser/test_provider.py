"""Signing in through a provider in a real browser: its own rules on forms and cookies let it through."""

import re
import shutil
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest
import uvicorn
from playwright.sync_api import Page, expect

from service.app import build
from service.clock import Clock
from service.settings import Settings
from service.store import Person, Store
from tests.browser.conftest import _free_port
from tests.service.web.idp import CLIENT, SECRET, Idp, running

NOW = datetime(2031, 9, 8, 12, 30, tzinfo=UTC)


@contextmanager
def serving(store: Path, provider: Idp) -> Iterator[tuple[str, Store]]:
    """Serve an empty fleet under another site's name than the provider's; both are this machine."""
    port = _free_port()
    settings = Settings(
        home=store.parent,
        database_url=f"sqlite:///{store}",
        port=port,
        public_url=f"http://localhost:{port}",
        oidc_issuer=provider.issuer,
        oidc_client_id=CLIENT,
        oidc_client_secret=SECRET,
        oidc_label="Harrow sign-in",
    )
    app = build(settings, Clock(lambda: NOW))
    server = uvicorn.Server(uvicorn.Config(app, host="127.0.0.1", port=port, log_config=None))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started and thread.is_alive():
        thread.join(0.05)
    try:
        yield settings.public_url, app.state.shell.store
    finally:
        server.should_exit = True
        thread.join(timeout=30)


@pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "no-scripts"])
def test_whole_way(
    request: pytest.FixtureRequest, sqlite_template: Path, tmp_path: Path, scripts: bool
) -> None:
    """Two presses lead through the provider to the page that was asked for, with and without scripts."""
    page: Page = request.getfixturevalue("desk" if scripts else "scriptless")
    path = tmp_path / "store.db"
    shutil.copy(sqlite_template, path)
    with running(Idp(now=NOW)) as provider, serving(path, provider) as (address, store):
        with store.begin() as work:
            work.put_person(Person(login="ann", role="manager", password="", created_at=NOW))
            work.commit()
        faults: list[str] = []
        page.on("console", lambda one: faults.append(one.text) if one.type == "error" else None)

        page.goto(f"{address}/vehicles?depot=North")
        page.get_by_role("button", name="Sign in through Harrow sign-in").click()

        expect(page).to_have_url(re.compile(re.escape(f"{address}/vehicles?depot=North")))
        expect(page.get_by_role("link", name="Your account, ann")).to_be_visible()
        assert faults == []
