"""Empty, wrong and late: what a page says when there is little, nothing, or something odd to show."""

from dataclasses import replace
from datetime import timedelta
from html import unescape
from typing import Any

import pytest

from dashboards.words import BANNERS, SENTENCES
from ingest.records import SpecSheet, Vehicle
from models.summarise import summarise
from service.clock import Clock
from service.store import Store
from service.tickets.ticket import Status
from tests.service.web.conftest import Service
from tests.service.web.fleet import NOW, TICKET, ndjson, snapshot


def _page(service: Service, address: str) -> str:
    answer = service.client.get(address)
    assert answer.status_code == 200, address
    return unescape(answer.text)


def _at(service: Service, hours: int) -> None:
    later = Clock(lambda: NOW + timedelta(hours=hours))
    service.app.state.shell = replace(service.app.state.shell, clock=later)


def _put_sheet(store: Store, vehicle: str, **says: Any) -> None:
    with store.begin() as work:
        work.put_sheets([SpecSheet(sheet="OTHER-1", revision=1, source="card 7", **says)], NOW)
        work.put_vehicles([Vehicle(vehicle=vehicle, spec_sheet="OTHER-1")], NOW)
        work.commit()


def _never_idles_warm(store: Store, vehicle: str) -> None:
    with store.begin() as work:
        found = work.assessment()
        assert found is not None
        states = tuple(
            replace(one, word="cannot_say", reason="no_warm_idle") if one.vehicle == vehicle else one
            for one in found.vehicles
        )
        work.put_assessment(replace(found, day=found.day + 1, vehicles=states), NOW)
        work.commit()


def _stamped(service: Service, device: str, taken: list[str]) -> Any:
    items = [snapshot(vehicle="V-0004", device=device, taken_at=moment) for moment in taken]
    return service.send(ndjson(items), service.token("send"), "application/x-ndjson").json()


def test_an_old_evaluation_is_marked_and_its_figures_stay(fleet: Service) -> None:
    """The night's evaluation failed: I read how old the last good one is, and still see its figures."""
    fresh = _page(fleet, "/week")
    _at(fleet, 26)
    stale = _page(fleet, "/week")

    assert "older than they should be" not in fresh
    assert "The figures are older than they should be." in stale
    assert "The last good evaluation is 31 hours old." in stale
    assert TICKET in stale


def test_a_failed_night_is_told_until_it_is_made_good(fleet: Service) -> None:
    """The newest nightly run failed: pages with figures say so, until a later run ends well."""
    failed, mended = NOW + timedelta(hours=1), NOW + timedelta(hours=2)
    told = []
    for due, outcome in ((failed, "failed"), (mended, "done")):
        with fleet.store.begin() as work:
            assert work.claim_run("nightly", due, due, "here")
            assert work.finish_run("nightly", due, due, outcome, owner="here")
            work.commit()
        told.append([BANNERS["failed"] in _page(fleet, address) for address in ("/week", "/work", "/help")])

    assert told == [[True, True, False], [False, False, False]]


def test_a_vehicle_that_never_idles_warm_names_the_drive(fleet: Service) -> None:
    """A hybrid that never idles warm cannot be judged, and I read which state is missing and who must act."""
    _never_idles_warm(fleet.store, "V-0004")

    page = _page(fleet, "/coverage")
    partial = page.partition('id="gap-partial"')[2].partition("</section>")[0]

    assert "V-0004" in partial
    assert "Never at warm idle" in partial
    assert "one drive of the kind named" in partial
    assert "engine warm and running" in partial


@pytest.mark.parametrize(
    ("further", "told"),
    [
        ({"service_mode": "p. 31, held by the reader"}, "its service mode, by sheet OTHER-1: p. 31, held by"),
        ({}, "sheet OTHER-1 does not name it (field service_mode)"),
    ],
)
def test_a_hybrid_is_told_its_service_mode(fleet: Service, further: dict[str, str], told: str) -> None:
    """Where an engine stops at rest, the pages name its sheet's mode, or say that none is named."""
    _put_sheet(fleet.store, "V-0003", fuel="gasoline hybrid", further=further)
    _never_idles_warm(fleet.store, "V-0003")

    assert told in _page(fleet, "/vehicles/V-0003")
    assert told in _page(fleet, "/coverage")


@pytest.mark.parametrize(
    ("says", "told", "silent"),
    [
        ({"banks": 1}, "Long-term fuel trim, bank 2", "Long-term fuel trim, bank 1"),
        ({"fuel": "diesel"}, "Long-term fuel trim, bank 1", "Intake pressure"),
    ],
)
def test_what_a_vehicle_does_not_have_does_not_apply(
    fleet: Service, says: dict[str, Any], told: str, silent: str
) -> None:
    """A second bank, or closed-loop trim, that is not there is said not to apply, not to be missing."""
    _put_sheet(fleet.store, "V-0004", **says)

    page = _page(fleet, "/vehicles/V-0004")
    line = page.partition("Does not apply to this vehicle:")[2].partition("</p>")[0]

    assert told.lower() in line.lower()
    assert silent.lower() not in line.lower()


def test_unreported_conditions_are_told(fleet: Service) -> None:
    """A logger that says nothing of air conditioning and gear: I read that conditions are unknown."""
    items = [
        snapshot(vehicle="V-0004", taken_at=(NOW - timedelta(days=day)).isoformat(), switches={})
        for day in range(1, 4)
    ]
    fleet.send(ndjson(items), fleet.token("send"), "application/x-ndjson")

    assert SENTENCES["conditions_unknown"] in _page(fleet, "/vehicles/V-0004")
    assert SENTENCES["conditions_unknown"] not in _page(fleet, "/vehicles/V-0001")


def test_odd_times_are_counted_where_i_can_see_them(fleet: Service) -> None:
    """Sent twice is ignored, out of order is taken; a time to come or of 1970 is kept aside and counted."""
    first = "2031-03-03T06:00:00-05:00"
    kept = _stamped(fleet, "odd", [first, "2031-03-01T06:00:00-05:00"])
    again = _stamped(fleet, "odd", [first])
    wrong = _stamped(fleet, "odd", ["2031-03-09T06:00:00-05:00", "1970-01-01T00:00:10Z"])
    page = _page(fleet, "/coverage").partition('id="aside"')[2].partition("</section>")[0]

    assert (kept["accepted"], again["accepted"], again["duplicates"]) == (2, 0, 1)
    codes = [one["code"] for one in wrong["quarantined"]]
    assert len(codes) == len(set(codes)) == 2
    assert all(code in page for code in codes)


def test_an_unknown_sheet_is_a_gap_in_the_table(fleet: Service) -> None:
    """A vehicle whose sheet is not on file, or that names none, is counted among those without limits."""
    with fleet.store.begin() as work:
        work.put_vehicles([Vehicle(vehicle="V-0005", spec_sheet="NOWHERE-1")], NOW)
        work.commit()

    page = _page(fleet, "/coverage").partition('id="sheetless"')[2].partition("</section>")[0]

    assert SENTENCES["no_sheet"] in page
    assert "Sheet NOWHERE-1 is named but not on file" in page
    assert page.index("No sheet named") < page.index("V-0003")


def test_an_empty_week_is_a_sentence(fleet: Service) -> None:
    """No vehicle needs pulling in: I read so, with how many were judged, and see no empty table."""
    _close_ticket(fleet, "dismissed")

    page = _page(fleet, "/week").partition('id="come"')[2].partition("</section>")[0]

    assert "No vehicle needs pulling in." in page
    assert "of 12 judged." in page
    assert "<table" not in page


def _close_ticket(fleet: Service, status: Status, **changes: Any) -> None:
    with fleet.store.begin() as work:
        ticket = work.ticket(TICKET)
        work.put_ticket(replace(ticket, status=status, version=2, **changes), read_version=1)
        work.commit()


def test_nothing_to_do_names_the_next_day(fleet: Service) -> None:
    """Nothing is mine to do: I read when the next one, put off until then, is due."""
    _close_ticket(fleet, "deferred", deferred_until=NOW.date() + timedelta(days=16))

    page = _page(fleet, "/work")

    assert "20 Mar 2031" in page.partition('class="lead"')[2].partition("</p>")[0]


def test_nothing_at_all_to_do_says_so(fleet: Service) -> None:
    """Neither now nor later: the list says that nothing is due."""
    _close_ticket(fleet, "dismissed", closed_at=NOW)

    assert "Nothing to do, and nothing is due." in _page(fleet, "/work")


def test_a_period_before_the_first_data_names_the_first_day(fleet: Service) -> None:
    """A period before anything was read gives headers and no row, and names the day of the first reading."""
    wish = "from=2029-01-01&to=2029-12-31"
    with fleet.store.begin() as work:
        work.fold_touched(summarise)
        work.commit()
    page = _page(fleet, f"/exports?dataset=snapshots&format=csv&{wish}")
    file = fleet.client.get("/exports/snapshots.csv?from_day=2029-01-01&to_day=2029-12-31").text

    assert "The first reading is of 4 Jan 2031: the period begins before it." in page
    assert len(file.splitlines()) == 1


def test_no_data_yet_is_told_by_the_exports(service: Service) -> None:
    """Before any reading the exports page says so, instead of offering rows."""
    assert SENTENCES["no_readings"] in _page(service, "/exports")
