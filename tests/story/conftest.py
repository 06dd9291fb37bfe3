"""A small made-up fleet that sends its readings through the door, day by day, and is evaluated by night."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any, Final

import numpy as np
import orjson
import pytest

from ingest.records import Limit, SpecSheet, Vehicle
from models.panel import Wish
from service.schedule.digest import Digest, make_digest
from service.schedule.engine import Terms, models_engine
from service.schedule.evaluate import evaluate
from service.schedule.replay import Span, replay
from service.schedule.weekly import freeze_week
from service.store import Store
from service.tickets.ticket import Ticket
from service.tickets.words import to_day
from tests.service.web.conftest import Service, open_service
from tests.service.web.fleet import ndjson

FIRST: Final = date(2031, 1, 6)
"""A Monday."""

SHEET: Final = SpecSheet(
    sheet="HARROW-24",
    revision=1,
    source="shop manual p. 6-12",
    displacement_l=2.4,
    cylinders=4,
    banks=1,
    air_metering="maf",
    idle_control="bypass_valve",
    charging="fixed",
    soak_hours=5.0,
    limits=(
        Limit(parameter="LONGFT1", state="warm_idle", low=-8.0, high=8.0),
        Limit(parameter="LONGFT1", state="cruise", low=-8.0, high=8.0),
    ),
)
"""A sheet with limits on the trims."""

SOUND: Final[dict[str, dict[str, tuple[float, float]]]] = {
    "warm_idle": {
        "LONGFT1": (1.0, 1.2),
        "IAC": (32.0, 1.2),
        "MAP": (31.0, 0.8),
        "VPWR": (14.1, 0.10),
        "RPM": (720.0, 9.0),
        "ECT": (91.0, 0.6),
    },
    "cruise": {
        "LONGFT1": (0.5, 1.4),
        "VPWR": (14.0, 0.08),
        "RPM": (2200.0, 60.0),
        "ECT": (90.0, 0.6),
    },
    "koeo_soak": {"VPWR": (12.6, 0.05), "ECT": (16.0, 0.6), "IAT": (15.2, 0.6), "AAT": (15.0, 0.5)},
}
"""What sound vehicles read: level and scatter from day to day, by state and parameter."""

HOUR: Final = {"koeo_soak": 6, "warm_idle": 8, "cruise": 9}
PLAIN: Final[dict[str, dict[str, Any]]] = {
    "koeo_soak": {"RPM": 0, "VSS": 0},
    "warm_idle": {"VSS": 0, "FUELSYS1": "CL"},
    "cruise": {"VSS": 80, "FUELSYS1": "CL"},
}


@dataclass
class Town:
    """Vehicles of one sheet, and what a test plants on their readings.

    Parameters
    ----------
    service : Service
        The application over an empty store.
    vehicles, days : int
        Size and length of the history.
    sheet : SpecSheet or None
        Of every vehicle.
    """

    service: Service
    vehicles: int = 16
    days: int = 119
    sheet: SpecSheet | None = SHEET
    values: dict[tuple[str, str], Any] = field(default_factory=dict)
    loop: dict[int, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        rng = np.random.default_rng(1)
        for state, parameters in SOUND.items():
            for code, (level, noise) in parameters.items():
                own = rng.normal(0, 0.5 * noise, (self.vehicles, 1))
                scatter = rng.normal(0, noise, (self.vehicles, self.days))
                self.values[code, state] = level + own + scatter

    def at(self, code: str, state: str) -> Any:
        """Give the values to change in place, shape (vehicles, days)."""
        return self.values[code, state]

    @property
    def store(self) -> Store:
        """Give the store."""
        return self.service.store

    @property
    def last(self) -> date:
        """Give the last day of the history."""
        return FIRST + timedelta(days=self.days - 1)

    @property
    def evening(self) -> datetime:
        """Give the moment at which the last day has ended everywhere."""
        return datetime.combine(self.last + timedelta(days=1), datetime.min.time(), UTC) + timedelta(hours=9)

    def name(self, vehicle: int) -> str:
        """Give a vehicle's number."""
        return f"V-{vehicle:04d}"

    def register(self) -> None:
        """Put vehicles and sheet on the register."""
        at = datetime.combine(FIRST, datetime.min.time(), UTC)
        named = self.sheet.sheet if self.sheet else ""
        rows = [
            Vehicle(vehicle=self.name(v), spec_sheet=named, depot="North", time_zone="UTC")
            for v in range(self.vehicles)
        ]
        with self.store.begin() as work:
            if self.sheet:
                work.put_sheets([self.sheet], at)
            work.put_vehicles(rows, at)
            work.commit()

    def send(self, days: range | None = None, vehicles: list[int] | None = None) -> None:
        """Send snapshots as loggers do: a soak, a warm idle and a cruise a day."""
        items = [
            self._snapshot(vehicle, day, state)
            for day in days or range(self.days)
            for vehicle in (range(self.vehicles) if vehicles is None else vehicles)
            for state in SOUND
        ]
        answer = self.service.send(ndjson(items), self.service.token("send"), "application/x-ndjson")
        assert answer.json()["accepted"] == len(items), answer.text[:2000]

    def _snapshot(self, vehicle: int, day: int, state: str) -> dict[str, Any]:
        at = datetime.combine(FIRST + timedelta(days=day), datetime.min.time(), UTC)
        read = {code: round(float(self.values[code, state][vehicle, day]), 2) for code in SOUND[state]}
        values = PLAIN[state] | read
        if "FUELSYS1" in values and vehicle in self.loop:
            values["FUELSYS1"] = self.loop[vehicle]
        return {
            "vehicle": self.name(vehicle),
            "taken_at": (at + timedelta(hours=HOUR[state])).isoformat(),
            "state": state,
            "device": "L-220",
            "values": values,
            "switches": {"ac": False, "power_steering": False, "in_gear": False},
        }

    def night(self) -> tuple[Ticket, ...]:
        """Evaluate as of the last day, freeze the week; give the tickets."""
        return self.nights(self.last, every=1)

    def nights(self, first: date, *, every: int = 1) -> tuple[Ticket, ...]:
        """Evaluate as of each date from the first on, freeze the last week; give the tickets."""
        engine, terms = models_engine(), Terms(wish=Wish())
        if first < self.last:
            span = Span(first=first, last=self.last - timedelta(days=1), every=every)
            replay(self.store, span, now=self.evening, terms=terms, engine=engine)
        evaluate(self.store, as_of=self.last, now=self.evening, terms=terms, engine=engine)
        with self.store.begin() as work:
            freeze_week(work, after_day=to_day(self.last), now=self.evening, terms=terms)
            work.commit()
        with self.store.begin(readonly=True) as work:
            return work.tickets()

    def digest(self) -> Digest:
        """Give the digest of the newest frozen report."""
        with self.store.begin(readonly=True) as work:
            kept = work.report(work.reports()[-1])
        assert kept is not None
        return make_digest(orjson.loads(kept.body))

    def page(self, address: str) -> str:
        """Give a page as an administrator reads it."""
        answer = self.service.client.get(address)
        assert answer.status_code == 200, answer.text[:2000]
        return str(answer.text)


def open_at(url: str, folder: Path, *, days: int = 119) -> Service:
    """Open the service over an empty store, on the morning after the last day."""
    morning = datetime.combine(FIRST + timedelta(days=days), datetime.min.time(), UTC) + timedelta(hours=9)
    return open_service(url, folder, now=morning)


@pytest.fixture
def service(main_url: str, tmp_path: Path) -> Iterator[Service]:
    """Give the service over an empty store, on the morning after the last day."""
    opened = open_at(main_url, tmp_path)
    yield opened
    opened.store.close()


@pytest.fixture
def town(service: Service) -> Town:
    """Give sixteen sound vehicles of one sheet with 17 weeks of readings, not sent yet."""
    return Town(service)
