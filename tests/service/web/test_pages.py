"""Pages: what a person reads on them, where their links lead, and how few statements they cost."""

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from html import escape, unescape
from typing import Any
from urllib.parse import urlsplit

import pytest

from dashboards.links import vehicle_url
from dashboards.words import JOBS, say
from service.clock import Clock
from tests.service.web.conftest import Service
from tests.service.web.fleet import NOW, TICKET, ndjson, snapshot

PAGES: dict[str, tuple[int, str]] = {
    "/week": (12, "should come in this week"),
    "/vehicles": (7, "V-0012"),
    "/vehicles?word=plan_this_week&depot=South": (7, "V-0001"),
    "/vehicles/V-0001": (15, "HARROW-24"),
    "/vehicles/V-0001/trends?parameter=LONGFT1&state=warm_idle": (16, "long-term fuel trim"),
    "/work": (7, "long-term fuel trim"),
    f"/work/{TICKET}": (13, "unmetered air"),
    f"/work/{TICKET}/sheet": (13, "shop manual p. 6-12"),
    "/coverage": (15, "V-0003"),
    "/money": (22, "No cost table is loaded"),
    "/money?depot=North&from=2031-02-01&to=2031-03-01": (22, "no sum is given"),
    "/money/budget": (20, "No budget yet"),
    "/track-record": (18, "too few to say"),
    "/setup/costs": (3, "made up"),
    "/exports": (3, "forelamp export tickets"),
    "/dictionary": (0, "probability_30d"),
    "/help": (0, "Each person signs in with an account"),
    "/help/words": (0, "Steady"),
    "/problems/not-found": (0, "Nothing here"),
    "/setup": (22, "Vehicles without a spec sheet"),
    "/setup/vehicles": (6, "V-0012"),
    "/setup/vehicles/new": (4, "Only the number is required"),
    "/setup/vehicles/V-0001": (12, "10000000X00000001"),
    "/setup/sheets": (3, "HARROW-24 revision 2"),
    "/setup/sheets/HARROW-24/2": (3, "for the whole history"),
    "/setup/names": (7, "Map a name"),
    "/setup/devices": (7, "Issue a token"),
    "/setup/load": (0, "Look at it"),
    "/jobs": (5, say(JOBS, "nightly")),
}
"""Address, most SQL statements, and a fact that a reader looks for."""

_HREF = re.compile(r'(?:href|src|action)="([^"]+)"')


@pytest.mark.parametrize("address", PAGES)
def test_page(fleet: Service, statements: Callable[[], Any], address: str) -> None:
    """Each page answers, says what it is for, and asks the store little."""
    most, fact = PAGES[address]

    with statements() as found:
        answer = fleet.client.get(address)

    assert answer.status_code == 200, answer.text
    assert fact in unescape(answer.text)
    assert answer.text.count("<h1") == 1
    own = [one for one in found if "JOIN sign_in" not in one]
    assert len(own) <= most, own
    assert len(found) - len(own) <= 1  # who reads is one question


def test_statements_do_not_grow(fleet: Service, statements: Callable[[], Any]) -> None:
    """A second look at the newest evaluation does not load it again."""
    with statements() as first:
        fleet.client.get("/vehicles")
    with statements() as second:
        fleet.client.get("/vehicles")

    assert len(second) < len(first)


@pytest.mark.parametrize("address", PAGES)
def test_links_resolve(fleet: Service, address: str) -> None:
    """Every link, file and form of every page leads to a route of this service that answers."""
    page = fleet.client.get(address).text
    targets = {unescape(one) for one in _HREF.findall(page) if not one.startswith("#")}

    for target in sorted(targets):
        assert urlsplit(target).netloc == "", target
        form = f'method="post" action="{target}"' in page
        answer = fleet.client.request("POST" if form else "GET", target, follow_redirects=False)
        assert answer.status_code not in (404, 405, 500), (address, target)


def test_home(service: Service) -> None:
    """The address alone leads to the week."""
    assert service.client.get("/", follow_redirects=False).headers["location"] == "/week"


def test_empty_store(service: Service) -> None:
    """Before anything is loaded each page still answers, and says so."""
    for address in (
        "/week",
        "/vehicles",
        "/work",
        "/coverage",
        "/exports",
        "/jobs",
        "/money",
        "/money/budget",
        "/track-record",
        "/setup/costs",
    ):
        answer = service.client.get(address)
        assert (address, answer.status_code) == (address, 200)


@pytest.mark.parametrize(
    "address", ["/vehicles/V-9", "/work/none", "/week/2031-W01", "/problems/none", "/static/none.js"]
)
def test_missing_things(fleet: Service, address: str) -> None:
    """What is not there is a page with status 404."""
    answer = fleet.client.get(address)

    assert answer.status_code == 404
    assert answer.headers["content-type"].startswith("text/html")


@pytest.mark.parametrize(
    "address", ["/week/2031-W99", "/week/now", "/vehicles?word=fine", "/exports?as_of=x"]
)
def test_wrong_addresses(fleet: Service, address: str) -> None:
    """What cannot be meant is refused with what is allowed."""
    assert fleet.client.get(address).status_code == 422


def test_vehicle_without_sheet(fleet: Service) -> None:
    """A vehicle without a spec sheet shows no limit anywhere on its page."""
    page = fleet.client.get("/vehicles/V-0003").text

    assert "No spec sheet" in page
    assert "shop manual" not in page


def test_vin_is_masked(fleet: Service) -> None:
    """A VIN shows its last places only to viewer and analyst, and stands on no list (ASVS 5.0.0 V8.2.3)."""
    assert "10000000X00000001" in fleet.client.get("/vehicles/V-0001").text
    for role in ("viewer", "analyst"):
        fleet.become(role)
        assert "10000000X00000001" not in fleet.client.get("/vehicles/V-0001").text
        assert "10000000X0" not in fleet.client.get("/vehicles").text


def test_each_vehicle_once(fleet: Service) -> None:
    """The five words add up to the vehicles in service."""
    page = unescape(fleet.client.get("/vehicles").text)
    counts = [int(one) for one in re.findall(r"<b>(\d+)</b>", page)]

    assert sum(counts[:5]) == 12


def test_silent_is_not_steady(fleet: Service) -> None:
    """A silent vehicle is listed as one that cannot be judged."""
    assert "V-0003" not in fleet.client.get("/vehicles?word=steady").text
    assert "V-0003" in fleet.client.get("/vehicles?word=cannot_say").text


def test_us_units(fleet: Service) -> None:
    """The choice of units is kept in a cookie and changes no store."""
    answer = fleet.post("/units", {"units": "us", "back": "/vehicles"})

    assert (answer.status_code, answer.headers["location"]) == (303, "/vehicles?saved=units")
    assert "httponly" in answer.headers["set-cookie"].lower()
    assert "Show metric units" in fleet.client.get("/week").text


@pytest.mark.parametrize("back", ["//other.example", "https://other.example", "/\\other.example"])
def test_no_open_redirect(fleet: Service, back: str) -> None:
    """The way back never leads to another server."""
    answer = fleet.post("/units", {"units": "us", "back": back})

    assert answer.headers["location"] == "/?saved=units"


def test_files_are_kept_for_good(service: Service) -> None:
    """A file under its versioned address is kept for good; under its plain name it is asked for again."""
    page = service.client.get("/help").text
    address = next(one for one in _HREF.findall(page) if one.startswith("/static/forelamp.css"))

    versioned = service.client.get(address)
    plain = service.client.get("/static/forelamp.css")
    again = service.client.get("/static/forelamp.css", headers={"if-none-match": plain.headers["etag"]})

    assert "immutable" in versioned.headers["cache-control"]
    assert plain.headers["cache-control"] == "no-cache"
    assert (again.status_code, again.content) == (304, b"")


def test_chart_script_only_where_needed(fleet: Service) -> None:
    """The chart script comes from here, under an address to be kept, and only to pages with a live chart."""
    script = re.compile(r"/static/plotly\.min\.js\?v=[0-9a-f]+")

    series = "/vehicles/V-0001/trends?parameter=LONGFT1&state=warm_idle"
    address = script.search(fleet.client.get(f"{series}&live=yes").text)

    assert address is not None
    assert "immutable" in fleet.client.get(address[0]).headers["cache-control"]
    for page in ("/work", "/vehicles/V-0001", series):
        assert not script.search(fleet.client.get(page).text)
    assert not script.search(fleet.client.get("/week").text)


def test_same_bytes(fleet: Service) -> None:
    """The page's file and the program's file are the same bytes."""
    headers = fleet.token("read")
    for name in ("tickets.csv", "risk.json", "snapshots.csv", "trends.parquet"):
        one = fleet.client.get(f"/exports/{name}?as_of=2031-03-04").content
        other = fleet.client.get(f"/api/v1/exports/{name}?as_of=2031-03-04", headers=headers).content
        assert one == other


def test_as_of_repeats(fleet: Service) -> None:
    """An as-of gives the same bytes after late readings came in; without one it differs."""
    address = "/exports/snapshots.csv"
    before = fleet.client.get(f"{address}?as_of=2031-03-03").content
    now = fleet.client.get(address).content
    late = snapshot(taken_at=(NOW - timedelta(days=20)).isoformat(), device="late")

    fleet.send(ndjson([late]), fleet.token("send"), "application/x-ndjson")

    assert fleet.client.get(f"{address}?as_of=2031-03-03").content == before
    assert fleet.client.get(address).content != now


@pytest.mark.parametrize("name", ["A/7", "B 12", "C?x=1", "D#4", "E%", "Ä-9"])
def test_any_fleet_number(service: Service, name: str) -> None:
    """Whatever the fleet's own number is, its page is found under its link."""
    service.client.post("/api/v1/vehicles", json=[{"vehicle": name}], headers=service.token("admin"))

    answer = service.client.get(vehicle_url(name))

    assert answer.status_code == 200
    assert f"<h1>{escape(name)}</h1>" in answer.text


def test_resting_is_not_late(fleet: Service) -> None:
    """A ticket whose evidence has eased is not past due, however old its day is."""
    with fleet.store.begin() as work:
        ticket = work.ticket(TICKET)
        late = replace(ticket, due_by=NOW.date() - timedelta(days=9), version=2)
        work.put_ticket(late, read_version=1)
        work.commit()
    assert "9 days" in fleet.client.get("/work").text

    with fleet.store.begin() as work:
        work.put_ticket(replace(late, resting_since=NOW.date(), version=3), read_version=2)
        work.commit()

    assert "9 days" not in fleet.client.get("/work").text


def test_work_in_order(fleet: Service) -> None:
    """While nobody can sign in nothing is hidden as somebody else's: all that is to do stands in order."""
    with fleet.store.begin() as work:
        ticket = work.ticket(TICKET)
        work.put_ticket(replace(ticket, assignee="bench 1", status="accepted", version=2), read_version=1)
        other = replace(ticket, ticket="V-0002-T1", vehicle="V-0002", priority="watch", version=1)
        work.put_ticket(other, read_version=0)
        work.commit()

    page = unescape(fleet.client.get("/work").text)

    assert "2 tickets to do, 1 of them in nobody's hands." in page
    assert "in other hands" not in page
    assert page.index(f"/work/{TICKET}") < page.index("/work/V-0002-T1")
    assert "bench 1" in page


def test_old_readings_are_drawn_up_to_the_newest(fleet: Service) -> None:
    """A vehicle that fell silent years ago still shows its last half year, not an empty picture."""
    fleet.app.state.shell = replace(fleet.app.state.shell, clock=Clock(lambda: NOW + timedelta(days=900)))

    page = fleet.client.get("/vehicles/V-0001").text

    assert "No readings yet" not in page.split('id="series"')[1].split("</section>")[0]
