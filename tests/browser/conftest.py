"""A practice service and a real browser for whole-page tests.

The store is built once for a session and shared by all workers; each serves a copy. Tests that only look
use `practice`; tests that write use `own_practice`, a copy of their own.
"""

import fcntl
import os
import shutil
import socket
import subprocess
import sys
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

ROOT: Final = Path(__file__).parents[2]
READY_TRIES: Final = 150
CHROMIUM: Final = ("chromium", "chromium-browser", "google-chrome")
DESK: Final = {"width": 1280, "height": 800}
PHONE: Final = {"width": 390, "height": 844}
NARROW: Final = {"width": 320, "height": 640}
PATIENCE_MS: Final = 120_000
"""How long a page may take on a busy machine before its test fails [ms]."""

CLICKS: Final = """
(() => {
  const kept = Number(sessionStorage.getItem('clicks') || '0');
  window.clicks = kept;
  addEventListener('pointerdown', (event) => {
    if (!event.isTrusted) return;
    window.clicks += 1;
    sessionStorage.setItem('clicks', String(window.clicks));
  }, true);
})();
"""
"""Counts the pointer's clicks over all pages of one tab. A tap on a label is one, though the browser makes a
second click of it on the field; a key that acts as a click is none."""


@dataclass(frozen=True, slots=True)
class Practice:
    """A practice service that answers."""

    address: str
    home: Path

    def url(self, path: str) -> str:
        """Give the whole address of a path."""
        return self.address + path


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark every test of this folder: it needs a browser, and takes long."""
    here = Path(__file__).parent
    for item in items:
        if here in item.path.parents:
            item.add_marker(pytest.mark.browser)
            item.add_marker(pytest.mark.slow)


def free_port() -> int:
    """Find a port that nobody listens on."""
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


def _command(*words: str) -> list[str]:
    return [sys.executable, "-m", "tests.browser.practice", *words]


@pytest.fixture(scope="session")
def practice_store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the practice store once, whichever worker comes first; give its folder."""
    base = tmp_path_factory.getbasetemp()
    shared = base.parent if "PYTEST_XDIST_WORKER" in os.environ else base  # noqa: TID251 (set by the runner)
    home = shared / "practice-store"
    with (shared / "practice-store.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not (home / "built").exists():
            shutil.rmtree(home, ignore_errors=True)
            home.mkdir()
            subprocess.run(_command("build", str(home)), check=True, cwd=ROOT, stdout=subprocess.DEVNULL)
            (home / "built").touch()
    return home


@contextmanager
def _serving(store: Path, home: Path, *more: str) -> Iterator[Practice]:
    """Serve a copy of a store until the block ends."""
    shutil.copytree(store, home, dirs_exist_ok=True)
    port = free_port()
    process = subprocess.Popen(_command("serve", str(home), str(port), *more), cwd=ROOT)
    try:
        _wait(f"http://127.0.0.1:{port}/readyz", process)
        yield Practice(address=f"http://127.0.0.1:{port}", home=home)
    finally:
        process.terminate()
        process.wait(timeout=30)


def _wait(address: str, process: subprocess.Popen[bytes]) -> None:
    pause = [sys.executable, "-c", "import time; time.sleep(0.1)"]
    for _ in range(READY_TRIES):
        try:
            with urllib.request.urlopen(address, timeout=5):  # noqa: S310 (loopback)
                return
        except (urllib.error.URLError, OSError):
            assert process.poll() is None, "the practice service ended before it answered"
            subprocess.run(pause, check=True)
    pytest.fail(f"{address} did not answer")


@pytest.fixture(scope="session")
def practice(practice_store: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Practice]:
    """Give a practice service to look at; a test that writes takes `own_practice` instead."""
    with _serving(practice_store, tmp_path_factory.mktemp("practice")) as found:
        yield found


@pytest.fixture
def own_practice(practice_store: Path, tmp_path: Path) -> Iterator[Practice]:
    """Give a practice service whose store only this test writes to."""
    with _serving(practice_store, tmp_path / "own") as found:
        yield found


@pytest.fixture
def guarded(practice_store: Path, tmp_path: Path) -> Iterator[Practice]:
    """Give the same fleet where people must sign in; `tests.browser.practice` knows one account."""
    with _serving(practice_store, tmp_path / "guarded", "guarded") as found:
        yield found


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """Start the machine's own Chromium; without one these tests are skipped."""
    found = next((path for path in map(shutil.which, CHROMIUM) if path), None)
    if found is None:
        pytest.skip("no Chromium on this machine")
    with sync_playwright() as play:
        started = play.chromium.launch(executable_path=found, args=["--no-sandbox", "--disable-gpu"])
        yield started
        started.close()


@pytest.fixture
def contexts(chromium: Browser) -> Iterator[Callable[..., BrowserContext]]:
    """Give a maker of browser contexts, closed after the test; it takes what the browser takes."""
    made: list[BrowserContext] = []

    def make(**settings: Any) -> BrowserContext:
        made.append(chromium.new_context(**({"viewport": DESK} | settings)))
        made[-1].set_default_timeout(PATIENCE_MS)
        return made[-1]

    yield make
    for one in made:
        one.close()


@pytest.fixture
def desk(contexts: Callable[..., BrowserContext]) -> Page:
    """Give a page of 1280 by 800."""
    return contexts(viewport=DESK).new_page()


@pytest.fixture
def phone(contexts: Callable[..., BrowserContext]) -> Page:
    """Give a page of 390 by 844 with touch."""
    return contexts(viewport=PHONE, has_touch=True, is_mobile=True).new_page()


@pytest.fixture
def narrow(contexts: Callable[..., BrowserContext]) -> Page:
    """Give a page of 320 by 640 with touch."""
    return contexts(viewport=NARROW, has_touch=True, is_mobile=True).new_page()


@pytest.fixture
def scriptless(contexts: Callable[..., BrowserContext]) -> Page:
    """Give a page of 1280 by 800 with scripts off."""
    return contexts(viewport=DESK, java_script_enabled=False).new_page()


@pytest.fixture
def counted(contexts: Callable[..., BrowserContext]) -> Page:
    """Give a page that counts its clicks: `page.evaluate("window.clicks")`."""
    context = contexts(viewport=DESK)
    context.add_init_script(CLICKS)
    return context.new_page()


class Keyboard:
    """Works a page with the keyboard alone, as a reader without a pointer does."""

    def __init__(self, page: Page) -> None:
        self.page = page

    def reach(self, selector: str, most: int = 200) -> None:
        """Press Tab until what the selector names has the focus; fail when it is never reached."""
        for _ in range(most):
            self.page.keyboard.press("Tab")
            if self.page.evaluate("wanted => document.activeElement.matches(wanted)", selector):
                return
        pytest.fail(f"{selector} cannot be reached with the Tab key")

    def press(self, key: str) -> None:
        """Press one key on what has the focus."""
        self.page.keyboard.press(key)

    def type(self, text: str) -> None:
        """Type text into what has the focus."""
        self.page.keyboard.type(text)


@pytest.fixture
def keyboard(desk: Page) -> Keyboard:
    """Give a page of 1280 by 800 that is worked by keyboard alone; the page itself is `keyboard.page`."""
    return Keyboard(desk)
