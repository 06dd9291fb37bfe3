"""Vehicles, sheets, aliases, work records: loading twice changes nothing."""

from datetime import UTC, date, datetime, timedelta

import pytest

from ingest.records import Alias, Limit, SpecSheet, Vehicle, WorkRecord
from service.store import NotFound, Store
from service.tickets.ticket import Ticket

NOW = datetime(2031, 3, 4, 12, 0, tzinfo=UTC)
SHEET = SpecSheet(
    sheet="HARROW-24",
    revision=2,
    source="shop manual p. 6-12",
    banks=1,
    soak_hours=5.0,
    limits=(Limit(parameter="LONGFT1", state="warm_idle", low=-8.0, high=None),),
    aliases={"BATTERY VOLTS": "VPWR"},
    further={"torque": {"drain plug": 39}},
)


def test_vehicles_twice(store: Store) -> None:
    """The same vehicles twice are no change; a changed one is told; what was given reads back."""
    rows = [
        Vehicle(vehicle="V-2", vin="10000000X00000001", in_service_on=date(2029, 5, 1), odometer_km=48211.0),
        Vehicle(vehicle="V-1"),
    ]
    with store.begin() as work:
        assert work.put_vehicles(rows, NOW).added == 2
        assert work.put_vehicles(rows, NOW).same == 2
        assert work.put_vehicles([Vehicle(vehicle="V-1", depot="South")], NOW).changed == 1
        assert work.vehicles() == (Vehicle(vehicle="V-1", depot="South"), rows[0])
        assert work.vehicle("V-2") == rows[0]
        with pytest.raises(NotFound, match="V-9"):
            work.vehicle("V-9")


def test_vehicle_with_unknown_zone(store: Store) -> None:
    """A time zone that does not exist is refused with the vehicle's place in the file."""
    with store.begin() as work:
        loads = work.put_vehicles([Vehicle(vehicle="V-1"), Vehicle(vehicle="V-2", time_zone="Mars")], NOW)

        assert [(item.index, item.code) for item in loads.refused] == [(1, "unknown-time-zone")]
        assert len(work.vehicles()) == 1


def test_depot_is_dated(fleet: Store) -> None:
    """The fleet as of a day before a move shows the old depot."""
    day = (NOW - datetime(1970, 1, 1, tzinfo=UTC)).days
    with fleet.begin() as work:
        work.put_vehicles([Vehicle(vehicle="V-1", depot="South", spec_sheet="HARROW-24")], NOW)

        assert work.fleet_facts(as_of_day=day - 1).depots == ("North",)
        assert work.fleet_facts(as_of_day=day).depots == ("South",)


def test_sheet_conflict(fleet: Store) -> None:
    """The same revision again is no change; with other content it is refused and the kept one stays."""
    other = SpecSheet(sheet="HARROW-24", revision=2, source="elsewhere")
    with fleet.begin() as work:
        assert work.put_sheets([SHEET], NOW).added == 1
        assert work.put_sheets([SHEET], NOW).same == 1
        assert [item.code for item in work.put_sheets([other], NOW).refused] == ["sheet-conflict"]
        assert work.sheets() == (SHEET,)


def test_draft_waits(fleet: Store) -> None:
    """A draft is not in force until somebody puts it there, and then from its day on."""
    draft = SpecSheet(sheet="HARROW-24", revision=3, source="revised")
    day = (NOW - datetime(1970, 1, 1, tzinfo=UTC)).days
    with fleet.begin() as work:
        work.put_sheets([SHEET], NOW)
        work.put_sheets([draft], NOW, who="ann", draft=True)
        assert work.sheets() == (SHEET,)
        work.enforce_sheet("HARROW-24", 3, in_force_from=NOW.date(), now=NOW, who="bob")
        assert work.sheets(as_of_day=day - 1) == (SHEET,)
        assert work.sheets(as_of_day=day) == (draft,)
        standings = [standing for _, standing in work.sheet_revisions("HARROW-24")]
        assert [(one.standing, one.put_by, one.approved_by) for one in standings] == [
            ("in_force", "system", "system"),
            ("in_force", "ann", "bob"),
        ]


def test_fleet_facts(fleet: Store) -> None:
    """The models' fleet has vehicles by number, sheets in force, and work done by the day, not later."""
    day = (NOW - datetime(1970, 1, 1, tzinfo=UTC)).days
    with fleet.begin() as work:
        work.put_sheets([SHEET], NOW)
        work.put_work(
            [
                WorkRecord(vehicle="V-2", done_at=NOW, kind="repair", cause="throttle_deposits"),
                WorkRecord(vehicle="V-2", done_at=NOW + timedelta(days=2), kind="note"),
            ],
            NOW,
        )
        facts = work.fleet_facts(as_of_day=day)

    assert facts.vehicles == ("V-1", "V-2")
    assert facts.sheet.tolist() == [0, -1]
    assert facts.sheets[0].limits == (("LONGFT1", "warm_idle", -8.0, None),)
    assert facts.depot.tolist() == [0, -1]
    assert [(fact.vehicle, fact.day, fact.kind, fact.cause) for fact in facts.work] == [
        (1, day, "repair", "throttle_deposits")
    ]


def test_aliases_twice(store: Store) -> None:
    """The same alias twice is no change; another meaning replaces it."""
    alias = Alias(scope="device", scope_id="L-1", name="Coolant", parameter="ECT", unit="degF")
    changed = Alias(scope="device", scope_id="L-1", name="Coolant", parameter="ECT", unit="degC")
    with store.begin() as work:
        assert work.put_aliases([alias, alias], NOW).same == 1
        assert work.put_aliases([changed], NOW).changed == 1
        assert work.aliases() == (changed,)
        work.drop_alias("device", "L-1", "Coolant")
        assert work.aliases() == ()


def test_work_records_twice(fleet: Store) -> None:
    """The same record twice is no change; other costs change it; undo takes it away."""
    row = WorkRecord(vehicle="V-2", done_at=datetime(2031, 3, 5, 3, 0, tzinfo=UTC), kind="repair")
    dearer = WorkRecord(vehicle="V-2", done_at=row.done_at, kind="repair", parts_cost=12.5)
    with fleet.begin() as work:
        assert work.put_work([row], NOW).added == 1
        assert work.put_work([row], NOW).same == 1
        assert work.put_work([dearer], NOW).changed == 1
        (kept,) = work.work_records(vehicle="V-2")
        assert (kept.parts_cost, kept.done_at) == (12.5, row.done_at)
        assert kept.day == (date(2031, 3, 4) - date(1970, 1, 1)).days
        work.delete_work(kept.number)
        assert work.work_page().rows == ()


def test_work_records_refused(fleet: Store) -> None:
    """A record of an unknown vehicle, or naming a ticket that is not the vehicle's, is refused."""
    with fleet.begin() as work:
        work.put_ticket(Ticket(ticket="V-1-T1", vehicle="V-1", raised_at=NOW, updated_at=NOW), read_version=0)
        loads = work.put_work(
            [
                WorkRecord(vehicle="V-9", done_at=NOW, kind="note"),
                WorkRecord(vehicle="V-1", done_at=NOW, kind="repair", ticket="V-1-T7"),
                WorkRecord(vehicle="V-2", done_at=NOW, kind="repair", ticket="V-1-T1"),
                WorkRecord(vehicle="V-1", done_at=NOW, kind="repair", ticket="V-1-T1"),
            ],
            NOW,
        )

    assert loads.added == 1
    assert [item.code for item in loads.refused] == [
        "unknown-vehicle",
        "unknown-ticket",
        "ticket-of-another-vehicle",
    ]
