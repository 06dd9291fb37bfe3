"""Lists and loads: pages without repeat or gap, and the same rows as the command line takes."""

from datetime import timedelta
from typing import Any

import pytest

from tests.service.web.conftest import Service
from tests.service.web.fleet import NOW, ndjson, snapshot


def _walk(service: Service, address: str, headers: dict[str, str], limit: int = 5) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    cursor = ""
    joint = "&" if "?" in address else "?"
    while True:
        url = f"{address}{joint}limit={limit}" + (f"&cursor={cursor}" if cursor else "")
        page = service.client.get(url, headers=headers).json()
        assert len(page["items"]) <= limit
        found += page["items"]
        cursor = page["next_cursor"]
        if cursor is None:
            return found


@pytest.mark.parametrize(
    ("address", "count"),
    [
        ("/api/v1/vehicles", 12),
        ("/api/v1/vehicles?depot=North", 6),
        ("/api/v1/specs", 1),
        ("/api/v1/snapshots", 59),
        ("/api/v1/trends", 12),
        ("/api/v1/trends?vehicle=V-0004", 1),
        ("/api/v1/tickets", 1),
        ("/api/v1/tickets?status=done", 0),
        ("/api/v1/work", 1),
        ("/api/v1/risk", 12),
    ],
)
def test_walk(fleet: Service, address: str, count: int) -> None:
    """Following the cursor gives every row once."""
    rows = _walk(fleet, address, fleet.token("read"))

    assert len(rows) == count
    assert len({str(row) for row in rows}) == count


def test_rows_that_come_meanwhile(fleet: Service) -> None:
    """Rows put in while a list is read cause no repeat and no gap."""
    headers = fleet.token("admin")
    first = fleet.client.get("/api/v1/vehicles?limit=6", headers=headers).json()

    fleet.client.post("/api/v1/vehicles", json=[{"vehicle": "A-1"}, {"vehicle": "V-0006b"}], headers=headers)
    rest = fleet.client.get(
        f"/api/v1/vehicles?limit=100&cursor={first['next_cursor']}", headers=headers
    ).json()

    names = [row["vehicle"] for row in first["items"] + rest["items"]]
    assert names == sorted(set(names))
    assert set(names) >= {f"V-{number:04d}" for number in range(1, 13)}


@pytest.mark.parametrize("name", ["vehicles", "trends", "risk", "snapshots"])
def test_cursor_is_bound(fleet: Service, name: str) -> None:
    """A cursor of one list, or of other filters, is refused with 400."""
    headers = fleet.token("read")
    other = "trends" if name == "vehicles" else "vehicles"
    cursor = fleet.client.get(f"/api/v1/{other}?limit=2", headers=headers).json()["next_cursor"]

    answer = fleet.client.get(f"/api/v1/{name}?cursor={cursor}", headers=headers)

    assert (answer.status_code, answer.json()["code"]) == (400, "bad-cursor")


def test_cursor_is_bound_to_filters(fleet: Service) -> None:
    """A cursor goes on with the filters that it was given out for, and no others."""
    headers = fleet.token("read")
    cursor = fleet.client.get("/api/v1/vehicles?depot=North&limit=2", headers=headers).json()["next_cursor"]

    assert fleet.client.get(f"/api/v1/vehicles?depot=North&cursor={cursor}", headers=headers).is_success
    assert (
        fleet.client.get(f"/api/v1/vehicles?depot=South&cursor={cursor}", headers=headers).status_code == 400
    )


def test_as_of_hides_late_snapshots(fleet: Service) -> None:
    """A list as of a day leaves out what was received later."""
    headers = fleet.token("admin")
    address = "/api/v1/snapshots?as_of=2031-03-03&limit=1000"

    assert fleet.client.get(address, headers=headers).json()["items"] == []
    fleet.send(ndjson([snapshot()]), headers, "application/x-ndjson")

    assert fleet.client.get(address, headers=headers).json()["items"] == []


def test_sheets_go_round(fleet: Service) -> None:
    """Loading the listed sheets again changes nothing."""
    headers = fleet.token("admin")
    listed = fleet.client.get("/api/v1/specs", headers=headers).json()["items"]

    answer = fleet.client.post("/api/v1/specs", json={"spec_sheets": listed}, headers=headers).json()

    assert (answer["added"], answer["changed"], answer["same"], answer["refused"]) == (0, 0, 1, [])


def test_sheet_conflict(fleet: Service) -> None:
    """A known revision with other content is refused and leaves the old one."""
    headers = fleet.token("admin")
    changed = [{"sheet": "HARROW-24", "revision": 2, "source": "another page"}]

    answer = fleet.client.post("/api/v1/specs", json={"spec_sheets": changed}, headers=headers).json()

    assert [one["code"] for one in answer["refused"]] == ["sheet-conflict"]
    listed = fleet.client.get("/api/v1/specs", headers=headers).json()["items"]
    assert listed[0]["source"] == "shop manual p. 6-12"


def test_load_twice(fleet: Service) -> None:
    """The same file twice is no change the second time."""
    headers = fleet.token("admin") | {"content-type": "text/csv"}
    body = b"vehicle,depot\nW-1,North\nW-2,\n"

    first = fleet.client.post("/api/v1/vehicles", content=body, headers=headers).json()
    second = fleet.client.post("/api/v1/vehicles", content=body, headers=headers).json()

    assert (first["added"], first["same"]) == (2, 0)
    assert (second["added"], second["changed"], second["same"]) == (0, 0, 2)


def test_load_says_what_was_refused(fleet: Service) -> None:
    """Bad rows are named by place and lose none of the good ones."""
    headers = fleet.token("work")
    rows = [
        {"vehicle": "V-0001", "done_at": (NOW - timedelta(days=1)).isoformat(), "kind": "note"},
        {"vehicle": "V-0001", "done_at": "yesterday", "kind": "note"},
        {"vehicle": "V-9999", "done_at": (NOW - timedelta(days=1)).isoformat(), "kind": "note"},
    ]

    answer = fleet.client.post("/api/v1/work", json=rows, headers=headers).json()

    assert answer["added"] == 1
    assert [one["index"] for one in answer["refused"]] == [1, 2]


def test_risk_names_the_silent(fleet: Service) -> None:
    """Silence is a row that says so, and states no probability."""
    rows = _walk(fleet, "/api/v1/risk", fleet.token("read"), limit=100)

    silent = next(row for row in rows if row["vehicle"] == "V-0003")
    assert (silent["standing"], silent["reason"], silent["probability_30d"]) == ("cannot_say", "silent", None)
