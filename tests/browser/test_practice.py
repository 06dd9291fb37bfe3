"""The practice service of the browser tests: it has something to show, and each way of looking works."""

from playwright.sync_api import Page

from tests.browser.conftest import Keyboard, Practice


def test_fleet_has_something_to_show(practice: Practice, desk: Page) -> None:
    """The Monday's page tells of vehicles to pull in, with numbers."""
    desk.goto(practice.url("/week"))

    assert "come in this week" in desk.locator(".lead").inner_text()
    assert desk.locator("table a[href^='/work/']").count() > 0


def test_clicks_are_counted_over_pages(practice: Practice, counted: Page) -> None:
    """Clicks add up from page to page of one tab."""
    counted.goto(practice.url("/week"))
    counted.click("nav a[href='/vehicles']")
    counted.click("nav a[href='/work']")

    assert counted.evaluate("window.clicks") == 2


def test_keyboard_follows_a_link(practice: Practice, keyboard: Keyboard) -> None:
    """A link is reached and followed with keys alone."""
    keyboard.page.goto(practice.url("/week"))

    keyboard.reach("nav a[href='/vehicles']")
    keyboard.press("Enter")
    keyboard.page.wait_for_url("**/vehicles")


def test_phone_and_scriptless_pages_show_the_same_sentence(
    practice: Practice, phone: Page, scriptless: Page
) -> None:
    """A phone, and a browser with scripts off, are told the same."""
    phone.goto(practice.url("/week"))
    scriptless.goto(practice.url("/week"))

    assert phone.locator(".lead").inner_text() == scriptless.locator(".lead").inner_text()
