"""Vehicles in the setup: added, changed, off the road, out of service."""

from datetime import timedelta
from html import unescape
from pathlib import Path

from dashboards.words import TASKS
from tests.service.web.conftest import Service, open_service
from tests.service.web.fleet import NOW, TICKET, ndjson, snapshot

TODAY = NOW.date()


def test_the_first_day_shows_how_to_start(service: Service) -> None:
    """Without vehicles the setup shows three steps and offers the practice fleet."""
    page = service.client.get("/setup").text

    assert "Three steps to a first reading" in page
    assert "forelamp demo" in page


def test_a_vehicle_is_added_and_shown(service: Service) -> None:
    """A new vehicle needs its number only; its page then says what it lacks."""
    answer = service.post("/setup/vehicles/new", {"vehicle": "V-0099"})
    page = unescape(service.client.get(answer.headers["location"]).text)

    assert answer.status_code == 303
    assert "The vehicle is registered." in page
    assert "No spec sheet: compared with its own history and like vehicles only." in page
    assert "V-0099" in service.client.get("/setup/vehicles").text


def test_a_sheet_that_is_not_on_file_is_told(service: Service) -> None:
    """A vehicle that names an unknown sheet says so, and is a task."""
    service.post("/setup/vehicles/new", {"vehicle": "V-0099", "spec_sheet": "HARROW-99"})

    assert "Its spec sheet is not on file" in service.client.get("/setup/vehicles/V-0099").text
    assert "Vehicles that name a sheet not on file" in service.client.get("/setup").text


def test_what_is_wrong_is_said_beside_what_was_typed(fleet: Service) -> None:
    """A wrong field is named and linked, and nothing typed is lost."""
    answer = fleet.post(
        "/setup/vehicles/new", {"vehicle": "V-0099", "time_zone": "Chicago", "notes": "a blue one"}
    )
    page = unescape(answer.text)

    assert answer.status_code == 422
    assert 'href="#time_zone"' in page
    assert "a blue one" in page
    assert fleet.client.get("/setup/vehicles/V-0099").status_code == 404


def test_a_number_is_registered_once(fleet: Service) -> None:
    """Adding a number that is there changes nothing and says so."""
    answer = fleet.post("/setup/vehicles/new", {"vehicle": "V-0001"})

    assert answer.status_code == 422
    assert "registered already" in answer.text


def test_the_expected_digit_of_a_vin_is_named(fleet: Service) -> None:
    """A mistyped VIN is kept with a warning that names the digit expected; a right one has none."""
    fleet.post("/setup/vehicles/V-0002", {"vin": "11111111211111111"})
    fleet.post("/setup/vehicles/V-0004", {"vin": "11111111111111111"})

    assert "its other characters give 1" in unescape(fleet.client.get("/setup/vehicles/V-0002").text)
    assert "Look at the VIN again" not in fleet.client.get("/setup/vehicles/V-0004").text


def test_the_same_again_changes_nothing(fleet: Service) -> None:
    """Saving a form as it stands is no change, and no line in the log."""
    fields = {"spec_sheet": "HARROW-24", "depot": "East", "time_zone": "America/New_York"}
    first = fleet.post("/setup/vehicles/V-0002", fields)
    second = fleet.post("/setup/vehicles/V-0002", fields)

    with fleet.store.begin(readonly=True) as work:
        assert len(work.log_entries(subject="V-0002").rows) == 1
    assert "vehicle_changed" in first.headers["location"]
    assert "vehicle_same" in second.headers["location"]


def test_off_road_leaves_the_denominator(fleet: Service) -> None:
    """A vehicle off the road is no gap and not counted; it is listed with its dates until it is back."""
    before = fleet.client.get("/vehicles").text
    fleet.post("/setup/vehicles/V-0003/off-road", {"since": str(TODAY), "reason": "waits for a gearbox"})
    page = unescape(fleet.client.get("/coverage").text)
    after = fleet.client.get("/vehicles").text

    assert "12 in service" in before
    assert "11 in service" in after
    assert "V-0003" not in fleet.client.get("/vehicles?word=cannot_say").text
    assert "Off the road: 1" in page
    with fleet.store.begin(readonly=True) as work:
        (entry,) = work.off_road()
    fleet.post("/setup/vehicles/V-0003/off-road", {"end": str(entry.number), "until": str(TODAY)})
    with fleet.store.begin(readonly=True) as work:
        assert work.absent(TODAY + timedelta(days=1)) == {}


def test_a_wrong_period_is_refused(fleet: Service) -> None:
    """Days that end before they begin, or are no days, are told beside the form."""
    address = "/setup/vehicles/V-0003/off-road"

    for fields in ({"since": "2031-03-04", "until": "2031-03-01"}, {"since": "tomorrow"}, {}):
        assert fleet.post(address, fields).status_code == 422
    with fleet.store.begin(readonly=True) as work:
        assert work.off_road() == ()


def test_a_vehicle_that_is_gone_takes_its_tickets_along(fleet: Service) -> None:
    """Out of service: open tickets are dismissed as gone, history stays, no list shows the vehicle."""
    fleet.post("/setup/vehicles/V-0001/service", {"gone": str(TODAY)})

    with fleet.store.begin(readonly=True) as work:
        ticket = work.ticket(TICKET)
        assert [one.event for one in work.ticket_events(TICKET)][-1] == "dismiss"
    assert (ticket.status, ticket.reason) == ("dismissed", "vehicle_gone")
    assert "V-0001" not in fleet.client.get("/vehicles").text
    assert fleet.client.get("/vehicles/V-0001").status_code == 200
    assert "Out of service since" in fleet.client.get("/setup/vehicles/V-0001").text


def test_a_vehicle_comes_back(fleet: Service) -> None:
    """Taken back into service a vehicle is listed again; its dismissed ticket stays so."""
    fleet.post("/setup/vehicles/V-0001/service", {"gone": str(TODAY)})
    fleet.post("/setup/vehicles/V-0001/service", {"back": "yes"})

    assert "V-0001" in fleet.client.get("/vehicles").text


def test_others_may_not(fleet: Service) -> None:
    """A mechanic sees no way to the setup and is told who can."""
    fleet.become("mechanic")

    assert "/setup" not in fleet.client.get("/week").text
    answer = fleet.client.get("/setup/vehicles")
    assert answer.status_code == 403
    assert "ntegrator" in answer.text


def test_a_fleet_may_refuse_a_mistyped_vin(main_url: str, tmp_path: Path) -> None:
    """Where the setting says so a wrong digit is refused by page, file and API, naming the one expected."""
    service = open_service(main_url, tmp_path, strict_vin=True)
    wrong = {"vehicle": "V-9", "vin": "11111111211111111"}

    typed = service.post("/setup/vehicles/new", wrong)
    sent = service.client.post("/api/v1/vehicles", json=[wrong], headers=service.token("admin"))

    assert typed.status_code == 422
    assert "its other characters give 1" in unescape(typed.text)
    assert [one["code"] for one in sent.json()["refused"]] == ["vin-digit"]
    service.store.close()


def test_an_odometer_that_goes_back_is_a_question(fleet: Service) -> None:
    """The setup asks about an odometer that fell; one that only rises is no task."""
    items = [
        snapshot(device="odo", taken_at=(NOW - timedelta(hours=ago)).isoformat(), odometer_km=km)
        for ago, km in ((3, 48_211), (2, 48_300), (1, 12))
    ]
    fleet.send(ndjson(items[:2]), fleet.token("send"), "application/x-ndjson")
    rising = unescape(fleet.client.get("/setup").text)
    fleet.send(ndjson(items[2:]), fleet.token("send"), "application/x-ndjson")

    fallen = unescape(fleet.client.get("/setup").text)

    assert TASKS["odometer_back"] not in rising
    assert TASKS["odometer_back"] in fallen
    assert "V-0001: 48,300 km, then 12 km" in fallen
