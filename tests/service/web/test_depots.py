"""Readers held to one depot: other depots' vehicles and tickets are not there, on no page and in no file.

The ticket of the small fleet, and every other vehicle from V-0001 on, belong to the depot South.
"""

from dataclasses import replace
from html import unescape

import pytest

from dashboards.exports.columns import DATASETS
from dashboards.words import SENTENCES
from service.auth.people import DEPOT_ROLES
from service.auth.rights import may
from service.schedule.engine import Terms
from service.schedule.weekly import freeze_week
from service.web.guards import AllowToken
from tests.service.web.conftest import Service
from tests.service.web.fleet import NOW, TICKET, TODAY, ndjson, snapshot
from tests.service.web.test_doors import address_of, doors, guards_of

SOUTH = tuple(f"V-{number:04d}" for number in range(1, 13, 2))
NORTH = tuple(f"V-{number:04d}" for number in range(2, 13, 2))

SERIES = {"parameter": "LONGFT1", "state": "warm_idle"}


@pytest.fixture
def full(fleet: Service) -> Service:
    """Give the fleet with held items, a report, and work of both depots."""
    held = [snapshot(name, values={"LONGFT1": 140, "RPM": 700}) for name in ("V-0001", "V-0002")]
    fleet.send(ndjson(held), fleet.token("send"), "application/x-ndjson")
    with fleet.store.begin() as work:
        found = work.assessment()
        assert found is not None
        work.put_assessment(replace(found, day=TODAY - 9), NOW)
        assert freeze_week(work, after_day=TODAY - 9, now=NOW, terms=Terms()) == "2031-W09"
        kept = work.ticket(TICKET)
        other = replace(
            kept,
            ticket="V-0002-T1",
            vehicle="V-0002",
            depot="North",
            version=1,
            evidence=kept.evidence.replace("V-0001", "V-0002"),
        )
        work.put_ticket(other, read_version=0)
        work.commit()
    return fleet


def test_what_is_to_be_seen(full: Service) -> None:
    """A reader of one depot sees that depot's vehicles, and the ones of the other are not counted."""
    full.become("mechanic", "North")

    page = unescape(full.client.get("/vehicles").text)

    assert all(name in page for name in NORTH)
    assert not any(name in page for name in SOUTH)
    assert full.client.get("/vehicles/V-0002").status_code == 200
    assert full.client.get("/work/V-0002-T1").status_code == 200


@pytest.mark.parametrize("role", DEPOT_ROLES)
def test_no_page_shows_another_depot(full: Service, role: str) -> None:
    """No page or file that the router knows shows anything of another depot (ASVS 5.0.0 V8.2.2)."""
    full.become(role, "North")
    walked = 0
    for method, address, right, route in doors(full.app):
        if method != "GET" or not may(role, right):
            continue
        answer = full.client.get(address, params=SERIES, follow_redirects=False)
        walked += 1
        if {"vehicle", "ticket"} & set(route.param_convertors):
            assert answer.status_code == 404, (address, answer.text)
        else:
            assert not any(name in unescape(answer.text) for name in SOUTH), address
    assert walked >= 8


@pytest.mark.parametrize("role", DEPOT_ROLES)
def test_no_form_reaches_another_depot(full: Service, role: str) -> None:
    """No form changes a vehicle or ticket of another depot, by guessing its number neither (V8.2.2)."""
    full.become(role, "North")
    token = full.form_token()
    for method, address, right, route in doors(full.app):
        if method == "GET" or not may(role, right) or not {"vehicle", "ticket"} & set(route.param_convertors):
            continue
        data = {"token": token, "version": "1", "event": "accept", "kind": "repair", "cause": "unknown"}
        answer = full.client.request(method, address, data=data, follow_redirects=False)
        assert answer.status_code in (404, 422), (address, answer.status_code, answer.text)
    with full.store.begin(readonly=True) as work:
        assert work.ticket(TICKET).version == 1


def test_files_of_one_depot(full: Service) -> None:
    """Files hold one depot's rows, in every dataset."""
    full.become("lead", "North")

    for _, address, _, route in doors(full.app):
        if isinstance(guards_of(route)[0], AllowToken):
            for dataset in DATASETS:
                text = full.client.get(address.replace("tickets", dataset)).text
                assert not any(name in text for name in SOUTH), dataset
    assert "V-0002" in full.client.get("/exports/trends.csv").text


def test_foreign_is_as_missing(full: Service) -> None:
    """A vehicle of another depot is answered like one that does not exist."""
    full.become("viewer", "North")

    foreign = full.client.get("/vehicles/V-0001").text
    missing = full.client.get("/vehicles/V-9999").text

    strip = [text.split("<main")[1].split("request ")[0] for text in (foreign, missing)]
    assert strip[0].replace("V-0001", "V-9999") == strip[1]


def test_memory_is_not_shared(full: Service) -> None:
    """What one reader's page has loaded is not shown to the next reader, in either direction."""
    full.become("manager")
    assert "V-0001" in full.client.get("/week").text
    full.become("mechanic", "North")
    assert "V-0001" not in full.client.get("/week").text
    full.become("manager")
    assert "V-0001" in full.client.get("/week").text


def test_depot_change_counts_at_once(full: Service) -> None:
    """A vehicle that moves to another depot is out of sight with the next page."""
    full.become("mechanic", "South")
    assert full.client.get("/vehicles/V-0001").status_code == 200
    with full.store.begin() as work:
        work.put_vehicles([replace(work.vehicle("V-0001"), depot="North")], NOW)
        work.commit()

    assert full.client.get("/vehicles/V-0001").status_code == 404
    assert full.client.get(f"/work/{TICKET}").status_code == 404


def test_every_address_is_walked(full: Service) -> None:
    """The walk finds pages with a vehicle and with a ticket in their address."""
    named = {address_of(route) for _, _, _, route in doors(full.app)}

    assert "/vehicles/V-0001" in named
    assert f"/work/{TICKET}" in named


def test_closed_weeks_show_the_own_depot_alone(full: Service) -> None:
    """Of a week that was closed for the whole fleet a reader of one depot sees its own part."""
    whole = unescape(full.client.get("/week/2031-W09").text)
    full.become("lead", "North")

    page = unescape(full.client.get("/week/2031-W09").text)
    again = unescape(full.client.get("/week/2031-W09?reading=as_known_now").text)
    foreign = full.client.get("/week/2031-W09?depot=South", headers={"accept": "text/html"})

    assert SENTENCES["week_of_depot"] not in whole
    for own in (page, again):
        assert SENTENCES["week_of_depot"] in own
        assert not any(name in own for name in (*SOUTH, "South"))
    assert "of 12 in service" in whole or "all 12 in service" in whole
    assert "of 6 in service" in page or "all 6 in service" in page
    assert foreign.status_code == 422
