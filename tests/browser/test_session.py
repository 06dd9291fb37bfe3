"""A sign-in that is about to end says so, can be gone on with, and loses nothing that was typed."""

import shutil
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from ingest.records import Vehicle
from service.auth import digest_of
from service.auth.passwords import hash_password
from service.auth.sessions import COOKIE, new_cookie
from service.store import Person, SignIn
from tests.browser.inside import NOW, Inside, serving

PASSWORD = "seven lanterns on the quay"  # noqa: S105 (made up)
SOON = "Nobody has used this sign-in for a while. It ends in"


@pytest.fixture
def service(sqlite_template: Path, tmp_path: Path) -> Iterator[Inside]:
    """Give a service with one vehicle and one account."""
    path = tmp_path / "store.db"
    shutil.copy(sqlite_template, path)
    with serving(path) as inside:
        with inside.store.begin() as work:
            work.put_vehicles([Vehicle(vehicle="V-0017")], NOW)
            work.put_person(
                Person(login="ann", role="lead", password=hash_password(PASSWORD), created_at=NOW)
            )
            work.commit()
        yield inside


def sign_in(page: Page, service: Inside) -> None:
    """Sign a browser in, under a browser clock that the test moves."""
    cookie = new_cookie()
    with service.store.begin() as work:
        work.put_sign_in(
            SignIn(
                digest=digest_of(cookie),
                login="ann",
                created_at=NOW,
                expires_at=NOW + timedelta(hours=12),
                seen_at=service.now,
            )
        )
        work.commit()
    page.context.add_cookies([{"name": COOKIE, "value": cookie, "url": service.address}])
    page.clock.install(time=NOW)


def complain(page: Page) -> None:
    """Fill in the form of a complaint, and do not send it."""
    page.locator("input[name=complaint]").first.check()
    page.get_by_text("More, if you like").click()
    page.locator("#complaint-notes").fill("hesitates at the ramp")


def wait(page: Page, service: Inside, minutes: int) -> None:
    """Let time pass for browser and service alike."""
    service.move(timedelta(minutes=minutes))
    page.clock.fast_forward(minutes * 60_000)


def test_end_is_told_and_put_off(desk: Page, service: Inside) -> None:
    """Five minutes before the end the page says so; one press goes on, and the notice goes."""
    sign_in(desk, service)
    desk.goto(f"{service.address}/complaints/new")
    notice = desk.get_by_text(SOON)
    wait(desk, service, 54)
    expect(notice).to_be_hidden()

    wait(desk, service, 2)
    expect(notice).to_be_visible()
    expect(notice).to_contain_text("4 minutes")

    desk.get_by_role("button", name="Stay signed in").click()
    expect(notice).to_be_hidden()
    wait(desk, service, 50)
    assert desk.request.get(f"{service.address}/sign-in/left").json()["left_s"] == 600


def test_another_tab_puts_the_end_off(desk: Page, service: Inside) -> None:
    """A tab that is only open tells nothing while another one is used, and keeps no sign-in alive."""
    sign_in(desk, service)
    desk.goto(f"{service.address}/complaints/new")
    other = desk.context.new_page()
    service.move(timedelta(minutes=40))
    other.goto(f"{service.address}/help")
    service.move(timedelta(minutes=18))

    desk.clock.fast_forward(58 * 60_000)

    expect(desk.get_by_text(SOON)).to_be_hidden()
    service.move(timedelta(minutes=43))
    assert desk.request.get(f"{service.address}/sign-in/left").json()["left_s"] == 0


def test_nothing_typed_is_lost(desk: Page, service: Inside) -> None:
    """After the end what was typed is sent, waits for the sign-in, and can be sent again."""
    sign_in(desk, service)
    desk.goto(f"{service.address}/complaints/new?vehicle=V-0017")
    complain(desk)
    wait(desk, service, 61)
    expect(desk.get_by_text("Your sign-in has ended.")).to_be_visible()

    desk.get_by_role("button", name="Save complaint").click()

    expect(desk.get_by_text("Nothing you typed is lost")).to_be_visible()
    expect(desk.get_by_text("hesitates at the ramp")).to_be_visible()
    desk.get_by_label("Login").fill("ann")
    desk.get_by_label("Password").fill(PASSWORD)
    desk.get_by_role("button", name="Sign in", exact=True).click()
    desk.get_by_role("button", name="Send it again").click()
    with service.store.begin(readonly=True) as work:
        (kept,) = work.work_records()
        assert kept.notes.endswith("hesitates at the ramp")


def test_draft_comes_back(desk: Page, service: Inside) -> None:
    """What was typed and never sent is back when the page is opened again in the tab, until discarded."""
    sign_in(desk, service)
    desk.goto(f"{service.address}/complaints/new?vehicle=V-0017")
    complain(desk)

    desk.goto(f"{service.address}/help")
    desk.goto(f"{service.address}/complaints/new?vehicle=V-0017")
    expect(desk.locator("#complaint-notes")).to_have_value("hesitates at the ramp")
    expect(desk.locator("input[name=complaint]").first).to_be_checked()
    expect(desk.get_by_text("What you typed here before")).to_be_visible()

    desk.get_by_role("button", name="Discard it").click()
    expect(desk.locator("#complaint-notes")).to_have_value("")


def test_secrets_are_not_kept(desk: Page, service: Inside) -> None:
    """Passwords and tokens stay out of the tab's memory; signing out empties it."""
    sign_in(desk, service)
    desk.goto(f"{service.address}/account")
    desk.get_by_label("Password now").fill("swordfish")
    desk.goto(f"{service.address}/complaints/new?vehicle=V-0017")
    complain(desk)
    kept = desk.evaluate("JSON.stringify(sessionStorage)")
    assert "hesitates" in kept
    assert "swordfish" not in kept
    assert "token" not in kept

    desk.get_by_role("button", name="Sign out").click()

    expect(desk.get_by_role("heading", name="Sign in")).to_be_visible()
    assert desk.evaluate("sessionStorage.length") == 0
