"""The fleet manager's Monday: seen at a glance, few clicks, and all of it by keyboard."""

import re

from playwright.sync_api import Page

from tests.browser.conftest import Keyboard, Practice


def test_week_is_read_without_scrolling_or_clicking(practice: Practice, counted: Page) -> None:
    """Sentence, changes, past due, coverage and cost at risk stand on one screen of 1280 by 800."""
    counted.goto(practice.url("/week"))

    for mark in (".lead", "#changed", "#late", "#covered", "#cost", ".grid.three"):
        box = counted.locator(mark).first.bounding_box()
        assert box is not None, mark
        assert box["y"] + box["height"] <= 800, mark
    assert counted.evaluate("window.clicks") == 0


def test_coverage_is_one_click_away(practice: Practice, counted: Page) -> None:
    """Who cannot be judged, and who must act, is one click from the week."""
    counted.goto(practice.url("/week"))

    counted.click("section[aria-labelledby=covered] a")

    assert counted.evaluate("window.clicks") == 1
    assert "Who must act" in counted.inner_text("main")


def test_vehicle_is_one_click_from_any_row(practice: Practice, counted: Page) -> None:
    """From the week's list, its changes, its map and the list of vehicles a vehicle is one click away."""
    for page, place in (
        ("/week", "section[aria-labelledby=come] th a"),
        ("/week", "section[aria-labelledby=changed] a"),
        ("/week", ".map th a"),
        ("/vehicles", "tbody tr:nth-child(3) th a[href^='/vehicles/']"),
    ):
        counted.goto(practice.url(page))
        before = counted.evaluate("window.clicks")
        counted.click(f"{place} >> nth=0")
        counted.wait_for_url("**/vehicles/*")
        assert counted.evaluate("window.clicks") == before + 1


def test_sums_equal_rows(practice: Practice, desk: Page) -> None:
    """The number to pull in is the number of vehicles listed; each stands there once under its worst word."""
    desk.goto(practice.url("/week"))
    counts = {
        text.split()[-1] if "Cannot" not in text else "say": int(re.findall(r"\d+", text)[0])
        for text in desk.locator(".tally a").all_inner_texts()
    }
    listed = desk.locator("section[aria-labelledby=come] tbody th a").all_inner_texts()

    assert len(set(listed)) == counts["now"] + counts["week"]
    assert sum(counts.values()) == 24


def test_back_keeps_the_place_in_the_list(practice: Practice, desk: Page) -> None:
    """After a look at one vehicle, Back shows the filtered and sorted list as it was."""
    desk.goto(practice.url("/vehicles"))
    desk.select_option("#word", "steady")
    desk.select_option("#sort", "last")
    desk.click("form[role=search] button")
    before = desk.inner_text("main")
    address = desk.url

    desk.click("tbody a[href^='/vehicles/W-'] >> nth=2")
    desk.go_back()

    assert (desk.url, desk.inner_text("main")) == (address, before)
    assert "word=steady" in address


def test_list_is_filtered_by_keyboard(practice: Practice, keyboard: Keyboard) -> None:
    """A number is looked for with keys alone, and the page says how many fit."""
    keyboard.page.goto(practice.url("/vehicles"))

    keyboard.reach("input[type=search]")
    keyboard.type("W-0018")
    keyboard.press("Enter")
    keyboard.page.wait_for_url("**W-0018**")

    assert keyboard.page.locator("tbody a[href^='/vehicles/W-']").count() == 1


def test_hours_are_planned_by_keyboard(practice: Practice, keyboard: Keyboard) -> None:
    """From the week to the list cut where given hours end, with keys alone."""
    keyboard.page.goto(practice.url("/week"))

    keyboard.reach("nav a[href='/plan']")
    keyboard.press("Enter")
    keyboard.page.wait_for_url("**/plan*")
    keyboard.reach("input[name=hours]")
    keyboard.press("Control+a")
    keyboard.type("2")
    keyboard.press("Enter")
    keyboard.page.wait_for_url("**hours=2*")

    assert "2.0 h" in keyboard.page.inner_text("main")


def test_greyscale_keeps_the_words_apart(practice: Practice, desk: Page) -> None:
    """Each standing has a sign of its own beside its shade, on the list and in the picture of the fleet."""
    desk.goto(practice.url("/week"))

    signs = desk.evaluate(
        "[...document.querySelectorAll('.tally a [aria-hidden]')].map(one => one.textContent)"
    )
    starts = desk.evaluate(
        "[...document.querySelectorAll('.map td:not(.same):not(.w-none)')]"
        ".filter(one => !one.querySelector('[aria-hidden]')).length"
    )

    assert len(set(signs)) == 5
    assert starts == 0
