"""Made-up models, to run the schedule on."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from models.findings import Assessment, Corrected, Finding, FleetEvent, SeriesReading, Trend, VehicleState
from models.panel import Daily, Fleet, Wish
from models.summarise import summarise
from service.schedule.engine import Engine
from tests.service.findings import make_finding, make_reading

BARE: Any = dict.fromkeys(
    (
        "limit_low",
        "limit_high",
        "reaches_limit_on",
        "reaches_limit_low",
        "reaches_limit_high",
        "peers_low",
        "peers_high",
    )
) | {"peers": 0, "segment_from": 0}
"""A reading of a vehicle without a sheet and without peers."""


def _reading(day: int) -> SeriesReading:
    return make_reading(day, **BARE)


def _finding(vehicle: str, day: int) -> Finding:
    return make_finding(
        day,
        vehicle=vehicle,
        method="made up 1",
        onset_day=day - 20,
        causes=(("fuel_delivery_low", 0.7), ("unknown", 0.3)),
        lead=_reading(day),
        quiet=("VPWR@warm_idle",),
        probability_30d=0.6,
    )


@dataclass
class MadeUp:
    """Models that say what they are told: findings from a day on, by vehicle.

    Every call is remembered, so that tests can count.
    """

    since: dict[str, int] = field(default_factory=dict)
    silent: set[str] = field(default_factory=set)
    method: str = "made up 1"
    events: tuple[FleetEvent, ...] = ()
    asked: list[int] = field(default_factory=list)
    failing: int = 0
    hook: Callable[[int], None] | None = None

    def engine(self) -> Engine:
        """Give them as the schedule wants them."""
        return Engine(summarise=summarise, walker=self._walker)

    def _walker(self, fleet: Fleet, daily: Daily, wish: Wish) -> "Walk":  # noqa: ARG002
        return Walk(models=self, vehicles=fleet.vehicles)


@dataclass
class Walk:
    """One walk over the days."""

    models: MadeUp
    vehicles: tuple[str, ...]

    def at(self, day: int) -> Assessment:
        """Say what was told."""
        self.models.asked.append(day)
        if self.models.failing:
            self.models.failing -= 1
            raise RuntimeError("made to fail")
        if self.models.hook is not None:
            self.models.hook(day)
        found = {name for name, first in self.models.since.items() if first <= day}
        return Assessment(
            day=day,
            method=self.models.method,
            findings=tuple(_finding(v, self.models.since[v]) for v in self.vehicles if v in found),
            vehicles=tuple(
                VehicleState(
                    vehicle=vehicle,
                    word="cannot_say" if vehicle in self.models.silent else "steady",
                    reason="silent" if vehicle in self.models.silent else "",
                    last_day=day,
                    readings=20,
                )
                for vehicle in self.vehicles
            ),
            events=tuple(event for event in self.models.events if event.day == day),
        )

    def trends(self, day: int) -> tuple[Trend, ...]:
        """Give one trend a vehicle."""
        return tuple(Trend(vehicle=v, reading=_reading(day)) for v in self.vehicles)

    def corrected(self, day: int) -> tuple[Corrected, ...]:
        """Give one corrected day a vehicle."""
        days, values = np.array([day], dtype=np.int32), np.array([1.5], dtype=np.float32)
        return tuple(
            Corrected(vehicle=v, series="LONGFT1@warm_idle", day=days, value=values) for v in self.vehicles
        )
