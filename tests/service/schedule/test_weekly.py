"""The Monday report: sums that add up, one reason for each change, frozen once."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

import orjson
import pytest

from ingest.aliases import AliasTable
from ingest.formats import read_snapshots
from ingest.records import SpecSheet, WorkRecord
from models.findings import FleetEvent
from service.schedule.engine import Terms
from service.schedule.evaluate import evaluate
from service.schedule.replay import Span, replay
from service.schedule.weekly import freeze_week
from service.store import Cost, Store
from service.tickets.words import to_day
from tests.service.schedule.made_up import MadeUp

NOW = datetime(2031, 6, 1, tzinfo=UTC)
TERMS = Terms(zone="Europe/Vienna")


def _walk(store: Store, models: MadeUp, first: date, last: date) -> None:
    replay(store, Span(first=first, last=last), reports=True, now=NOW, terms=TERMS, engine=models.engine())


def _report(store: Store, week: str) -> dict[str, Any]:
    with store.begin(readonly=True) as work:
        frozen = work.report(week)
    assert frozen is not None
    body: dict[str, Any] = orjson.loads(frozen.body)
    return body


def test_the_five_words_add_up(store: Store, models: MadeUp) -> None:
    """In service is the sum of the five words; a silent vehicle is never steady."""
    models.silent.add("V-4")
    _walk(store, models, date(2031, 3, 10), date(2031, 3, 16))

    counts = _report(store, "2031-W12")["counts"]

    assert counts == {
        "in_service": 4,
        "pull_in_now": 1,
        "plan_this_week": 0,
        "watch": 0,
        "steady": 2,
        "cannot_say": 1,
    }
    coverage = _report(store, "2031-W12")["coverage"]
    assert coverage["silent"] == ["V-4"]
    gaps = ("silent", "partial", "unusable", "learning")
    assert sum(len(coverage[gap]) for gap in gaps) == counts["cannot_say"]


def test_a_repair_awaiting_proof_counts_under_watch(store: Store, models: MadeUp) -> None:
    """Done but not verified is under Watch, and the reason of the change is the repair."""
    _walk(store, models, date(2031, 3, 10), date(2031, 3, 17))
    with store.begin() as work:
        done_at = datetime(2031, 3, 18, 9, tzinfo=UTC)
        work.put_work([WorkRecord(vehicle="V-2", done_at=done_at, kind="repair")], NOW)
        work.commit()
    _walk(store, models, date(2031, 3, 18), date(2031, 3, 23))

    report = _report(store, "2031-W13")

    assert report["counts"]["watch"] == 1
    assert [(c["vehicle"], c["before"], c["after"], c["reason"]) for c in report["changes"]] == [
        ("V-2", "pull_in_now", "watch", "repair")
    ]


def test_a_frozen_report_stays_as_it_is(store: Store, models: MadeUp) -> None:
    """Made twice, or again after late readings changed everything, the report is the first one."""
    _walk(store, models, date(2031, 3, 10), date(2031, 3, 16))
    first = _report(store, "2031-W12")
    models.since["V-1"] = to_day(date(2031, 3, 1))
    evaluate(store, as_of=date(2031, 3, 16), now=NOW, terms=TERMS, engine=models.engine())

    with store.begin() as work:
        again = freeze_week(work, after_day=to_day(date(2031, 3, 16)), now=NOW, terms=TERMS)
        work.commit()

    assert again == ""
    assert _report(store, "2031-W12") == first


def test_only_sundays_have_a_report(store: Store, models: MadeUp) -> None:
    """After any other day nothing is frozen."""
    _walk(store, models, date(2031, 3, 10), date(2031, 3, 15))

    with store.begin(readonly=True) as work:
        assert work.reports() == ()


def test_a_stale_evaluation_is_said(store: Store, models: MadeUp) -> None:
    """A report made from an older evaluation says how many days old it is."""
    evaluate(store, as_of=date(2031, 3, 13), now=NOW, terms=TERMS, engine=models.engine())

    with store.begin() as work:
        freeze_week(work, after_day=to_day(date(2031, 3, 16)), now=NOW, terms=TERMS)
        work.commit()

    assert _report(store, "2031-W12")["stale_days"] == 3


@pytest.mark.parametrize("case", ["sheet_revised", "data_stopped", "model_revised", "new_readings"])
def test_each_change_names_one_reason(store: Store, models: MadeUp, case: str) -> None:
    """What was changed is what the report names; nothing else is blamed."""
    models.since.clear()
    _walk(store, models, date(2031, 3, 10), date(2031, 3, 16))
    if case == "sheet_revised":
        with store.begin() as work:
            work.put_sheets([SpecSheet(sheet="HARROW-24", revision=2, source="shop manual")], NOW)
            work.commit()
    if case == "model_revised":
        models.method = "made up 2"
    if case == "data_stopped":
        models.silent.add("V-3")
    else:
        models.since["V-3"] = to_day(date(2031, 3, 20))
    _walk(store, models, date(2031, 3, 17), date(2031, 3, 23))

    changes = _report(store, "2031-W13")["changes"]

    assert [(change["vehicle"], change["reason"]) for change in changes] == [("V-3", case)]


def test_only_a_limit_changed(store: Store, models: MadeUp) -> None:
    """After a new revision of a sheet every vehicle that moved says so, and none blames its readings."""
    models.since.clear()
    _walk(store, models, date(2031, 3, 10), date(2031, 3, 16))
    with store.begin() as work:
        work.put_sheets([SpecSheet(sheet="HARROW-24", revision=2, source="shop manual")], NOW)
        work.commit()
    models.since.update({name: to_day(date(2031, 3, 20)) for name in ("V-1", "V-3", "V-4")})
    _walk(store, models, date(2031, 3, 17), date(2031, 3, 23))

    changes = _report(store, "2031-W13")["changes"]

    assert [(change["vehicle"], change["reason"], change["sheet"]) for change in changes] == [
        (name, "sheet_revised", "HARROW-24 2") for name in ("V-1", "V-3", "V-4")
    ]


def test_a_change_by_late_readings_says_so(store: Store, models: MadeUp) -> None:
    """Where most of what came in since the report before had been taken before it, that is the reason."""
    models.since.clear()
    _walk(store, models, date(2031, 3, 10), date(2031, 3, 16))
    late = "\n".join(
        orjson.dumps(
            {
                "vehicle": "V-3",
                "taken_at": f"2031-03-{day:02d}T06:00:00+00:00",
                "values": {"LONGFT1": 3.0, "RPM": 740, "VPWR": 14.1},
            }
        ).decode()
        for day in (11, 12, 13, 20)
    )
    came = NOW + timedelta(hours=1)
    none = AliasTable.from_rows([], [])
    arrival = read_snapshots(late.encode(), kind="ndjson", now_us=int(came.timestamp() * 1e6), aliases=none)
    with store.begin() as work:
        assert work.add_arrival(arrival, received_at=came, source="late.ndjson").accepted == 4
        work.commit()
    models.since["V-3"] = to_day(date(2031, 3, 20))
    _walk(store, models, date(2031, 3, 17), date(2031, 3, 23))

    changes = _report(store, "2031-W13")["changes"]

    assert [(change["vehicle"], change["reason"]) for change in changes] == [("V-3", "late_readings")]


def test_nothing_changed_is_an_empty_list(store: Store, models: MadeUp) -> None:
    """Two weeks alike: no change, and not for want of a report before."""
    _walk(store, models, date(2031, 3, 10), date(2031, 3, 23))

    report = _report(store, "2031-W13")

    assert (report["changes"], report["first_week"]) == ([], False)


def test_a_silent_vehicle_is_reported_once(store: Store, models: MadeUp) -> None:
    """It is among the changes of the week in which it fell silent, and in no later one; it stays counted."""
    _walk(store, models, date(2031, 3, 10), date(2031, 3, 16))
    models.silent.add("V-4")
    _walk(store, models, date(2031, 3, 17), date(2031, 4, 6))

    told = [[one["vehicle"] for one in _report(store, week)["changes"]] for week in ("2031-W13", "2031-W14")]

    assert told == [["V-4"], []]
    assert _report(store, "2031-W15")["changes"] == []
    assert _report(store, "2031-W15")["coverage"]["silent"] == ["V-4"]


def test_past_due_starts_the_day_after(store: Store, models: MadeUp) -> None:
    """Due on Sunday is past due on Monday; not accepted is what holds it."""
    models.since = {"V-2": to_day(date(2031, 3, 9))}
    _walk(store, models, date(2031, 3, 9), date(2031, 3, 16))

    late = _report(store, "2031-W12")["past_due"]

    assert [(row["ticket"], row["due_by"], row["days_late"], row["holding"]) for row in late] == [
        ("V-2-T1", "2031-03-16", 1, "not_accepted")
    ]


def test_a_shared_shift_is_told_once(store: Store, models: MadeUp) -> None:
    """A shift that like vehicles share on several days of a week is one notice: the day it was largest."""
    first = to_day(date(2031, 3, 10))
    models.events = tuple(
        FleetEvent(day=first + n, scope="North", series="LONGFT1@cruise", unit="%", shift=shift, vehicles=4)
        for n, shift in enumerate([3.0, 4.1, 3.9])
    )
    _walk(store, models, date(2031, 3, 10), date(2031, 3, 16))

    events = _report(store, "2031-W12")["events"]

    assert [(event["on"], event["shift"], event["scope"]) for event in events] == [
        ("2031-03-11", 4.1, "North")
    ]


def test_the_cost_at_risk_is_the_sum_of_its_rows(store: Store, models: MadeUp) -> None:
    """With the fleet's own costs the headline equals its rows to the cent, inside its range."""
    cost = Cost(
        cause="fuel_delivery_low",
        planned_hours=2.0,
        unplanned_hours=4.0,
        planned_parts=200.0,
        unplanned_parts=260.0,
        downtime=400.0,
        currency="EUR",
        price_date=date(2031, 1, 1),
        revision=1,
    )
    with store.begin() as work:
        work.put_costs([cost], NOW)
        work.commit()
    models.since["V-1"] = to_day(date(2031, 3, 1))
    _walk(store, models, date(2031, 3, 10), date(2031, 3, 16) + timedelta(0))

    risk = _report(store, "2031-W12")["cost"]

    assert len(risk["rows"]) == 2
    assert risk["mean"] == round(sum(row["sum"] for row in risk["rows"]), 2) > 0
    assert risk["low"] <= risk["mean"] <= risk["high"]


def test_a_new_battery_that_ends_a_ticket_is_a_repair(store: Store, models: MadeUp) -> None:
    """Work that closes a vehicle's ticket is why it stands elsewhere, whatever memory it cleared."""
    models.since = {"V-2": to_day(date(2031, 3, 10))}
    _walk(store, models, date(2031, 3, 10), date(2031, 3, 16))
    with store.begin() as work:
        done_at = datetime(2031, 3, 19, 9, tzinfo=UTC)
        work.put_work(
            [WorkRecord(vehicle="V-2", done_at=done_at, kind="battery_replaced", ticket="V-2-T1")], NOW
        )
        work.commit()
    models.since.clear()
    _walk(store, models, date(2031, 3, 17), date(2031, 3, 23))

    changes = _report(store, "2031-W13")["changes"]

    assert [(one["vehicle"], one["after"], one["reason"]) for one in changes] == [("V-2", "watch", "repair")]
