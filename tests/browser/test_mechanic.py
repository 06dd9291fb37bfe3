"""The workshop's ways through the pages, each within its clicks: by phone, by keys, without scripts."""

import io
from collections.abc import Callable
from statistics import median

import pytest
from playwright.sync_api import BrowserContext, Page
from pypdf import PdfReader

from service.store import open_store
from service.tickets.ticket import Ticket
from tests.browser.conftest import DESK, Keyboard, Practice

MOST_BYTES = 150_000


def become(page: Page, practice: Practice, role: str) -> None:
    """Look around in a role."""
    page.context.add_cookies([{"name": "role", "value": role, "url": practice.address}])


def tickets_of(practice: Practice) -> tuple[Ticket, ...]:
    """Read every ticket of the practice fleet."""
    store = open_store(f"sqlite:///{practice.home / 'forelamp.db'}")
    with store.begin(readonly=True) as work:
        found = work.tickets()
    store.close()
    return found


def active_of(practice: Practice) -> Ticket:
    """Give a ticket that waits for the workshop."""
    return next(one for one in tickets_of(practice) if one.status in {"raised", "accepted", "in_work"})


def clicks(page: Page) -> int:
    """Give the clicks of this tab so far."""
    return int(page.evaluate("window.clicks"))


def test_work_is_there_without_a_click(practice: Practice, narrow: Page) -> None:
    """On a narrow phone the list stands at once: vehicle, problem, first check with minutes, due; light."""
    become(narrow, practice, "mechanic")
    got: list[int] = []
    narrow.on("response", lambda answer: got.append(len(answer.body())))

    narrow.goto(practice.url("/work"), wait_until="networkidle")

    line = narrow.locator("a.ticket").first
    assert line.is_visible()
    for part in ("W-", "First:", "min)", "due"):
        assert part in line.inner_text()
    assert narrow.evaluate("document.documentElement.scrollWidth") <= 320
    assert sum(got) <= MOST_BYTES


def test_ticket_is_one_tap_away(practice: Practice, counted: Page) -> None:
    """One tap opens the ticket; it is read in order: sentence, picture, cautions, checks, then the rest."""
    become(counted, practice, "mechanic")
    counted.goto(practice.url("/work"))

    counted.locator("a.ticket").first.click()
    counted.wait_for_url("**/work/W-*")

    assert clicks(counted) == 1
    order = [
        counted.locator(mark).first.evaluate("one => one.compareDocumentPosition(document.body)")
        for mark in ("#why", "svg.chart", "#care", "#checks", "#history", "#detail")
    ]
    assert len(order) == 6
    tops = counted.evaluate(
        "[...document.querySelectorAll('#why, #still-lead, #care, #checks, #detail')].map(one => one.id)"
    )
    assert tops == ["why", "still-lead", "care", "checks", "detail"]


def record_in_four(page: Page, practice: Practice) -> int:
    """Record a finding from the ticket's page; give the taps it took."""
    ticket = active_of(practice)
    become(page, practice, "mechanic")
    page.goto(practice.url(f"/work/{ticket.ticket}"))
    taps = 0
    for tap in (
        "a.button[href$='/record']",
        "label.pick:has(input[name='cause'][value='unknown'])",
        "label.pick:has(input[name='kind'][value='repair'])",
        "button.main:has-text('Save')",
    ):
        page.locator(tap).first.click()
        taps += 1
    page.wait_for_url("**saved=finding**")
    return taps


def test_finding_takes_four_taps(own_practice: Practice, phone: Page) -> None:
    """Open, cause, correction, save; nothing is typed, and it can be taken back."""
    assert record_in_four(phone, own_practice) == 4

    assert phone.locator("text=Take it back").is_visible()
    assert phone.locator("#proof").is_visible()


def test_finding_without_scripts(own_practice: Practice, scriptless: Page) -> None:
    """With scripts off the same four taps record the same."""
    assert record_in_four(scriptless, own_practice) == 4

    scriptless.locator("button:has-text('Take it back')").click()
    assert "The record is taken back" in scriptless.locator("[role=status]").inner_text()


def test_cause_fills_in_the_correction(practice: Practice, desk: Page) -> None:
    """A chosen cause fills in what is usually done; a choice by hand stays."""
    become(desk, practice, "mechanic")
    desk.goto(practice.url(f"/work/{active_of(practice).ticket}/record"))
    chosen = "document.querySelector('input[name=kind]:checked').value"

    desk.check("input[name=cause][value=unknown]")
    assert desk.evaluate(chosen) == "repair"
    desk.check("input[name=cause][value=not_looked]")
    assert desk.evaluate(chosen) == "note"
    desk.check("input[name=kind][value=memory_cleared]")
    desk.check("input[name=cause][value=unknown]")
    assert desk.evaluate(chosen) == "memory_cleared"


def test_finding_by_keyboard(own_practice: Practice, keyboard: Keyboard) -> None:
    """A finding is recorded with keys alone."""
    page = keyboard.page
    become(page, own_practice, "mechanic")
    page.goto(own_practice.url(f"/work/{active_of(own_practice).ticket}"))

    keyboard.reach("a.button[href$='/record']")
    keyboard.press("Enter")
    page.wait_for_url("**/record")
    keyboard.reach("input[name=cause]")
    keyboard.press("Space")
    keyboard.reach("button.main")
    keyboard.press("Enter")
    page.wait_for_url("**saved=finding**")

    assert "recorded" in page.locator("[role=status]").inner_text()


def test_double_tap_makes_one_record(own_practice: Practice, scriptless: Page) -> None:
    """Two sendings of one form, as a nervous thumb does them, make one record."""
    ticket = active_of(own_practice)
    become(scriptless, own_practice, "mechanic")
    scriptless.goto(own_practice.url(f"/work/{ticket.ticket}/record"))
    scriptless.check("input[name=cause][value=unknown]")

    scriptless.locator("button.main").dblclick()
    scriptless.wait_for_url("**saved=finding**")

    store = open_store(f"sqlite:///{own_practice.home / 'forelamp.db'}")
    with store.begin(readonly=True) as work:
        own = [one for one in work.work_records(ticket=ticket.ticket) if one.recorded_by == "visitor"]
    store.close()
    assert len(own) == 1


def test_complaint_takes_three_taps(own_practice: Practice, counted: Page) -> None:
    """From the vehicle: open the form, say what was noticed, save."""
    become(counted, own_practice, "mechanic")
    counted.goto(own_practice.url("/vehicles/W-0003"))

    counted.click("a[href='#complain']")
    counted.click("label.pick:has(input[value='stalls'])")
    counted.click("button:has-text('Save complaint')")
    counted.wait_for_url("**saved=complaint**")

    assert clicks(counted) <= 3
    assert "complaint is recorded" in counted.locator("[role=status]").inner_text()


def test_ticket_is_raised_in_three_taps(own_practice: Practice, phone: Page) -> None:
    """From the vehicle: open the form, pick the reason, raise."""
    become(phone, own_practice, "mechanic")
    phone.goto(own_practice.url("/vehicles/W-0003"))

    phone.click("text=Raise a ticket by hand")
    phone.click("label.pick:has(input[value='rough_idle'])")
    phone.click("button:has-text('Raise the ticket')")
    phone.wait_for_url("**saved=raised**")

    assert "rough idle" in phone.locator("#why + .lead").inner_text()


def test_plan_from_the_week_in_two_clicks(own_practice: Practice, counted: Page) -> None:
    """From the Monday's page: the plan with hours filled in, then a day for every vehicle."""
    counted.goto(own_practice.url("/week"))

    counted.click("nav a[href='/plan']")
    counted.click("button:has-text('Give all these days')")
    counted.wait_for_url("**saved=dates**")

    assert clicks(counted) <= 3
    assert "has its day" in counted.locator("[role=status]").inner_text()


def test_plan_by_keyboard(own_practice: Practice, keyboard: Keyboard) -> None:
    """Hours, a pin and the days are given with keys alone."""
    page = keyboard.page
    page.goto(own_practice.url("/week"))

    keyboard.reach("nav a[href='/plan']")
    keyboard.press("Enter")
    page.wait_for_url("**/plan")
    keyboard.reach("#hours")
    keyboard.press("Control+A")
    keyboard.type("12")
    keyboard.press("Enter")
    page.wait_for_url("**hours=12**")
    keyboard.reach("button[name=pin]")
    keyboard.press("Enter")
    page.wait_for_url("**saved=pin**")
    keyboard.reach("button.main")
    keyboard.press("Enter")
    page.wait_for_url("**saved=dates**")

    assert page.locator("button[name=unpin]").count() == 1


def test_putting_off_takes_two_clicks_and_a_pick(own_practice: Practice, counted: Page) -> None:
    """Open the small form, pick the reason, put off; the day is filled in."""
    ticket = next(
        one
        for one in tickets_of(own_practice)
        if one.status in {"raised", "accepted"} and one.consequence > 1
    )
    counted.goto(own_practice.url(f"/work/{ticket.ticket}"))

    counted.click("summary:has-text('Put off')")
    counted.select_option("#defer-reason", "next_service")
    counted.click("button[value=defer]")
    counted.wait_for_url("**saved=defer**")

    assert clicks(counted) == 2
    assert "Put off until" in counted.locator("main").inner_text()


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_every_job_sheet_is_one_page(practice: Practice, desk: Page, paper: str) -> None:
    """Each ticket of the fleet prints on one page, with picture, cautions and boxes to tick."""
    become(desk, practice, "mechanic")
    for ticket in tickets_of(practice):
        desk.goto(practice.url(f"/work/{ticket.ticket}/sheet"))
        printed = PdfReader(io.BytesIO(desk.pdf(format=paper)))
        assert len(printed.pages) == 1, ticket.ticket
        text = printed.pages[0].extract_text()
        assert "Before you touch anything" in text
        assert desk.locator(".box").count() > 4
        assert desk.locator("svg.chart").count() == (ticket.detail is not None)


def test_pages_reflow_and_have_room_for_gloves(
    own_practice: Practice, contexts: Callable[..., BrowserContext]
) -> None:
    """At 320 pixels no page scrolls sideways, and nothing to tap is smaller than a gloved finger."""
    ticket = active_of(own_practice)
    for role in ("lead", "manager"):
        page = contexts(viewport={"width": 320, "height": 640}).new_page()
        become(page, own_practice, role)
        for path in (
            f"/work/{ticket.ticket}",
            f"/work/{ticket.ticket}/record",
            f"/work/new?vehicle={ticket.vehicle}",
            f"/complaints/new?vehicle={ticket.vehicle}",
            "/plan?hours=5",
            "/work",
        ):
            page.goto(own_practice.url(path))
            assert page.evaluate("document.documentElement.scrollWidth") <= 320, (role, path)
            small = page.evaluate(
                "[...document.querySelectorAll('main button, main label.pick, main select, main summary,"
                " main input:not([type=radio], [type=checkbox], [type=hidden])')]"
                ".filter(one => one.getClientRects().length && one.getBoundingClientRect().height < 44)"
                ".map(one => one.outerHTML.slice(0, 80))"
            )
            assert small == [], (role, path)


def test_two_people_on_one_version(own_practice: Practice, contexts: Callable[..., BrowserContext]) -> None:
    """Who saves second sees both versions, loses nothing, and can do it all the same."""
    ticket = next(one for one in tickets_of(own_practice) if one.status in {"raised", "accepted"})
    first, second = (contexts(viewport=DESK).new_page() for _ in range(2))
    for page in (first, second):
        become(page, own_practice, "lead")
        page.goto(own_practice.url(f"/work/{ticket.ticket}"))

    first.click("summary:has-text('Assign')")
    first.fill("#assign-assignee", "bench 7")
    first.click("button[value=assign]")
    first.wait_for_url("**saved=assign**")
    second.click("summary:has-text('Give a date')")
    second.click("button[value=book]")

    shown = second.locator("main").inner_text()
    assert "bench 7" in shown
    assert "As you read it" in shown
    second.click("text=Do it all the same")
    second.wait_for_url("**saved=book**")


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_ticket_is_short_on_paper(practice: Practice, desk: Page, paper: str) -> None:
    """A printed ticket is two sheets, three at most: what paper does not need stays on the screen."""
    become(desk, practice, "mechanic")
    sheets = []
    for ticket in tickets_of(practice):
        desk.goto(practice.url(f"/work/{ticket.ticket}"))
        sheets.append(len(PdfReader(io.BytesIO(desk.pdf(format=paper))).pages))

    assert median(sheets) <= 2
    assert max(sheets) <= 3
