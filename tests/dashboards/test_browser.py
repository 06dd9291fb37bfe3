"""Pages in a real browser: they reflow, print, draw under a strict policy, and work by keyboard alone."""

import re
from collections.abc import Iterator
from pathlib import Path
from shutil import which

import pytest
from playwright.sync_api import Browser, Page, Route, sync_playwright

from dashboards.assets import STATIC, STYLE_SOURCES, paper_css, read
from dashboards.render import render
from tests.dashboards import samples

pytestmark = [pytest.mark.browser, pytest.mark.slow]

PAGES = samples.pages()
POLICY = f"default-src 'none'; script-src 'self'; style-src {STYLE_SOURCES}; img-src 'self' data:"
HOME = "http://forelamp.test"


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Start the machine's own Chromium; without one there is nothing to test."""
    found = which("chromium") or which("chromium-browser") or which("google-chrome")
    if found is None or not Path(found).exists():
        pytest.skip("no Chromium on this machine")
    with sync_playwright() as play:
        started = play.chromium.launch(executable_path=found, args=["--no-sandbox", "--disable-gpu"])
        yield started
        started.close()


def answer(route: Route) -> None:
    """Answer as the service would: the page, its files, and a strict content policy."""
    path = route.request.url.removeprefix(HOME).split("?")[0].strip("/")
    if path.startswith("static/"):
        name = path.removeprefix("static/")
        route.fulfill(body=read(name), content_type=STATIC[name])
        return
    if path == "paper.css":
        route.fulfill(body=paper_css("Foot"), content_type="text/css")
        return
    view, title = PAGES[path]
    headers = {"content-security-policy": POLICY, "content-type": "text/html; charset=utf-8"}
    route.fulfill(body=render(view, samples.frame(title)), headers=headers)


def opened(browser: Browser, name: str, width: int = 1280, height: int = 800) -> tuple[Page, list[str]]:
    """Open a page and collect what the browser complains about."""
    page = browser.new_page(viewport={"width": width, "height": height})
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.route("**/*", answer)
    page.goto(f"{HOME}/{name}")
    return page, complaints


@pytest.mark.parametrize("name", PAGES)
def test_page_reflows_at_320_pixels(browser: Browser, name: str) -> None:
    """No page scrolls sideways on a narrow phone."""
    page, _ = opened(browser, name, 320)

    assert page.evaluate("document.documentElement.scrollWidth") <= 320
    page.close()


@pytest.mark.parametrize("name", PAGES)
def test_page_runs_under_a_strict_policy(browser: Browser, name: str) -> None:
    """Nothing that a page does is refused by the content policy."""
    page, complaints = opened(browser, name)
    page.wait_for_timeout(200)

    assert [text for text in complaints if "auto-margin" not in text] == []
    page.close()


def test_interactive_figures_replace_the_still_ones(browser: Browser) -> None:
    """With scripts, the figure asked for answers to the pointer; without, the picture stays."""
    page, _ = opened(browser, "series")
    page.wait_for_selector(".figure .main-svg", state="visible")

    assert page.locator("#still-0").is_hidden()
    assert page.locator(".figure:visible").count() == 1
    page.close()


def test_phones_do_not_fetch_the_figures_script(browser: Browser) -> None:
    """On a phone the still pictures stay, and the large script is never asked for."""
    page = browser.new_page(viewport={"width": 390, "height": 800})
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.route("**/*", answer)
    page.goto(f"{HOME}/series")
    page.wait_for_timeout(200)

    assert not any("plotly" in url for url in asked)
    assert page.locator("svg.chart:visible").count() == 1
    page.close()


def test_printed_figures_are_the_still_ones(browser: Browser) -> None:
    """On paper the vector pictures stand in for the interactive ones."""
    page, _ = opened(browser, "series")
    page.wait_for_selector(".figure .main-svg", state="visible")
    page.emulate_media(media="print")

    assert page.locator("#still-0").is_visible()
    assert page.locator(".figure").first.is_hidden()
    page.close()


def test_vehicle_page_works_without_scripts(browser: Browser) -> None:
    """With scripts off every series still has its picture."""
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.route("**/*", answer)
    page.goto(f"{HOME}/vehicle")

    assert page.locator("svg.chart:visible").count() == len(samples.charts())
    context.close()


def test_week_fits_one_screen(browser: Browser) -> None:
    """Sentence, changes, past due, coverage and cost are on one screen of 1280 by 800."""
    page, _ = opened(browser, "week")

    for mark in (".lead", "#changed", "#late", "#covered", "#cost"):
        box = page.locator(mark).first.bounding_box()
        assert box is not None
        assert box["y"] + box["height"] < 800
    cards = page.locator(".grid.three").bounding_box()
    assert cards is not None
    assert cards["y"] + cards["height"] <= 800
    page.close()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_job_sheet_prints_on_one_page(browser: Browser, paper: str) -> None:
    """The job sheet takes one page on either paper."""
    page, _ = opened(browser, "sheet")

    printed = page.pdf(format=paper)

    assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 1
    page.close()


def test_cautions_are_printed(browser: Browser) -> None:
    """Cautions and checks stay on paper; forms and ways around do not."""
    page, _ = opened(browser, "ticket")
    page.emulate_media(media="print")

    assert page.locator("#care").is_visible()
    assert page.locator(".nav").is_hidden()
    assert page.locator("#record").is_hidden()
    page.close()


def test_skip_link_comes_first_and_is_seen(browser: Browser) -> None:
    """The first press of Tab shows the way past the navigation."""
    page, _ = opened(browser, "week")
    page.keyboard.press("Tab")

    assert page.evaluate("document.activeElement.className") == "skip"
    assert page.evaluate("document.activeElement.getBoundingClientRect().left") >= 0
    page.close()


def test_finding_is_recorded_by_keyboard(browser: Browser) -> None:
    """A mechanic's finding can be chosen and sent with the keyboard alone, and is sent once."""
    page, _ = opened(browser, "ticket")
    sent: list[str] = []

    def keep(route: Route) -> None:
        sent.append(route.request.post_data or "")
        route.fulfill(status=204)

    page.route("**/record", keep)
    page.locator('input[name="cause"]').first.focus()
    page.keyboard.press("Space")
    page.keyboard.press("Enter")
    page.keyboard.press("Enter")
    page.wait_for_timeout(200)

    assert len(sent) == 1
    assert "cause=throttle_deposits" in sent[0]
    assert "kind=repair" in sent[0]
    assert "version=4" in sent[0]
    page.close()


@pytest.mark.parametrize("name", ["work", "ticket"])
def test_targets_suit_a_gloved_finger(browser: Browser, name: str) -> None:
    """Buttons and choices on the phone are at least 44 pixels high."""
    page, _ = opened(browser, name, 390)
    heights = page.evaluate(
        "[...document.querySelectorAll('button, label.pick, select, .nav a, a.ticket')]"
        ".map(one => one.getBoundingClientRect().height).filter(height => height > 0)"
    )

    assert heights
    assert min(heights) >= 44
    page.close()
