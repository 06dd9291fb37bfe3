"""A small fleet with a ticket, made up for the tests of the web."""

from datetime import UTC, datetime, timedelta
from typing import Any

import orjson

from ingest.records import Limit, SpecSheet, Vehicle, WorkRecord
from models.findings import Assessment, Break, FleetEvent, Trend, VehicleState
from models.panel import SheetFacts
from service.store import Store
from service.tickets.compose import Setting, VehicleFacts, filled
from service.tickets.lifecycle import event_row
from service.tickets.rules import Rules
from service.tickets.ticket import Ticket
from tests.service.findings import make_finding, make_reading

NOW = datetime(2031, 3, 4, 12, 0, tzinfo=UTC)
"""A Tuesday."""

TODAY = (NOW.date() - datetime(1970, 1, 1, tzinfo=UTC).date()).days
TICKET = "V-0001-T1"


def snapshot(vehicle: str = "V-0001", **changes: Any) -> dict[str, Any]:
    """Write one believable snapshot at warm idle."""
    plain = {
        "vehicle": vehicle,
        "taken_at": "2031-03-04T06:12:09-05:00",
        "state": "warm_idle",
        "device": "L-220",
        "odometer_km": 48211,
        "values": {
            "LONGFT1": 3.9,
            "RPM": 742,
            "ECT": 90,
            "IAC": 34.5,
            "VPWR": 14.2,
            "FUELSYS1": "CL",
            "VSS": 0,
        },
        "switches": {"ac": False, "power_steering": False, "in_gear": False},
    }
    return plain | changes


def ndjson(items: list[dict[str, Any]]) -> bytes:
    """Write snapshots one a line."""
    return b"\n".join(orjson.dumps(item) for item in items)


def rising_trims(days: int) -> list[dict[str, Any]]:
    """Write one snapshot a day whose fuel trim rises."""
    plain = {"RPM": 742, "ECT": 90, "VPWR": 14.2, "VSS": 0, "FUELSYS1": "CL"}
    return [
        snapshot(
            taken_at=(NOW - timedelta(days=day, hours=2)).isoformat(),
            values=plain | {"LONGFT1": round(1.0 + (days + 1 - day) * 0.1, 2)},
        )
        for day in range(1, days + 1)
    ]


def make_ticket() -> Ticket:
    """Make the ticket that the finding raises."""
    plain = Ticket(ticket=TICKET, vehicle="V-0001", raised_at=NOW, updated_at=NOW)
    facts = SheetFacts(sheet="HARROW-24", revision=2, source="shop manual p. 6-12")
    setting = Setting(
        as_of_day=TODAY - 1,
        at=NOW,
        method="a method 1",
        rules=Rules(),
        vehicles={"V-0001": VehicleFacts(depot="North", spec_sheet="HARROW-24", sheet=facts)},
    )
    return filled(plain, make_finding(TODAY, vehicle="V-0001"), [], setting)


def fill_fleet(store: Store, vehicles: int = 12) -> None:
    """Put vehicles, a sheet, work, an evaluation with trends, and one ticket into a store."""
    names = [f"V-{number:04d}" for number in range(1, vehicles + 1)]
    sheet = SpecSheet(
        sheet="HARROW-24",
        revision=2,
        source="shop manual p. 6-12",
        displacement_l=2.4,
        banks=1,
        soak_hours=5.0,
        limits=(Limit(parameter="LONGFT1", state="warm_idle", low=-8.0, high=8.0),),
        further={"idle_note": "750 1/min"},
    )
    ticket = make_ticket()
    with store.begin() as work:
        work.put_sheets([sheet], NOW)
        work.put_vehicles(
            [
                Vehicle(
                    vehicle=name,
                    vin="10000000X00000001" if name == "V-0001" else "",
                    spec_sheet="HARROW-24" if name != "V-0003" else "",
                    depot="North" if place % 2 else "South",
                    time_zone="America/New_York",
                )
                for place, name in enumerate(names)
            ],
            NOW,
        )
        work.put_work(
            [WorkRecord(vehicle="V-0001", done_at=NOW - timedelta(days=100), kind="battery_replaced")], NOW
        )
        work.put_assessment(
            _assess(names),
            NOW - timedelta(hours=5),
            trends=[
                Trend(vehicle=name, reading=make_reading(TODAY, level=float(place)))
                for place, name in enumerate(names)
            ],
        )
        line = event_row(None, ticket, event="raise", role="system", at=NOW, note="Raised.")
        work.put_ticket(ticket, [line], read_version=0)
        work.commit()


def _assess(names: list[str]) -> Assessment:
    words = [("steady", ""), ("learning", "learning"), ("cannot_say", "silent"), ("steady", "")]
    states = [
        VehicleState(
            vehicle=name,
            word=words[place % 4][0],
            reason=words[place % 4][1],
            last_day=TODAY - 1,
            readings=28,
        )
        for place, name in enumerate(names)
    ]
    return Assessment(
        day=TODAY - 1,
        method="a method 1",
        findings=(make_finding(TODAY, vehicle="V-0001"),),
        vehicles=tuple(states),
        breaks=(Break(vehicle="V-0001", day=TODAY - 100, reason="battery_replaced", found=False),),
        events=(
            FleetEvent(
                day=TODAY - 2, scope="fleet", series="LONGFT1@warm_idle", unit="%", shift=2.0, vehicles=9
            ),
        ),
    )
