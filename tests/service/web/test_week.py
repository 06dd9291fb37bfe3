"""The week page: now, as it was closed, and as it is known now."""

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from html import unescape
from typing import Any

import orjson
import pytest

from dashboards.words import SENTENCES
from service.schedule.engine import Terms
from service.schedule.weekly import build, closed_week, freeze_week, week_of
from service.store import Cost
from service.web.pages.report import Edges, report_view
from service.web.pages.week import monday_of
from tests.service.web.conftest import Service
from tests.service.web.fleet import NOW, TICKET, TODAY, ndjson, snapshot

WEEK = "2031-W10"
"""The week of NOW."""

NEXT = "2031-W11"

SUNDAY = TODAY - 2


def _cost() -> Cost:
    return Cost(
        cause="unmetered_air",
        planned_hours=1.0,
        unplanned_hours=4.0,
        planned_parts=50.0,
        unplanned_parts=70.0,
        downtime=500.0,
        currency="NOK",
        price_date=NOW.date(),
        revision=1,
    )


@pytest.fixture
def closed(fleet: Service) -> Service:
    """Give the fleet on the Tuesday after its week was closed."""
    with fleet.store.begin() as work:
        found = work.assessment()
        assert found is not None
        work.put_assessment(replace(found, day=SUNDAY), NOW - timedelta(days=1))
        assert freeze_week(work, after_day=SUNDAY, now=NOW - timedelta(days=1), terms=Terms()) == WEEK
        work.commit()
    return fleet


@pytest.fixture
def later(fleet: Service) -> Service:
    """Give the fleet with the report of the week after, which knows the ticket of NOW."""
    with fleet.store.begin() as work:
        found = work.assessment()
        assert found is not None
        work.put_assessment(replace(found, day=SUNDAY + 7), NOW)
        assert freeze_week(work, after_day=SUNDAY + 7, now=NOW, terms=Terms()) == NEXT
        work.commit()
    return fleet


def test_as_closed(closed: Service, statements: Callable[[], Any]) -> None:
    """A closed week is shown as it was, with when it was closed, in few statements."""
    with statements() as found:
        page = unescape(closed.client.get(f"/week/{WEEK}").text)

    assert "Closed 3 Mar 2031" in page
    assert "This is the first week" in page
    assert len(found) <= 8


def test_late_readings_are_told(closed: Service) -> None:
    """Readings of a week that came after it was closed are counted, and leave the report as it was."""
    with closed.store.begin(readonly=True) as work:
        body = work.report(WEEK)
    late = [
        snapshot(taken_at=(NOW - timedelta(days=4, minutes=minute)).isoformat(), device="late")
        for minute in range(3)
    ]

    closed.send(ndjson(late), closed.token("send"), "application/x-ndjson")
    page = unescape(closed.client.get(f"/week/{WEEK}").text)

    # Every reading of the fixture was received today, after the week was closed: one each day, and these.
    assert "10 readings arrived after this week closed" in page
    with closed.store.begin(readonly=True) as work:
        assert work.report(WEEK) == body


def test_one_depots_part_of_a_closed_week(fleet: Service) -> None:
    """Chosen by depot, a closed week shows that depot's frozen rows; the depots' sums make up the whole."""
    with fleet.store.begin() as work:
        found = work.assessment()
        assert found is not None
        work.put_assessment(replace(found, day=SUNDAY + 7), NOW)
        work.put_costs([_cost()], NOW)
        assert freeze_week(work, after_day=SUNDAY + 7, now=NOW, terms=Terms()) == NEXT
        work.commit()
    bodies = {}
    for depot in ("", "North", "South"):
        with fleet.store.on_behalf(depot=depot).begin(readonly=True) as work:
            kept = closed_week(work, NEXT)
        assert kept is not None
        bodies[depot] = kept.body

    whole, parts = bodies[""], (bodies["North"], bodies["South"])
    for word, count in whole["counts"].items():
        assert count == sum(part["counts"][word] for part in parts)
    for part in parts:
        assert part["counts"]["in_service"] == len(part["standings"])
        assert part["needed_hours"] == pytest.approx(sum(row["hours"] for row in part["coming"]), abs=0.051)
        assert part["cost"]["mean"] == pytest.approx(sum(row["sum"] for row in part["cost"]["rows"]))
    assert whole["coming"] == [*parts[0]["coming"], *parts[1]["coming"]] != []
    assert whole["cost"]["mean"] == sum(part["cost"]["mean"] for part in parts) > 0
    assert parts[1]["cost"]["low"] == whole["cost"]["low"]
    for kind, names in whole["coverage"].items():
        assert sorted(names) == sorted(
            part["coverage"][kind][place] for part in parts for place in range(len(part["coverage"][kind]))
        )

    south = unescape(fleet.client.get(f"/week/{NEXT}?depot=South").text)
    north = unescape(fleet.client.get(f"/week/{NEXT}?depot=North").text)
    assert f'href="/work/{TICKET}"' in south
    assert TICKET not in north
    assert "6 in service" in south
    assert f'href="/week/{NEXT}?reading=as_known_now&depot=South"' in south
    assert fleet.client.get(f"/week/{NEXT}?depot=West").status_code == 422


def test_a_depots_closed_week_is_of_who_stood_there_then(fleet: Service) -> None:
    """A vehicle that came to a depot after the week was closed is not among its frozen rows."""
    with fleet.store.begin() as work:
        found = work.assessment()
        assert found is not None
        work.put_assessment(replace(found, day=SUNDAY), NOW)
        freeze_week(work, after_day=SUNDAY, now=NOW, terms=Terms())
        moved = next(one for one in work.vehicles() if one.depot == "North")
        work.put_vehicles([replace(moved, depot="South")], NOW + timedelta(days=1))
        work.commit()

    with fleet.store.on_behalf(depot="South").begin(readonly=True) as work:
        south = closed_week(work, WEEK)

    assert south is not None
    assert moved.vehicle not in south.body["standings"]
    assert south.body["counts"]["in_service"] == 6


def test_as_known_now(closed: Service) -> None:
    """The same week made anew names itself so, and leads back to the closed one."""
    page = unescape(closed.client.get(f"/week/{WEEK}?reading=as_known_now").text)

    assert "As known now" in page
    assert f'href="/week/{WEEK}"' in page


def test_open_week(fleet: Service) -> None:
    """The week that is not closed yet is shown with what is known now."""
    answer = fleet.client.get(f"/week/{WEEK}")

    assert answer.status_code == 200
    assert "Closed" not in answer.text


def test_sums_equal_rows(closed: Service) -> None:
    """The report's five words add up to the vehicles in service."""
    with closed.store.begin(readonly=True) as work:
        kept = work.report(WEEK)
    assert kept is not None
    counts = orjson.loads(kept.body)["counts"]

    assert counts["in_service"] == sum(value for word, value in counts.items() if word != "in_service") == 12


@pytest.mark.parametrize("week", ["2026-W53", "2025-W01", "2031-W10"])
def test_labels_go_round(week: str) -> None:
    """A week's label leads to its Monday and back, at the turn of the year too."""
    assert week_of(monday_of(week)).label == week


def test_view_takes_every_key() -> None:
    """Coverage counts every kind of gap that a report names."""
    counts = dict.fromkeys(("pull_in_now", "plan_this_week", "watch", "cannot_say"), 0)
    gaps = ("partial", "unusable", "learning", "off_road", "without_sheet")
    body: dict[str, Any] = {
        "week": WEEK,
        "monday": "2031-03-03",
        "counts": counts | {"in_service": 1, "steady": 1},
        "needed_hours": 0.0,
        "coverage": {"silent": ["a"], **{gap: [] for gap in gaps}},
        "coming": [],
        "changes": [],
        "first_week": False,
        "past_due": [],
        "cost": None,
        "events": [],
    }

    edges = Edges(
        reading="as_closed", closed_at=NOW, late_readings=0, previous="", following="", workshop_hours=None
    )

    view = report_view(body, edges)

    assert (view.coverage.silent, view.needed_hours) == (1, 0.0)


def test_fleet_map(closed: Service) -> None:
    """The week before and this one stand side by side, one row for each vehicle that did not stay steady."""
    with closed.store.begin() as work:
        kept = work.report(WEEK)
        assert kept is not None
        body = orjson.loads(kept.body)
        body["standings"]["V-0001"]["word"] = "steady"
        work.freeze_report("2031-W09", orjson.dumps(body).decode(), NOW - timedelta(days=8))
        work.commit()

    page = unescape(closed.client.get("/week").text)
    table = page.partition('<table class="map">')[2].partition("</table>")[0]
    own = table.partition(">V-0001</a>")[2].partition("</tr>")[0]

    assert [week in table for week in ("2031-W08", "2031-W09", WEEK)] == [False, True, True]
    assert "V-0002" in table
    assert "V-0004" not in table  # steady in both
    assert own.index("Steady") < own.index("Plan this week")


def test_map_of_closed_week(closed: Service) -> None:
    """A closed week's map ends with that week, and is read once however often it is looked at."""
    with closed.store.begin() as work:
        kept = work.report(WEEK)
        assert kept is not None
        for week in ("2031-W09", "2031-W11"):
            work.freeze_report(week, kept.body, NOW)
        work.commit()

    page = closed.client.get(f"/week/{WEEK}").text

    assert '"2031-W09"' in page
    assert '"2031-W10"' in page
    assert '"2031-W11"' not in page


def test_past_weeks_are_read_once(closed: Service, statements: Callable[[], Any]) -> None:
    """Frozen reports never change: a second look asks the store for none of them."""
    closed.client.get(f"/week/{WEEK}")
    with statements() as found:
        closed.client.get(f"/week/{WEEK}")

    assert not [one for one in found if "report.body" in one and "IN (" in one]


def test_open_week_is_not_compared(fleet: Service) -> None:
    """Before this week's report is frozen, changes of an earlier week are not passed off as this one's."""
    with fleet.store.begin() as work:
        body = {"first_week": False, "changes": [], "standings": {}}
        work.freeze_report("2031-W09", orjson.dumps(body).decode(), NOW - timedelta(days=8))
        work.commit()

    page = unescape(fleet.client.get("/week").text)

    assert SENTENCES["not_compared"] in page
    assert SENTENCES["nothing_changed"] not in page


def test_closed_week_has_hours(later: Service) -> None:
    """Hours that nobody booked are estimated in a closed week as in the open one, rows and sum alike."""
    now = unescape(later.client.get("/week").text)
    then = unescape(later.client.get(f"/week/{NEXT}").text)

    hours = re.compile(r"should come in this week \(([\d.]+ h);")
    assert hours.findall(now) == hours.findall(then) != []


def test_one_cost_at_risk(later: Service) -> None:
    """With the fleet's costs the open week, its report made anew and the risk file give the same sum."""
    assert SENTENCES["no_costs"] in unescape(later.client.get("/week").text)
    with later.store.begin() as work:
        work.put_costs([_cost()], NOW)
        work.commit()
        body = build(work, week_of(monday_of(NEXT)), terms=Terms())
    row = later.client.get("/exports/risk.json").json()[0]
    page = unescape(later.client.get("/week").text)

    assert body is not None
    assert row["cost_at_risk"] == body["cost"]["mean"] > 0
    assert row["currency"] == body["cost"]["currency"] == "NOK"
    assert f"{row['cost_at_risk']:,.0f}" in page


def test_closed_week_tells_who_is_late(later: Service) -> None:
    """A visit past due when its week closed is told as late in the list of that week, as of its Monday."""
    with later.store.begin() as work:
        ticket = work.ticket(TICKET)
        late = replace(ticket, due_by=monday_of(NEXT) - timedelta(days=3), version=2)
        work.put_ticket(late, read_version=1)
        body = build(work, week_of(monday_of(NEXT)), terms=Terms())
    assert body is not None

    view = report_view(
        body,
        Edges(
            reading="as_known_now",
            closed_at=NOW,
            late_readings=0,
            previous="",
            following="",
            workshop_hours=None,
        ),
    )

    assert [line.days_late for line in view.pull_in] == [3]
    assert [line.days_late for line in view.past_due] == [3]
