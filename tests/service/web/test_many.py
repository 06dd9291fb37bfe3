"""Five thousand vehicles: the list sorts, filters and pages in few statements, lightly, and loses nobody."""

import re
import shutil
from collections.abc import Callable, Iterator
from datetime import timedelta
from html import unescape
from pathlib import Path
from typing import Any

import pytest

from ingest.records import Vehicle
from models.findings import Assessment, VehicleState
from tests.service.web.conftest import Service, open_service
from tests.service.web.fleet import NOW, TODAY

MANY = 5_000
MOST_BYTES = 90_000
"""Most that one page of the list may weigh; a hundred rows are about 60,000."""

_NUMBER = re.compile(r'<th scope="row"><a href="/vehicles/(T-\d+)">')
_WORDS = (("steady", ""), ("watch", "finding"), ("cannot_say", "silent"), ("learning", "learning"))


def fill(service: Service, count: int) -> None:
    """Register vehicles at ten depots, and assess them."""
    names = [f"T-{number:04d}" for number in range(count)]
    states = tuple(
        VehicleState(
            vehicle=name,
            word=_WORDS[place % 4][0],
            reason=_WORDS[place % 4][1],
            last_day=TODAY - place % 9,
            readings=20,
        )
        for place, name in enumerate(names)
    )
    with service.store.begin() as work:
        work.put_vehicles(
            [Vehicle(vehicle=name, depot=f"Depot {place % 10}") for place, name in enumerate(names)], NOW
        )
        work.put_assessment(
            Assessment(day=TODAY - 1, method="a method 1", vehicles=states),
            NOW - timedelta(hours=5),
            trends=(),
        )
        work.commit()


@pytest.fixture(scope="module")
def crowd(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    """Give the service over five thousand vehicles; tests only look."""
    folder = tmp_path_factory.mktemp("many")
    shutil.copy(sqlite_template, folder / "store.db")
    service = open_service(f"sqlite:///{folder / 'store.db'}", folder)
    fill(service, MANY)
    yield service
    service.store.close()


def test_forty_vehicles_stand_on_one_page(service: Service) -> None:
    """A small fleet needs no leafing."""
    fill(service, 40)

    page = service.client.get("/vehicles").text

    assert len(_NUMBER.findall(page)) == 40
    assert "Next page" not in page


@pytest.mark.parametrize("sort", ["urgency", "vehicle", "depot", "last"])
def test_leafing_meets_each_vehicle_once(crowd: Service, sort: str) -> None:
    """From the first page to the last every vehicle comes once, whatever the order; the filter stays."""
    address, met = f"/vehicles?depot=Depot+3&sort={sort}", []
    while address:
        page = crowd.client.get(address).text
        met += _NUMBER.findall(page)
        following = re.search(r'rel="next" href="([^"]+)"', page)
        address = unescape(following[1]) if following else ""

    assert sorted(met) == [f"T-{number:04d}" for number in range(3, MANY, 10)]


def test_a_page_is_light_and_costs_few_statements(crowd: Service, statements: Callable[[], Any]) -> None:
    """A page of the list, filtered and sorted, asks the store little and weighs little."""
    crowd.client.get("/vehicles")
    for address in ("/vehicles", "/vehicles?word=watch&sort=last&first=101", "/vehicles?query=T-49"):
        with statements() as found:
            answer = crowd.client.get(address)
        assert answer.status_code == 200
        assert len(found) <= 8, found
        assert len(answer.content) <= MOST_BYTES, address


def test_totals_speak_of_the_filter(crowd: Service) -> None:
    """The five counts add up to the vehicles that the filter finds, and the depots to the fleet."""
    page = unescape(crowd.client.get("/vehicles?depot=Depot+4").text)
    whole = unescape(crowd.client.get("/vehicles").text)

    assert sum(int(one) for one in re.findall(r"<b>(\d+)</b>", page)) == MANY // 10
    rows = re.findall(r'<th scope="row"><a href="/vehicles\?depot[^"]+">[^<]+</a></th>(.*?)</tr>', whole)
    assert sum(int(re.findall(r">(\d+)</td>", row)[-1]) for row in rows) == MANY


def test_back_shows_the_same_place(crowd: Service) -> None:
    """The address holds filter, order and place: coming back to it gives the same page."""
    address = "/vehicles?word=steady&sort=vehicle&first=301"
    before = crowd.client.get(address).content

    crowd.client.get("/vehicles/T-1200")

    assert crowd.client.get(address).content == before


def test_week_of_many_is_light(crowd: Service, statements: Callable[[], Any]) -> None:
    """The week of a large fleet draws the most urgent vehicles only, and says how many it leaves out."""
    crowd.client.get("/week")
    with statements() as found:
        page = unescape(crowd.client.get("/week").text)

    assert len(found) <= 14, found
    assert len(page.encode()) <= MOST_BYTES
    assert "vehicles not drawn" in page


def test_coverage_of_many_is_light(crowd: Service) -> None:
    """Who cannot be judged is listed up to a number that can be read, with a way to the rest."""
    page = unescape(crowd.client.get("/coverage").text)

    assert len(page.encode()) <= MOST_BYTES
    assert "Silent: 1250" in page
    assert re.search(r"1\D?150 more vehicles", page)
