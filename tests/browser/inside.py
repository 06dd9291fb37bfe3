"""Serves the application from a thread of the test itself, so that the test can move its clock."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Final

import uvicorn

from service.app import build
from service.clock import Clock
from service.settings import Settings
from service.store import Store
from tests.browser.conftest import free_port

NOW: Final = datetime(2031, 9, 8, 12, 30, tzinfo=UTC)


class Inside:
    """A service that runs in this process.

    Parameters
    ----------
    address : str
        Where it answers.
    store : Store
        Its store.
    """

    def __init__(self) -> None:
        self.now = NOW
        self.address = ""
        self.store: Store

    def move(self, by: timedelta) -> None:
        """Let time pass for the service."""
        self.now += by


@contextmanager
def serving(store: Path, **settings: Any) -> Iterator[Inside]:
    """Serve a store on `localhost`, another site to a browser than 127.0.0.1, until the block ends."""
    port, inside = free_port(), Inside()
    inside.address = f"http://localhost:{port}"
    made = Settings(
        home=store.parent,
        database_url=f"sqlite:///{store}",
        port=port,
        public_url=inside.address,
        **settings,
    )
    app = build(made, Clock(lambda: inside.now))
    inside.store = app.state.shell.store
    server = uvicorn.Server(uvicorn.Config(app, host="127.0.0.1", port=port, log_config=None))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started and thread.is_alive():
        thread.join(0.05)
    try:
        yield inside
    finally:
        server.should_exit = True
        thread.join(timeout=30)
