"""A vehicle is erased from a page: pages, exports, digests and lists know it no more."""

from datetime import timedelta
from html import unescape
from pathlib import Path

from tests.service.web.conftest import Service
from tests.service.web.fleet import NOW

VEHICLE, VIN = "V-0001", "10000000X00000001"
PAGES = (
    "/week", "/vehicles", "/work", "/coverage", "/jobs", "/setup", "/setup/vehicles", "/setup/devices",
    "/exports/tickets.csv", "/exports/trends.csv", "/exports/risk.csv", "/exports/snapshots.csv",
    "/exports/budget.csv",
)  # fmt: skip


def _erase(service: Service, confirm: str = VEHICLE) -> int:
    return int(service.post(f"/setup/vehicles/{VEHICLE}/erase", {"confirm": confirm}).status_code)


def test_no_page_and_no_file_names_it(fleet: Service) -> None:
    """After an erasure no page, list or export holds number or VIN; digests are rewritten."""
    digests = Path(fleet.app.state.shell.settings.home) / "digests"
    digests.mkdir()
    (digests / "2031-W09.txt").write_text(f"Week 9\n{VEHICLE}: trim rose\nV-0002: steady\n", "utf-8")
    before = fleet.client.get("/vehicles").text

    assert _erase(fleet) == 303
    for address in PAGES:
        answer = fleet.client.get(address)
        assert answer.status_code == 200, address
        assert VEHICLE not in answer.text, address
        assert VIN not in answer.text, address
    assert VEHICLE in before
    assert fleet.client.get(f"/vehicles/{VEHICLE}").status_code == 404
    assert (digests / "2031-W09.txt").read_text("utf-8") == "Week 9\nerased-1: trim rose\nV-0002: steady\n"


def test_totals_stay(fleet: Service) -> None:
    """The file of tickets has as many rows as before; the log says that something was erased, not what."""
    before = fleet.client.get("/exports/tickets.csv").text.splitlines()

    _erase(fleet)

    after = fleet.client.get("/exports/tickets.csv").text.splitlines()
    assert len(after) == len(before)
    with fleet.store.begin(readonly=True) as work:
        (line,) = work.log_entries(what="vehicle erased").rows
    assert "59 snapshot" in line.after


def test_an_older_as_of_says_what_it_lost(fleet: Service) -> None:
    """The exports page counts the rows that an as-of before the erasure has lost; one after it lost none."""
    _erase(fleet)
    day = NOW.date() - timedelta(days=1)
    older = unescape(fleet.client.get(f"/exports?dataset=snapshots&as_of={day}").text)
    newer = unescape(fleet.client.get(f"/exports?dataset=snapshots&as_of={NOW.date()}").text)

    assert "This as-of date has lost 59 rows to erasure since." in older
    assert "has lost" not in newer


def test_it_asks_for_the_number_and_the_administrator(fleet: Service) -> None:
    """Another number than the vehicle's erases nothing; an integrator has no such button."""
    assert _erase(fleet, confirm="V-0002") == 422
    fleet.become("integrator")
    assert "Erase this vehicle" not in fleet.client.get(f"/setup/vehicles/{VEHICLE}").text
    assert _erase(fleet) == 403
    assert fleet.client.get(f"/vehicles/{VEHICLE}").status_code == 200
