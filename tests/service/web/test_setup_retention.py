"""The page of what is kept: rules, counts, holds, for the administrator."""

from datetime import timedelta
from html import unescape
from typing import Any

import pytest

from service.store import Lines
from service.tickets.words import to_day
from tests.service.web.conftest import Service
from tests.service.web.fleet import NOW, TODAY


def _logged(service: Service) -> list[tuple[str, str, str]]:
    with service.store.begin(readonly=True) as work:
        return [(e.what, e.subject, e.after) for e in reversed(work.log_entries().rows)]


def _age(service: Service, lines: Lines) -> None:
    """Remove what lies before some lines, as the job does."""
    with service.store.begin() as work:
        work.draw_line(lines.readings or 0)
        for portion in work.removable(lines):
            work.remove(portion, NOW, who="schedule")
        work.commit()


def test_rules(fleet: Service) -> None:
    """The page says how long each class is kept, from which day on, and what comes next."""
    page = unescape(fleet.client.get("/setup/retention").text)

    assert "25 months" in page
    assert page.count("84 months") == 2
    assert "1 Feb 2029" in page
    assert "which only counts: none has run before" in page
    assert "No vehicle is on hold." in page


def test_count_on_request(fleet: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    """What would go is counted when asked for, by month; holds are counted apart."""
    monkeypatch.setattr("service.web.pages.setup.retention.lines_of", lambda *_: Lines(readings=TODAY - 20))
    assert "Count it" in fleet.client.get("/setup/retention").text

    page = fleet.client.get("/setup/retention?count=yes").text
    assert "Jan 2031" in page
    assert "snapshots" in page

    fleet.post("/setup/retention/hold", {"vehicle": "V-0001", "reason": "claim 17"})
    page = fleet.client.get("/setup/retention?count=yes").text
    assert "of the same age stay because of holds" in page


def test_hold_and_lift(fleet: Service) -> None:
    """A hold is set with its reason, shown, logged, and lifted."""
    done = fleet.post("/setup/retention/hold", {"vehicle": "V-0001", "reason": "claim <17>"})
    assert done.headers["location"] == "/setup/retention?saved=hold#holds"
    assert "claim &lt;17&gt;" in fleet.client.get("/setup/retention").text

    fleet.post("/setup/retention/lift", {"vehicle": "V-0001"})

    assert "claim &lt;17&gt;" not in fleet.client.get("/setup/retention").text
    assert _logged(fleet)[-2:] == [("hold set", "V-0001", "claim <17>"), ("hold lifted", "V-0001", "")]


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"vehicle": "V-0001", "reason": ""}, "Say why"),
        ({"vehicle": "V-0404", "reason": "claim"}, "Nobody registered"),
        ({"vehicle": "V-0001", "reason": "again"}, "on hold already"),
    ],
)
def test_hold_is_refused(fleet: Service, fields: dict[str, str], sentence: str) -> None:
    """A hold that cannot be set is refused beside the form; what was typed stays."""
    fleet.post(
        "/setup/retention/hold",
        {"vehicle": "V-0001", "reason": "claim"}
        if sentence == "on hold already"
        else {"vehicle": "V-0002", "reason": "x"},
    )

    answer: Any = fleet.post("/setup/retention/hold", fields)

    assert answer.status_code == 422
    assert sentence in unescape(answer.text)
    assert f'value="{fields["vehicle"]}"' in answer.text


def test_held_vehicle_is_not_erased(fleet: Service) -> None:
    """Erasing a vehicle on hold is refused in plain words."""
    fleet.post("/setup/retention/hold", {"vehicle": "V-0001", "reason": "claim 17"})

    answer = fleet.post("/setup/vehicles/V-0001/erase", {"confirm": "V-0001"})

    assert answer.status_code == 409
    assert "on hold" in answer.text
    assert fleet.client.get("/vehicles/V-0001").status_code == 200


def test_what_went_is_listed(fleet: Service) -> None:
    """Each month that went is listed with its rows."""
    _age(fleet, Lines(readings=to_day(NOW.date()) - 20))

    page = fleet.client.get("/setup/retention").text

    assert "Removed, the newest first" in page
    assert "schedule" in page


def test_pages_work_afterwards(fleet: Service) -> None:
    """Every page of the vehicle, files and lists open after its readings have gone, and its own says so."""
    _age(fleet, Lines(readings=TODAY + 2))
    assert "Readings kept from</dt><dd>6 Mar 2031" in fleet.client.get("/vehicles/V-0001").text

    for address in (
        "/vehicles/V-0001",
        "/vehicles",
        "/week",
        "/coverage",
        "/track-record",
        "/money",
        "/exports/snapshots.csv",
        f"/exports/snapshots.csv?as_of={(NOW - timedelta(days=3)).date().isoformat()}",
    ):
        assert fleet.client.get(address).status_code == 200, address
