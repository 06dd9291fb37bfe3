"""The analyst gets a file in three clicks, and the address of it is one that scripts can use."""

import urllib.request

import pytest
from playwright.sync_api import Page

from tests.browser.conftest import Practice

pytestmark = [pytest.mark.browser, pytest.mark.slow]


def test_three_clicks(practice: Practice, counted: Page) -> None:
    """From the week: exports, another dataset, download; the link gives the same bytes to a script."""
    counted.goto(practice.url("/week"))

    counted.click("nav a[href='/exports']")
    counted.click("label.pick:has(input[value='risk'])")
    with counted.expect_download() as waiting:
        counted.click("button:has-text('Download the file chosen')")
    told = waiting.value

    assert counted.evaluate("window.clicks") <= 3
    assert told.suggested_filename == "forelamp-risk.csv"
    with urllib.request.urlopen(practice.url("/exports/risk.csv")) as answer:  # noqa: S310 - our own loopback
        scripted = answer.read()
    assert told.path().read_bytes() == scripted
    assert scripted.startswith(b"as_of,vehicle,depot")


def test_keyboard_alone(practice: Practice, counted: Page) -> None:
    """With keys alone a file is reached: the download link is the first thing on the page after the menu."""
    counted.goto(practice.url("/exports?dataset=tickets&format=json"))

    counted.locator("a.button.main").focus()
    with counted.expect_download() as waiting:
        counted.keyboard.press("Enter")

    assert waiting.value.suggested_filename == "forelamp-tickets.json"
