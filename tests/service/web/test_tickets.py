"""Moving a ticket from another program."""

from datetime import timedelta
from typing import Any

import pytest

from tests.service.web.conftest import Service
from tests.service.web.fleet import NOW, TICKET

ADDRESS = f"/api/v1/tickets/{TICKET}"


def _move(service: Service, headers: dict[str, str], **message: Any) -> Any:
    return service.client.post(f"{ADDRESS}/events", json=message, headers=headers)


def test_accept(fleet: Service) -> None:
    """A workshop's program accepts a ticket; the history tells who did."""
    headers = fleet.token("work", "read")

    answer = _move(fleet, headers, event="accept", version=1, assignee="bench 2")

    assert answer.json()["ticket"]["status"] == "accepted"
    assert answer.json()["ticket"]["version"] == 2
    history = fleet.client.get(f"{ADDRESS}/events", headers=headers).json()["items"]
    assert [(one["event"], one["by"].partition("-")[0]) for one in history] == [
        ("raise", "system"),
        ("accept", "work"),
    ]


def test_stale(fleet: Service) -> None:
    """Of two changes to one version one wins; the other gets both versions and writes nothing."""
    headers = fleet.token("work")
    _move(fleet, headers, event="accept", version=1)

    answer = _move(fleet, headers, event="start", version=1)

    assert (answer.status_code, answer.json()["code"]) == (412, "stale-version")
    assert (answer.json()["given_version"], answer.json()["current_version"]) == (1, 2)
    assert answer.json()["current"]["status"] == "accepted"


def test_not_allowed(fleet: Service) -> None:
    """An event that the life-cycle does not know here is a 409 that lists the ones it does."""
    answer = _move(fleet, fleet.token("work"), event="verify_by_hand", version=1)

    assert (answer.status_code, answer.json()["code"]) == (409, "transition-not-allowed")
    assert "accept" in answer.json()["allowed"]


def test_missing_fact(fleet: Service) -> None:
    """A fact that the event needs is named."""
    answer = _move(fleet, fleet.token("work"), event="book", version=1)

    assert (answer.status_code, answer.json()["code"]) == (422, "transition-refused")
    assert answer.json()["errors"][0]["pointer"] == "/on"


@pytest.mark.parametrize(
    ("message", "pointer"),
    [
        ({"version": 1}, ""),
        ({"event": "fly", "version": 1}, "/event"),
        ({"event": "accept", "version": "1"}, "/version"),
        ({"event": "accept", "version": 1, "colour": "red"}, "/colour"),
        ({"event": "record_repair", "version": 1, "cause": "gremlins"}, "/cause"),
        ({"event": "record_repair", "version": 1, "done_at": "2031-03-04T10:00:00"}, "/done_at"),
    ],
)
def test_wrong_message(fleet: Service, message: dict[str, Any], pointer: str) -> None:
    """A message with a wrong, unknown or missing field is refused at its place."""
    answer = _move(fleet, fleet.token("work"), **message)

    assert (answer.status_code, answer.json()["code"]) == (422, "body-invalid")
    assert answer.json()["errors"][0]["pointer"] == pointer


def test_repair(fleet: Service) -> None:
    """A recorded repair moves the ticket and keeps the work record with it, once."""
    headers = fleet.token("work", "read")
    done_at = (NOW - timedelta(hours=3)).isoformat()

    answer = _move(
        fleet,
        headers,
        event="record_repair",
        version=1,
        done_at=done_at,
        cause="unmetered_air",
        labour_hours=1.5,
    )

    assert answer.json()["ticket"]["status"] == "done", answer.text
    work = fleet.client.get("/api/v1/work?kind=repair", headers=headers).json()["items"]
    assert [(one["ticket"], one["cause"], one["labour_hours"]) for one in work] == [
        (TICKET, "unmetered_air", 1.5)
    ]
    assert answer.json()["ticket"]["records"] == [work[0]["number"]]


def test_refused_repair_keeps_nothing(fleet: Service) -> None:
    """When the ticket cannot move, its work record is not kept either."""
    headers = fleet.token("work", "read")
    done_at = (NOW - timedelta(hours=3)).isoformat()
    _move(fleet, headers, event="record_no_fault", version=1, done_at=done_at)

    answer = _move(fleet, headers, event="record_repair", version=2, done_at=done_at)

    assert answer.status_code == 409
    assert fleet.client.get("/api/v1/work?kind=repair", headers=headers).json()["items"] == []


def test_reader_may_not(fleet: Service) -> None:
    """A token that reads moves nothing, and is told that no event is open to it."""
    headers = fleet.token("read")

    assert _move(fleet, headers, event="accept", version=1).status_code == 403
    assert fleet.client.get(ADDRESS, headers=headers).json()["allowed"] == []
