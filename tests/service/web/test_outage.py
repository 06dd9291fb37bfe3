"""Many loggers that stop at once are one notice."""

from datetime import timedelta
from html import unescape

from ingest.records import Vehicle
from models.findings import Assessment, VehicleState
from tests.service.web.conftest import Service
from tests.service.web.fleet import NOW, TODAY, ndjson, snapshot

MANY = 50


def test_fifty_loggers_that_stop_together_are_one_notice(service: Service) -> None:
    """Fifty loggers of one depot fall silent on one day: one notice with that day, and each in the list."""
    names = [f"V-{number:04d}" for number in range(MANY)]
    stopped = NOW - timedelta(days=12)
    states = tuple(
        VehicleState(vehicle=name, word="cannot_say", reason="silent", last_day=TODAY - 12, readings=9)
        for name in names
    )
    with service.store.begin() as work:
        work.put_vehicles([Vehicle(vehicle=name, depot="South") for name in names], NOW)
        work.put_assessment(Assessment(day=TODAY - 1, method="a method 1", vehicles=states), NOW, trends=())
        work.commit()
    items = [snapshot(name, taken_at=stopped.isoformat()) for name in names]
    service.send(ndjson(items), service.token("send"), "application/x-ndjson")

    page = unescape(service.client.get("/coverage").text)
    week = unescape(service.client.get("/week").text)

    assert page.count("stopped together") == 1
    assert "50 loggers stopped together" in page
    assert "depot South" in page
    assert "Silent: 50" in page
    assert "Whether a vehicle needs pulling in cannot be said" in week
    assert "No vehicle needs pulling in" not in week
