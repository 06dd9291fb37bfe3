"""Held snapshots on the coverage page: let in, or discarded, with a reason."""

from html import unescape

import orjson

from ingest.records import Vehicle
from tests.service.web.conftest import Service
from tests.service.web.fleet import NOW, snapshot


def _hold(service: Service) -> int:
    service.send(orjson.dumps(snapshot("W-9")), service.token("send"))
    with service.store.begin(readonly=True) as work:
        return work.refusals(kind="quarantined").rows[0].number


def test_a_held_snapshot_is_let_in_with_a_reason(fleet: Service) -> None:
    """Once its vehicle is registered it comes in; the log has who and why."""
    number = _hold(fleet)
    with fleet.store.begin() as work:
        work.put_vehicles([Vehicle(vehicle="W-9")], NOW)
        work.commit()

    answer = fleet.post(
        "/coverage/held", {"number": str(number), "do": "release", "reason": "registered now"}
    )

    assert answer.status_code == 303
    with fleet.store.begin(readonly=True) as work:
        assert len(work.snapshots(vehicle="W-9").rows) == 1
        (line,) = work.log_entries(what="released").rows
    assert line.after == "registered now"


def test_what_still_cannot_come_in_stays_held(fleet: Service) -> None:
    """Letting in a snapshot whose vehicle nobody registered says why not, and keeps it held."""
    number = _hold(fleet)

    answer = fleet.post("/coverage/held", {"number": str(number), "do": "release", "reason": "please"})

    assert answer.status_code == 409
    assert "W-9" in answer.text
    with fleet.store.begin(readonly=True) as work:
        assert len(work.refusals().rows) == 1


def test_a_discarded_snapshot_is_listed_no_more(fleet: Service) -> None:
    """Discarding takes it out of list and counts; a second time there is nothing to discard."""
    number = _hold(fleet)
    fleet.post("/coverage/held", {"number": str(number), "do": "discard", "reason": "a test bench"})

    with fleet.store.begin(readonly=True) as work:
        assert work.refusals().rows == ()
        assert work.refusal_counts() == {}
        assert [one.number for one in work.refusals(held_only=False).rows] == [number]
    assert "Nothing is set aside." in fleet.client.get("/coverage").text


def test_a_reason_is_needed_and_the_right_too(fleet: Service) -> None:
    """Without a reason or a choice nothing is done; a manager sees no such form."""
    number = _hold(fleet)

    assert fleet.post("/coverage/held", {"number": str(number), "do": "discard"}).status_code == 422
    assert fleet.post("/coverage/held", {"do": "discard", "reason": "why"}).status_code == 422
    fleet.become("manager")
    assert "/coverage/held" not in unescape(fleet.client.get("/coverage").text)
    with fleet.store.begin(readonly=True) as work:
        assert len(work.refusals().rows) == 1
