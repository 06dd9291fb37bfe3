"""The integrator's ways through the setup, counted: a first reading, a broken file, a sheet."""

import json
import shlex
import urllib.request
from pathlib import Path

import pytest
from playwright.sync_api import Page

from tests.browser.conftest import Practice

PAGES = (
    "/setup", "/setup/vehicles", "/setup/vehicles/new", "/setup/sheets", "/setup/names", "/setup/devices",
    "/setup/load", "/coverage",
)  # fmt: skip


def become(page: Page, practice: Practice, role: str = "integrator") -> None:
    """Look around in a role."""
    page.context.add_cookies([{"name": "role", "value": role, "url": practice.address}])


def send(command: str) -> dict[str, object]:
    """Do what the pasted command does, without the program that it names."""
    words = shlex.split(command.replace("\\\n", " "))
    headers = dict(words[place + 1].split(": ", 1) for place, word in enumerate(words) if word == "-H")
    body = words[words.index("-d") + 1].encode()
    request = urllib.request.Request(words[2], data=body, headers=headers)  # noqa: S310 (loopback)
    with urllib.request.urlopen(request, timeout=30) as answer:  # noqa: S310 (as above)
        found: dict[str, object] = json.load(answer)
    return found


def add_and_issue(page: Page, practice: Practice) -> str:
    """Add a vehicle and issue its logger's token; gives the command to paste."""
    page.goto(practice.url("/setup/vehicles/new"))
    page.get_by_label("Vehicle number").fill("X-1")
    page.get_by_role("button", name="Add vehicle").click()
    page.get_by_role("link", name="Devices and tokens").click()
    page.get_by_label("Name of the device or program").fill("logger-X-1")
    page.get_by_label("Only for these vehicles").fill("X-1")
    page.get_by_role("button", name="Issue token").click()
    return page.locator("#command").inner_text()


def test_first_reading_in_four_steps(own_practice: Practice, counted: Page) -> None:
    """Create, issue, paste, see: four steps, four clicks, and the reading is on the vehicle's page."""
    become(counted, own_practice)

    command = add_and_issue(counted, own_practice)
    answer = send(command)
    counted.locator("section[aria-labelledby=issued] a", has_text="X-1").click()

    assert answer["accepted"] == 1
    assert counted.evaluate("window.clicks") == 4
    assert "8 Sep 2031" in counted.locator("dt:has-text('Newest reading') + dd").inner_text()


def test_without_scripts(own_practice: Practice, scriptless: Page) -> None:
    """The same four steps without a script."""
    become(scriptless, own_practice)

    assert send(add_and_issue(scriptless, own_practice))["accepted"] == 1


def test_a_broken_file_is_mended_and_sent_again(
    own_practice: Practice, counted: Page, tmp_path: Path
) -> None:
    """A look says what is wrong by row; the file to mend has the reason; mended it loads."""
    become(counted, own_practice)
    broken = tmp_path / "vehicles.csv"
    broken.write_text("vehicle,depot,in_service_on\nX-1,Quayside,2031-01-01\nX-2,Quayside,soon\n", "utf-8")
    counted.goto(own_practice.url("/setup/load?kind=vehicles"))
    counted.get_by_label("File", exact=True).set_input_files(broken)
    counted.get_by_role("button", name="Look at it").click()
    assert "nothing is kept yet" in counted.locator("main").inner_text()
    assert "soon" in counted.locator("section[aria-labelledby=refused]").inner_text()
    with counted.expect_download() as waiting:
        counted.get_by_role("link", name="Refused rows as a file to mend").click()
    mended = tmp_path / "mended.csv"
    mended.write_text(Path(waiting.value.path()).read_text("utf-8").replace("soon", "2031-02-01"), "utf-8")
    counted.get_by_role("button", name="Load it").click()
    counted.get_by_role("link", name="Another file").click()
    counted.get_by_text("Vehicles", exact=True).last.click()
    counted.get_by_label("File", exact=True).set_input_files(mended)
    counted.get_by_role("button", name="Look at it").click()
    counted.get_by_role("button", name="Load it").click()

    assert "this was done" in counted.locator("main").inner_text()
    counted.goto(own_practice.url("/setup/vehicles?query=X-"))
    assert counted.locator("tbody tr").count() == 2


def test_a_sheet_says_what_it_would_change(own_practice: Practice, desk: Page) -> None:
    """A pasted draft tells how many vehicles would change sides; its writer is sent for a second person."""
    become(desk, own_practice)
    desk.goto(own_practice.url("/setup/sheets"))
    name = desk.locator("tbody th a").first.inner_text().partition(" revision")[0]
    sheet = {
        "sheet": name,
        "revision": 900,
        "source": "made up for this walk",
        "limits": [{"parameter": "VPWR", "state": "warm_idle", "low": 15.5, "high": 16, "unit": "V"}],
    }
    desk.get_by_label("Or paste it").fill(json.dumps(sheet))
    desk.get_by_role("button", name="Check and keep as draft").click()
    words = desk.locator("main").inner_text()

    assert "It would put" in words
    assert "outside a limit" in words
    assert "a second person looks at it" in words


@pytest.mark.parametrize("address", PAGES)
def test_pages_reflow(practice: Practice, narrow: Page, address: str) -> None:
    """On a phone of 320 px no page of the setup needs sideways scrolling, and targets are large enough."""
    become(narrow, practice, "admin")
    narrow.goto(practice.url(address))

    assert narrow.evaluate("document.documentElement.scrollWidth") <= 320
    heights = narrow.eval_on_selector_all(
        "main :is(button, .button, select, input:not([type=hidden], [type=radio], [type=checkbox]))",
        "found => found.map(one => one.getBoundingClientRect().height).filter(height => height > 0)",
    )
    assert min(heights, default=44) >= 43.5
