"""POST /api/v1/snapshots: what is kept, what is refused, and what a caller is told."""

import gzip
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import orjson
import pytest
import zstandard

from service.store import StoreUnavailable
from tests.service.web.conftest import Service
from tests.service.web.fleet import NOW, ndjson, snapshot

NDJSON = "application/x-ndjson"


def test_accepted(either_service: Service) -> None:
    """A believable snapshot is accepted and can be read back."""
    service = either_service

    answer = service.send(orjson.dumps(snapshot()), service.token("send"))

    assert answer.status_code == 200
    assert answer.json() == {"accepted": 1, "duplicates": 0, "quarantined": [], "rejected": []}
    listed = service.client.get("/api/v1/snapshots", headers=service.token("read")).json()["items"]
    assert [(item["vehicle"], item["values"]["LONGFT1"]) for item in listed] == [("V-0001", 3.9)]


def test_duplicates_counted(either_service: Service) -> None:
    """Sending the same again changes nothing and is counted."""
    service = either_service
    headers, body = service.token("send"), ndjson([snapshot(), snapshot(vehicle="V-0002")])

    first = service.send(body, headers, NDJSON).json()
    second = service.send(body, headers, NDJSON).json()

    assert (first["accepted"], first["duplicates"]) == (2, 0)
    assert (second["accepted"], second["duplicates"]) == (0, 2)


def test_broken_line(either_service: Service) -> None:
    """A broken line in the middle is named by its place and loses none of the others."""
    service = either_service
    lines = [
        orjson.dumps(snapshot()),
        b'{"vehicle": "V-0001", broken',
        orjson.dumps(snapshot(vehicle="V-0002")),
    ]

    answer = service.send(b"\n".join(lines), service.token("send"), NDJSON).json()

    assert answer["accepted"] == 2
    assert [(item["index"], item["code"]) for item in answer["rejected"]] == [(1, "bad-json")]


def test_unknown_vehicle(either_service: Service) -> None:
    """A vehicle that nobody registered is quarantined, and releasable once it is."""
    service = either_service
    admin = service.token("admin")
    answer = service.send(orjson.dumps(snapshot(vehicle="V-0099")), admin).json()
    assert [item["code"] for item in answer["quarantined"]] == ["unknown-vehicle"]
    held = service.client.get("/api/v1/refusals", headers=admin).json()["items"]
    address = f"/api/v1/refusals/{held[0]['number']}/release"
    refused = service.client.post(address, headers=admin)
    assert (refused.status_code, refused.json()["code"]) == (409, "not-releasable")

    service.client.post("/api/v1/vehicles", json=[{"vehicle": "V-0099"}], headers=admin)
    released = service.client.post(address, headers=admin)

    assert released.json()["accepted"] == 1
    assert service.client.get("/api/v1/refusals", headers=admin).json()["items"] == []


def test_time_without_offset(service: Service) -> None:
    """A time without an offset is rejected, not guessed."""
    answer = service.send(
        orjson.dumps(snapshot(taken_at="2031-03-04T06:12:09")), service.token("send")
    ).json()

    assert [item["code"] for item in answer["rejected"]] == ["time-without-offset"]


def test_future_time(fleet: Service) -> None:
    """A time in the future is quarantined."""
    later = (NOW + timedelta(days=2)).isoformat()

    answer = fleet.send(orjson.dumps(snapshot(taken_at=later)), fleet.token("send")).json()

    assert [item["code"] for item in answer["quarantined"]] == ["future-time"]


@pytest.mark.parametrize(
    ("encoding", "pack"), [("gzip", gzip.compress), ("zstd", zstandard.ZstdCompressor().compress)]
)
def test_packed(fleet: Service, encoding: str, pack: Any) -> None:
    """Bodies packed with gzip or zstd are read like plain ones."""
    body = pack(orjson.dumps(snapshot()))

    answer = fleet.send(body, fleet.token("send"), **{"content-encoding": encoding})

    assert answer.json()["accepted"] == 1


def test_csv(fleet: Service) -> None:
    """A CSV body with a unit in its header is read."""
    body = b"vehicle,taken_at,ECT [degF],RPM\nV-0001,2031-03-04T01:00:00Z,194,740\n"

    answer = fleet.send(body, fleet.token("send"), "text/csv")

    assert answer.json()["accepted"] == 1


@pytest.mark.parametrize("kind", ["text/plain", "application/xml", "", "text/csv; charset=latin-1"])
def test_wrong_type(service: Service, kind: str) -> None:
    """Another content type, or none, is a 415 that names the allowed ones."""
    answer = service.send(b"{}", service.token("send"), kind)

    assert (answer.status_code, answer.json()["code"]) == (415, "body-type-unsupported")
    assert "application/x-ndjson" in answer.json()["allowed"]


@pytest.mark.parametrize("encoding", ["br", "gzip, gzip"])
def test_wrong_encoding(service: Service, encoding: str) -> None:
    """Another content encoding, or packing twice, is a 415."""
    answer = service.send(b"{}", service.token("send"), **{"content-encoding": encoding})

    assert (answer.status_code, answer.json()["code"]) == (415, "body-encoding-unsupported")


def test_broken_gzip(service: Service) -> None:
    """A packed body that ends too early is a 400, and nothing is kept of it."""
    whole = gzip.compress(orjson.dumps(snapshot()))

    answer = service.send(whole[:-9], service.token("send"), **{"content-encoding": "gzip"})

    assert (answer.status_code, answer.json()["code"]) == (400, "compression-broken")


def test_announced_too_large(service: Service) -> None:
    """A body that announces 100 MB is refused before any of it is read."""
    headers = service.token("send") | {"content-type": NDJSON, "content-length": "100000000"}
    read = []

    def pieces() -> Iterator[bytes]:
        read.append(1)
        yield b"{}"

    answer = service.client.post("/api/v1/snapshots", content=pieces(), headers=headers)

    assert (answer.status_code, answer.json()["code"]) == (413, "body-too-large")


def test_grows_too_large(service: Service) -> None:
    """A body that does not announce its length is refused as soon as it grows over the limit."""
    taken = 0

    def pieces() -> Iterator[bytes]:
        nonlocal taken
        for _ in range(100):
            taken += 1
            yield b" " * 1_000_000

    headers = service.token("send") | {"content-type": NDJSON}
    answer = service.client.post("/api/v1/snapshots", content=pieces(), headers=headers)

    assert (answer.status_code, answer.json()["code"]) == (413, "body-too-large")


def test_bomb(service: Service) -> None:
    """A few kilobytes that unpack to a hundred megabytes are refused."""
    bomb = gzip.compress(b" " * 100_000_000)

    answer = service.send(bomb, service.token("send"), NDJSON, **{"content-encoding": "gzip"})

    assert len(bomb) < 200_000
    assert (answer.status_code, answer.json()["code"]) == (413, "body-too-large")


def test_listed_vehicles_only(fleet: Service) -> None:
    """A token issued for one vehicle sends for that one only, and learns nothing of others."""
    headers = fleet.token("send", vehicles=("V-0001",))
    body = ndjson([snapshot(), snapshot(vehicle="V-0002"), snapshot(vehicle="V-7777")])

    answer = fleet.send(body, headers, NDJSON).json()

    assert answer["accepted"] == 1
    assert [(item["index"], item["code"]) for item in answer["rejected"]] == [
        (1, "vehicle-not-allowed"),
        (2, "vehicle-not-allowed"),
    ]


def test_foreign_quarantine(fleet: Service) -> None:
    """A token issued for one vehicle cannot put another one's snapshots into quarantine either."""
    headers = fleet.token("send", vehicles=("V-0001",))
    later = (NOW + timedelta(days=2)).isoformat()

    answer = fleet.send(orjson.dumps(snapshot(vehicle="V-0002", taken_at=later)), headers).json()

    assert answer["quarantined"] == []
    assert [item["code"] for item in answer["rejected"]] == ["vehicle-not-allowed"]
    assert (
        fleet.client.get("/api/v1/refusals?kind=quarantined", headers=fleet.token("read")).json()["items"]
        == []
    )


def test_items_have_three_members(fleet: Service) -> None:
    """Refused items are told by place, code and detail, as the contract says."""
    answer = fleet.send(ndjson([snapshot(vehicle="V-9")]) + b"\n{", fleet.token("send"), NDJSON).json()

    for item in (*answer["quarantined"], *answer["rejected"]):
        assert set(item) == {"index", "code", "detail"}


def test_unknown_names_are_told(fleet: Service) -> None:
    """A name nobody knows does not drop the snapshot, and is told to the sender."""
    body = orjson.dumps(snapshot(values={"RPM": 700, "SPARKLE": 3}, driver="Someone"))

    answer = fleet.send(body, fleet.token("send")).json()

    assert answer["accepted"] == 1
    assert answer["unknown_names"] == {"SPARKLE": 1}
    assert answer["left_out"] == 1


def test_alias_counts_at_once(fleet: Service) -> None:
    """An alias counts for the snapshot after it, whichever process took it in."""
    admin = fleet.token("admin")
    alias = [{"scope": "fleet", "scope_id": "", "name": "BATTERY", "parameter": "VPWR"}]
    with fleet.store.begin() as work:
        work.put_aliases([], NOW)
        work.commit()
    fleet.client.post("/api/v1/aliases", json=alias, headers=admin)

    fleet.send(orjson.dumps(snapshot(values={"BATTERY": 13.9, "RPM": 700})), admin)

    listed = fleet.client.get("/api/v1/snapshots?vehicle=V-0001&limit=1000", headers=admin).json()["items"]
    assert listed[-1]["values"]["VPWR"] == 13.9


def test_database_away(service: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without its database the service says when to send again."""
    headers = service.token("send")

    def away(**_: object) -> None:
        raise StoreUnavailable("no route to host db-7")

    monkeypatch.setattr(service.store, "begin", away)
    answer = service.send(orjson.dumps(snapshot()), headers)

    assert (answer.status_code, answer.json()["code"]) == (503, "store-unavailable")
    assert answer.headers["retry-after"] == "5"
    assert "db-7" not in answer.text


def test_driver_fields(fleet: Service) -> None:
    """Driver and position fields never reach the store."""
    headers = fleet.token("admin")
    fleet.send(orjson.dumps(snapshot(driver="Someone", latitude=47.1)), headers)

    listed = fleet.client.get("/api/v1/snapshots?limit=1000", headers=headers).text

    assert "Someone" not in listed
    assert "47.1" not in listed
