"""The plan page: hours in, the ordered list out, days for all or none."""

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from html import unescape
from typing import Any

import pytest

from service.clock import Clock
from service.tickets.ticket import Ticket
from tests.service.web.conftest import Service, open_service
from tests.service.web.fleet import NOW, TICKET


def add(service: Service, vehicle: str, **changes: Any) -> Ticket:
    """Put one more ticket of two hours into the store."""
    with service.store.begin() as work:
        plain = work.ticket(TICKET)
        wanted: dict[str, Any] = {
            "priority": "plan_this_week",
            "booked_hours": 2.0,
            "depot": "North",
        } | changes
        ticket = replace(plain, ticket=f"{vehicle}-T9", vehicle=vehicle, version=1, **wanted)
        work.put_ticket(ticket, read_version=0)
        work.commit()
    return ticket


@pytest.fixture
def planned(fleet: Service) -> Service:
    """Give the fleet with three vehicles that want the workshop, seen by the manager."""
    fleet.become("manager")
    add(fleet, "V-0002", gain=50.0)
    add(fleet, "V-0004", gain=40.0)
    add(fleet, "V-0005", due_by=NOW.date() - timedelta(days=3), status="accepted")
    return fleet


def dates(service: Service, page: str, **changes: str) -> Any:
    """Send the form of dates as the page holds it."""
    form = unescape(page).split('action="/plan/dates"')[1].split("</form>")[0]
    found = re.findall(r'name="(\w+)"[^>]*value="([^"]*)"', form)
    fields: dict[str, list[str]] = {}
    for name, value in found:
        fields.setdefault(name, []).append(changes.get(name, value))
    return service.post("/plan/dates", fields)


def tickets(service: Service) -> dict[str, Ticket]:
    """Read the open tickets by vehicle."""
    with service.store.begin(readonly=True) as work:
        return {one.vehicle: one for one in work.tickets(open_only=True)}


def test_plan_statements(planned: Service, statements: Callable[[], Any]) -> None:
    """The plan asks the store little."""
    with statements() as found:
        answer = planned.client.get("/plan?hours=20")

    assert answer.status_code == 200
    assert answer.text.count("<h1") == 1
    assert len(found) <= 10, found


def test_hours_end_the_list(planned: Service) -> None:
    """What must come in is first, the hours end the list, and what is left out says why."""
    page = unescape(planned.client.get("/plan?hours=5.6").text)

    inside, outside = page.split("Not in the plan")
    assert inside.index("V-0005") < inside.index("V-0002")
    assert "past due" in inside
    assert "the hours end before it" in outside
    assert "V-0004" in outside
    assert "2 visits fit: 4.6 h of the 4.8 h that can be planned (5.6 h less the reserve)." in page
    assert planned.client.get("/plan?hours=5.6").text.count("V-0004") == page.count("V-0004")


def test_past_due_says_what_holds_it(planned: Service) -> None:
    """A ticket past due is listed with what holds it."""
    late = unescape(planned.client.get("/plan?hours=20").text).split('id="late"')[1]

    assert "3 days" in late
    assert "no date given" in late


@pytest.mark.parametrize(
    ("reason", "told"), [("parts", "waiting for parts"), ("vehicle_away", "vehicle away")]
)
def test_waiting_does_not_stop_the_clock(planned: Service, reason: str, told: str) -> None:
    """Work is begun and laid aside for parts, or the vehicle is away: past due it stays, and says why."""
    planned.become("lead")
    address = "/work/V-0005-T9"
    for version, fields in enumerate(({"event": "start"}, {"event": "pause", "reason": reason}), start=1):
        form = planned.client.get(address).text
        key = re.search(r'name="key" value="([^"]+)"', form)
        assert key is not None
        answer = planned.post(f"{address}/events", fields | {"version": str(version), "key": key[1]})
        assert answer.status_code == 303, answer.text

    late = unescape(planned.client.get("/plan?hours=20").text).split('id="late"')[1]

    assert tickets(planned)["V-0005"].status == "accepted"
    assert "3 days" in late
    assert told in late


@pytest.mark.parametrize("hours", ["0", ""])
def test_without_hours(planned: Service, hours: str) -> None:
    """Without hours the page asks for them, and still lists who wants them."""
    page = planned.client.get(f"/plan?hours={hours}" if hours else "/plan").text

    assert "Say how many hours the workshop has" in page
    assert "V-0002" in page


def test_without_tickets(service: Service) -> None:
    """Where no vehicle asks for the workshop a sentence says so."""
    service.become("manager")

    assert "No vehicle asks for the workshop" in service.client.get("/plan?hours=20").text


@pytest.mark.parametrize("query", ["hours=-1", "hours=nan", "hours=1e9", "hours=many"])
def test_wrong_hours(planned: Service, query: str) -> None:
    """Hours are a number from nothing to ten thousand."""
    assert planned.client.get(f"/plan?{query}").status_code == 422


def test_dates_for_all(planned: Service) -> None:
    """One form gives every vehicle of the plan its day, and the plan stays what it was."""
    page = planned.client.get("/plan?hours=20").text

    assert dates(planned, page).headers["location"] == "/plan?hours=20&saved=dates"

    found = tickets(planned)
    assert all(found[name].booked_on for name in ("V-0002", "V-0004", "V-0005"))
    again = planned.client.get("/plan?hours=20").text
    rows = re.compile(r'<th scope="row"><a href="([^"]+)"|type="date" value="([^"]+)"')
    assert rows.findall(again) == rows.findall(page)


def test_dates_for_none(planned: Service) -> None:
    """When one vehicle cannot be booked none is: a ticket that was moved since keeps them all."""
    page = planned.client.get("/plan?hours=20").text
    with planned.store.begin() as work:
        moved = work.ticket("V-0004-T9")
        work.put_ticket(replace(moved, status="in_work", version=2), read_version=1)
        work.commit()

    answer = dates(planned, page)

    assert answer.status_code == 412
    assert not any(one.booked_on for one in tickets(planned).values())


def test_day_off_for_none(planned: Service) -> None:
    """A Sunday keeps every date from being given, and the page names it."""
    answer = dates(planned, planned.client.get("/plan?hours=20").text, day="2031-03-09")

    assert answer.status_code == 422
    assert "does not work on 2031-03-09" in answer.text
    assert not any(one.booked_on for one in tickets(planned).values())


@pytest.mark.parametrize("changes", [{"day": "soon"}, {"version": "x"}, {"work_hours": "x"}])
def test_broken_form_of_dates(planned: Service, changes: dict[str, str]) -> None:
    """A form of dates that cannot be read is refused."""
    answer = dates(planned, planned.client.get("/plan?hours=20").text, **changes)

    assert answer.status_code == 422


def test_pins(planned: Service) -> None:
    """A pinned vehicle is in the plan whatever comes before it; pins that do not fit say by how much."""
    planned.post("/plan/pins", {"pin": "V-0004", "key": "p-1", "back": "/plan?hours=3"})
    page = unescape(planned.client.get("/plan?hours=3").text)
    assert "V-0004" in page.split("Not in the plan")[0]
    assert tickets(planned)["V-0004"].pinned_until == date(2031, 3, 11)

    planned.post("/plan/pins", {"pin": "V-0002", "key": "p-2", "back": "/plan?hours=3"})
    assert "Pins need 2.0 h more." in unescape(planned.client.get("/plan?hours=3").text)

    planned.post("/plan/pins", {"unpin": "V-0002", "key": "p-3", "back": "/plan"})
    assert tickets(planned)["V-0002"].pinned_until is None


def test_leaving_out(planned: Service) -> None:
    """What the planner leaves out is said to be, and can be put back."""
    page = unescape(planned.client.get("/plan?hours=20&out=V-0002").text)

    inside, outside = page.split("Not in the plan")
    assert 'href="/vehicles/V-0002"' not in inside
    assert "left out by you" in outside
    assert 'href="/plan?hours=20"' in outside


def test_depot(planned: Service) -> None:
    """A plan may be held to one depot."""
    page = planned.client.get("/plan?hours=20&depot=South").text

    assert "V-0002" not in page


def test_who_plans(planned: Service) -> None:
    """A mechanic sees no plan; an analyst sees it and gives no dates."""
    planned.become("mechanic")
    assert planned.client.get("/plan").status_code == 403

    planned.become("analyst")
    page = planned.client.get("/plan?hours=20").text
    assert "Give all these days" not in page
    assert planned.post("/plan/pins", {"pin": "V-0004", "key": "p", "back": "/plan"}).status_code == 409


def test_hours_are_filled_in(main_url: str, tmp_path: Any) -> None:
    """The workshop's hours of the settings are there without asking."""
    service = open_service(main_url, tmp_path, workshop_hours=32.0)
    service.become("lead")

    assert 'value="32"' in service.client.get("/plan").text
    service.store.close()


@pytest.mark.parametrize(("at", "late"), [("2031-03-09T03:59:00", False), ("2031-03-09T05:01:00", True)])
def test_late_at_the_depot(planned: Service, at: str, late: bool) -> None:
    """Due on the 8th turns past due at midnight of the depot, whose day ends five hours after the fleet's."""
    moment = datetime.fromisoformat(at).replace(tzinfo=UTC)
    add(planned, "V-0006", due_by=date(2031, 3, 8))
    planned.app.state.shell = replace(planned.app.state.shell, clock=Clock(lambda: moment))

    page = unescape(planned.client.get("/plan?hours=20").text).split('id="late"')[1]

    assert ("V-0006" in page) == late
