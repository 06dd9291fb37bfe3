"""Devices and tokens through the pages: the first reading, replacing, ending, moving."""

import re
import shlex
from datetime import timedelta
from email.utils import format_datetime
from html import unescape
from typing import Any

import orjson
import pytest

from tests.service.web.conftest import Service
from tests.service.web.fleet import NOW, snapshot


def run_command(service: Service, command: str) -> Any:
    """Do what the pasted command does."""
    words = shlex.split(command.replace("\\\n", " "))
    headers = dict(words[place + 1].split(": ", 1) for place, word in enumerate(words) if word == "-H")
    body = words[words.index("-d") + 1]
    assert words[0] == "curl"
    assert words[2].endswith("/api/v1/snapshots")
    return service.client.post("/api/v1/snapshots", content=body.encode(), headers=headers)


def code(page: str, id: str) -> str:
    """Take a block of code off a page."""
    found = re.search(rf'<code id="{id}">([^<]+)</code>', page)
    assert found is not None
    return unescape(found[1])


def test_first_reading_in_four_steps(service: Service) -> None:
    """Create a vehicle, issue a token, paste the command, see the reading on the vehicle's page."""
    service.post("/setup/vehicles/new", {"vehicle": "V-0099"})
    issued = service.post("/setup/devices", {"name": "logger-L-221", "scope": "send", "vehicles": "V-0099"})
    answer = run_command(service, code(issued.text, "command"))
    page = unescape(service.client.get("/vehicles/V-0099").text)

    assert answer.json()["accepted"] == 1, answer.text
    assert "4 Mar 2031" in page
    assert "No readings yet" not in page


def test_the_secret_is_shown_once(service: Service) -> None:
    """The page after the issue has the secret and is kept nowhere; no later page has it."""
    issued = service.post("/setup/devices", {"name": "logger-L-221", "scope": "send"})
    secret = code(issued.text, "secret")

    assert issued.headers["cache-control"] == "no-store"
    assert secret not in service.client.get("/setup/devices").text
    assert secret[:10] in service.client.get("/setup/devices").text


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"name": "", "scope": "send"}, "name"),
        ({"name": "logger"}, "scope"),
        ({"name": "logger", "scope": "read", "vehicles": "V-0001"}, "vehicles"),
        ({"name": "logger", "scope": "send", "vehicles": "V-9999"}, "vehicles"),
    ],
)
def test_a_wrong_token_is_refused(fleet: Service, fields: dict[str, str], field: str) -> None:
    """What makes no sense is told by field; nothing is issued."""
    answer = fleet.post("/setup/devices", fields)

    assert answer.status_code == 422
    assert f'href="#{field}"' in answer.text


def test_replacing_overlaps(fleet: Service) -> None:
    """Old and new token both send until the overlap ends; then only the new one is in use."""
    first = code(fleet.post("/setup/devices", {"name": "L-1", "scope": "send"}).text, "secret")
    page = fleet.post("/setup/devices/rotate", {"name": "L-1"}).text
    second = code(page, "secret")

    for secret, number in ((first, 1), (second, 2)):
        body = orjson.dumps(snapshot(id=f"x-{number}"))
        answer = fleet.send(body, {"Authorization": f"Bearer {secret}"})
        assert answer.json()["accepted"] == 1
    with fleet.store.begin(readonly=True) as work:
        ends = {one.name: one.expires_at for one in work.tokens() if one.name.startswith("L-1")}
    assert ends["L-1"] is None
    assert sorted(str(end) for end in ends.values() if end) == [str(NOW + timedelta(days=7))]


def test_ending_ends_at_once(fleet: Service) -> None:
    """A token that was ended sends no more; replacing it is not possible."""
    secret = code(fleet.post("/setup/devices", {"name": "L-1", "scope": "send"}).text, "secret")
    fleet.post("/setup/devices/revoke", {"name": "L-1"})

    answer = fleet.send(orjson.dumps(snapshot()), {"Authorization": f"Bearer {secret}"})

    assert answer.status_code == 401
    assert fleet.post("/setup/devices/rotate", {"name": "L-1"}).status_code == 404


def test_a_clock_that_is_off_is_shown(fleet: Service) -> None:
    """More than five minutes off is told with its side; less is not; readings ahead of us show it too."""
    for name, header, taken in (
        ("late", format_datetime(NOW - timedelta(minutes=12)), NOW),
        ("fine", format_datetime(NOW + timedelta(minutes=4)), NOW),
        ("early", "", NOW + timedelta(hours=2)),
    ):
        secret = code(fleet.post("/setup/devices", {"name": name, "scope": "send"}).text, "secret")
        headers = {"Authorization": f"Bearer {secret}"} | ({"date": header} if header else {})
        fleet.send(orjson.dumps(snapshot(id=name, taken_at=taken.isoformat())), headers)
    page = unescape(fleet.client.get("/setup/devices").text)

    assert page.count("<strong>Clock") == 2
    assert "Clock 12 minutes behind" in page
    assert "Clock 120 minutes ahead" in page
    assert "Senders whose clock" in fleet.client.get("/setup").text


def test_a_moved_device_starts_a_new_baseline(fleet: Service) -> None:
    """A move has a date: from it on the vehicle has another instrument; readings that differ are doubted."""
    fleet.send(orjson.dumps(snapshot()), fleet.token("send"))
    fleet.post("/setup/devices/move", {"device": "L-220", "vehicle": "V-0002", "since": "2031-03-01"})
    with fleet.store.begin(readonly=True) as work:
        starts = work.device_starts()

    assert [device for _, device in starts["V-0002"]] == ["L-220"]
    assert "It is said to be in V-0002" in unescape(fleet.client.get("/setup/devices").text)


@pytest.mark.parametrize(
    "fields",
    [
        {"device": "", "vehicle": "V-0002", "since": "2031-03-01"},
        {"device": "L-1", "vehicle": "V-9999", "since": "2031-03-01"},
        {"device": "L-1", "vehicle": "V-0002", "since": "soon"},
    ],
)
def test_a_wrong_move_is_refused(fleet: Service, fields: dict[str, str]) -> None:
    """No device, nobody's vehicle, or no day: told, and nothing is kept."""
    assert fleet.post("/setup/devices/move", fields).status_code == 422
    with fleet.store.begin(readonly=True) as work:
        assert work.device_links() == ()
