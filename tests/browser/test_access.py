"""Every page for everyone: an automated scan, narrow screens, targets, focus, scripts off, weight."""

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final

import pytest
from playwright.sync_api import BrowserContext, Page

from tests.browser.addresses import Look, looks, unknown_parts
from tests.browser.conftest import DESK, NARROW, PATIENCE_MS, PHONE, Practice
from tests.browser.practice import LOGIN, PASSWORD

EVERY_PAGE: Final = pytest.mark.parametrize("look", looks(), ids=lambda look: look.address)
SCANNER: Final = Path(__file__).parent / "node_modules" / "axe-core" / "axe.min.js"
GRAVE: Final = frozenset({"serious", "critical"})
MOST_BYTES: Final = 150_000
"""Most that a page may weigh without the script of the interactive charts: document, style and script."""

SMALL: Final = """
least => [...document.querySelectorAll(
  'button, select, summary, textarea, input:not([type=hidden]), .nav a, .button, .tally a, a.ticket')]
  .filter(one => one.offsetParent !== null && !one.closest('.skip'))
  .map(one => {
    const box = (one.matches('input[type=radio], input[type=checkbox]') && one.closest('label') || one)
      .getBoundingClientRect();
    return [one.outerHTML.slice(0, 90), Math.round(box.width), Math.round(box.height)];
  })
  .filter(([, width, height]) => height > 0 && (height < least || width < least))
"""
"""Controls that are smaller than a gloved finger needs; links in running text are left out."""

SQUEEZED: Final = """
[...document.querySelectorAll('td, th, dd, dt, p, li')]
  .filter(one => one.offsetParent !== null && one.innerText.trim().length > 3)
  .map(one => [one.innerText.slice(0, 60), one.getBoundingClientRect()])
  .filter(([, box]) => box.width > 1 && box.width < 60 && box.height > 60)
  .map(([text, box]) => [text, Math.round(box.width), Math.round(box.height)])
"""
"""Texts that stand in a column so narrow that they run down the page."""


@pytest.fixture(scope="module")
def scanner() -> str:
    """Read the scanner's script; in CI it must be there."""
    if SCANNER.exists():
        return SCANNER.read_text("utf-8")
    reason = "axe-core is not installed: run 'npm ci' in tests/browser"
    if "CI" in os.environ:  # noqa: TID251 (tests have no settings)
        pytest.fail(reason)
    pytest.skip(reason)


@pytest.fixture(scope="module", params=[DESK, PHONE], ids=["1280", "390"])
def wide(request: pytest.FixtureRequest, chromium: Any) -> Iterator[Page]:
    """Give a page at each of two widths, used again and again."""
    context = chromium.new_context(viewport=request.param, bypass_csp=True)
    context.set_default_timeout(PATIENCE_MS)
    yield context.new_page()
    context.close()


@pytest.fixture(scope="module")
def thin(chromium: Any) -> Iterator[Page]:
    """Give a page of 320 pixels, used again and again."""
    context = chromium.new_context(viewport=NARROW)
    context.set_default_timeout(PATIENCE_MS)
    yield context.new_page()
    context.close()


def test_every_part_has_an_example() -> None:
    """A new kind of address part needs an example, or its page would not be looked at."""
    assert unknown_parts() == set()


@EVERY_PAGE
def test_scan_finds_nothing_grave(practice: Practice, wide: Page, scanner: str, look: Look) -> None:
    """The automated scan has no serious and no critical finding."""
    look.open(wide, practice.address)
    wide.add_script_tag(content=scanner)

    found = wide.evaluate("() => axe.run(document, {resultTypes: ['violations']})")

    assert grave_of(found) == []


def grave_of(found: dict[str, Any]) -> list[tuple[str, str, list[str]]]:
    """Give the findings that keep somebody out."""
    return [
        (one["id"], one["impact"], [node["html"][:160] for node in one["nodes"]][:4])
        for one in found["violations"]
        if one["impact"] in GRAVE
    ]


@pytest.mark.parametrize("size", [DESK, PHONE, NARROW], ids=["1280", "390", "320"])
def test_signing_in_by_keyboard(
    guarded: Practice, contexts: Callable[..., BrowserContext], scanner: str, size: dict[str, int]
) -> None:
    """The way in, and the page of one's own account, are for everyone: scanned, narrow, and by keys alone."""
    page = contexts(viewport=size, bypass_csp=True).new_page()
    page.goto(guarded.url("/account"))
    for place in ("/sign-in", "/account"):
        assert place in page.url
        page.add_script_tag(content=scanner)
        assert grave_of(page.evaluate("() => axe.run(document, {resultTypes: ['violations']})")) == []
        assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]
        assert page.evaluate(SMALL, 44) == []
        if place == "/sign-in":
            page.focus("#login")
            page.keyboard.type(LOGIN)
            page.keyboard.press("Tab")
            page.keyboard.type(PASSWORD)
            page.keyboard.press("Enter")
            page.wait_for_url("**/account*")


@EVERY_PAGE
def test_page_reflows(practice: Practice, thin: Page, look: Look) -> None:
    """At 320 pixels no page scrolls sideways, and no text is squeezed into a column of letters."""
    look.open(thin, practice.address)

    assert thin.evaluate("document.documentElement.scrollWidth") <= NARROW["width"]
    assert thin.evaluate(SQUEEZED) == []


@EVERY_PAGE
def test_targets_are_large(practice: Practice, thin: Page, look: Look) -> None:
    """Buttons, fields, folded parts and main ways are at least 44 pixels wide and high."""
    look.open(thin, practice.address)

    assert thin.evaluate(SMALL, 44) == []


@EVERY_PAGE
def test_page_has_its_frame(practice: Practice, thin: Page, look: Look) -> None:
    """Each page declares its language, has one first heading, a title of its own, and a skip link first."""
    look.open(thin, practice.address)

    assert thin.evaluate("document.documentElement.lang") == "en"
    assert thin.locator("h1").count() == 1
    assert thin.title() == f"{thin.locator('h1').inner_text()} - Forelamp"
    assert thin.evaluate("document.querySelector('a, button, input').className") == "skip"
    assert thin.locator("#content").count() == 1


@EVERY_PAGE
def test_focus_is_seen(practice: Practice, wide: Page, look: Look) -> None:
    """Whatever the Tab key reaches has an outline."""
    look.open(wide, practice.address)
    for _ in range(12):
        wide.keyboard.press("Tab")
        style = wide.evaluate(
            "(() => { const one = document.activeElement; if (one === document.body) return null;"
            " const found = getComputedStyle(one); return [one.outerHTML.slice(0, 80), found.outlineStyle,"
            " parseFloat(found.outlineWidth)]; })()"
        )
        if style is not None:
            assert style[1] != "none", style
            assert style[2] >= 2, style


@EVERY_PAGE
def test_tables_have_captions_and_headers(practice: Practice, thin: Page, look: Look) -> None:
    """Every table has a caption and header cells that say what they head."""
    look.open(thin, practice.address)

    assert thin.evaluate("[...document.querySelectorAll('table')].filter(t => !t.caption).length") == 0
    assert thin.evaluate("[...document.querySelectorAll('th')].filter(h => !h.scope).length") == 0


@EVERY_PAGE
def test_page_is_light(practice: Practice, contexts: Callable[..., BrowserContext], look: Look) -> None:
    """On a phone a page with everything it loads weighs little, and all of it comes from the service."""
    page = contexts(viewport=PHONE).new_page()
    weights: dict[str, int] = {}
    complaints: list[str] = []
    page.on("response", lambda answer: weights.update({answer.url: len(answer.body())}))
    page.on("console", lambda message: complaints.append(message.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))

    look.open(page, practice.address)
    page.wait_for_load_state("networkidle")

    assert all(one.startswith(practice.address) for one in weights), weights
    assert sum(weights.values()) <= MOST_BYTES, weights
    assert complaints == []


@EVERY_PAGE
def test_page_says_the_same_without_scripts(
    practice: Practice, contexts: Callable[..., BrowserContext], look: Look
) -> None:
    """With scripts off the words of the page are all there."""
    plain = contexts(viewport=PHONE, java_script_enabled=False).new_page()
    scripted = contexts(viewport=PHONE).new_page()
    look.open(plain, practice.address)
    look.open(scripted, practice.address)

    assert plain.inner_text("main") == scripted.inner_text("main")
