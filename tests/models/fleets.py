"""Small made-up fleets: like vehicles, chosen series, plain noise, and whatever a test plants on top."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import CODES, COLUMN, STATES, SWITCHES
from models.panel import Daily, Fleet, Readings, SheetFacts, WorkFact
from models.series import Observations

Floats = NDArray[np.float64]

FIRST_DAY: Final = 19_600

SHEET: Final = SheetFacts(
    sheet="HARROW-24",
    revision=1,
    source="made up for tests",
    displacement_l=2.4,
    cylinders=4,
    banks=1,
    air_metering="maf",
    idle_control="bypass_valve",
    charging="fixed",
    soak_hours=5.0,
    soak_gap_degc=6.0,
    limits=(
        ("LONGFT1", "warm_idle", -8.0, 8.0),
        ("LONGFT1", "cruise", -8.0, 8.0),
        ("VPWR", "warm_idle", 13.2, 15.0),
    ),
)
"""A sheet with limits."""

BARE: Final = replace(SHEET, sheet="BARE", limits=())
"""The same engine, no limits."""

SOUND: Final[tuple[tuple[str, str, float, float], ...]] = (
    ("LONGFT1", "warm_idle", 1.0, 1.2),
    ("LONGFT1", "cruise", 0.5, 1.4),
    ("IAC", "warm_idle", 32.0, 1.2),
    ("RPM", "warm_idle", 720.0, 9.0),
    ("MAP", "warm_idle", 31.0, 0.8),
    ("VPWR", "warm_idle", 14.1, 0.10),
    ("VPWR", "cruise", 14.0, 0.08),
    ("CRANK_VMIN", "crank", 10.2, 0.2),
    ("VPWR", "koeo_soak", 12.6, 0.06),
    ("ECT", "warm_idle", 92.0, 1.0),
    ("ECT", "cruise", 90.0, 1.0),
    ("IAT", "koeo_soak", 15.0, 0.5),
    ("ECT", "koeo_soak", 16.0, 0.8),
    ("AAT", "koeo_soak", 15.0, 0.5),
)
"""Parameter, state, level, day-to-day noise of a sound vehicle."""

ALL: Final = slice(None)
"""All vehicles, or all days."""

FEW: Final = SOUND[:6]
"""Enough for trims, idle air and charging, and quicker."""


class Town:
    """A fleet under construction: one value for each vehicle, day, state and parameter.

    Parameters
    ----------
    vehicles, days : int
    channels : tuple of (parameter, state, level, noise)
        What is reported every day.
    sheet : SheetFacts or None
        Of every vehicle.
    depots : int
        Vehicles are dealt out to so many depots.
    seed : int
    """

    def __init__(
        self,
        vehicles: int = 16,
        days: int = 150,
        *,
        channels: tuple[tuple[str, str, float, float], ...] = FEW,
        sheet: SheetFacts | None = SHEET,
        depots: int = 1,
        seed: int = 1,
    ) -> None:
        self.vehicles, self.days = vehicles, days
        self.rng = np.random.default_rng(seed)
        self.sheets: tuple[SheetFacts, ...] = () if sheet is None else (sheet,)
        self.sheet = np.full(vehicles, -1 if sheet is None else 0, np.int32)
        self.depot = (np.arange(vehicles) % max(depots, 1)).astype(np.int32)
        self.depots = tuple(f"Depot {place}" for place in range(depots))
        self.work: list[WorkFact] = []
        self._values = np.full((len(STATES), vehicles, days, len(CODES)), np.nan)
        self._switches = np.full((len(STATES), vehicles, days, len(SWITCHES)), np.nan)
        for code, state, level, noise in channels:
            own = self.rng.normal(0, 0.7 * noise, (vehicles, 1))
            self.at(code, state)[:] = level + own + self.rng.normal(0, noise, (vehicles, days))

    def at(self, code: str, state: str) -> Floats:
        """Give the values of a parameter in a state to change in place, shape (vehicles, days)."""
        found: Floats = self._values[STATES.index(state), :, :, COLUMN[code]]
        return found

    def switch(self, name: str) -> Floats:
        """Give the share of warm idles with a switch on, to change in place, shape (vehicles, days)."""
        found: Floats = self._switches[STATES.index("warm_idle"), :, :, SWITCHES.index(name)]
        return found

    def drift(self, code: str, state: str, vehicle: int, *, onset: int, per_week: float) -> None:
        """Let one vehicle's parameter drift from a day of the history on."""
        self.at(code, state)[vehicle] += per_week / 7 * np.maximum(np.arange(self.days) - onset, 0)

    def round_off(self, steps: Mapping[str, float], vehicle: int | slice = ALL, days: slice = ALL) -> None:
        """Round parameters of warm idles and cruises to steps, of one vehicle or all, on some days or all."""
        for code, step in steps.items():
            for state in ("warm_idle", "cruise"):
                values = self.at(code, state)
                values[vehicle, days] = np.round(values[vehicle, days] / step) * step

    def silence(self, vehicle: int, since: int) -> None:
        """Let one vehicle send nothing from a day of the history on."""
        self._values[:, vehicle, since:] = np.nan

    def did(self, vehicle: int, day: int, kind: str, cause: str = "") -> None:
        """Record work on a day of the history."""
        self.work.append(WorkFact(vehicle=vehicle, day=FIRST_DAY + day, kind=kind, cause=cause))

    def fleet(self) -> Fleet:
        """Give the fleet."""
        return Fleet(
            vehicles=tuple(f"V-{place:04d}" for place in range(self.vehicles)),
            sheet=self.sheet,
            sheets=self.sheets,
            depot=self.depot,
            depots=self.depots,
            work=tuple(sorted(self.work, key=lambda fact: (fact.vehicle, fact.day))),
        )

    def daily(self) -> Daily:
        """Give the daily rows of every state in which something was reported."""
        reported = np.isfinite(self._values).any(axis=3).transpose(1, 2, 0)
        vehicle, day, state = np.nonzero(reported)
        return Daily(
            vehicle=vehicle.astype(np.int32),
            day=(FIRST_DAY + day).astype(np.int32),
            state=state.astype(np.int8),
            readings=np.ones(len(vehicle), np.int32),
            values=self._values[state, vehicle, day],
            switched_on=self._switches[state, vehicle, day],
        )

    @property
    def last_day(self) -> int:
        """Give the last day of the history."""
        return FIRST_DAY + self.days - 1


def observed(
    vehicle: NDArray[np.int64],
    series: NDArray[np.int64] | int,
    day: NDArray[np.int64],
    value: Floats,
    covariates: Floats | None = None,
) -> Observations:
    """Make observations, sorted already; without covariates unless given, a row for each."""
    count = len(value)
    return Observations(
        vehicle=vehicle.astype(np.int32),
        series=np.broadcast_to(np.asarray(series), count).astype(np.int8),
        day=day.astype(np.int32),
        value=value,
        source=np.arange(count, dtype=np.int32),
        covariates=np.empty((count, 0)) if covariates is None else covariates,
    )


def snapshots(
    rows: list[tuple[int, float, str, dict[str, float]]], *, switches: dict[str, int] | None = None
) -> Readings:
    """Make readings of (vehicle, hours since the first midnight, state, values), in the given order."""
    values = np.full((len(rows), len(CODES)), np.nan)
    for row, (_, _, _, said) in enumerate(rows):
        for code, value in said.items():
            values[row, COLUMN[code]] = value
    hours = np.array([hour for _, hour, _, _ in rows])
    told = [(switches or {}).get(name, -1) for name in SWITCHES]
    return Readings(
        vehicle=np.array([vehicle for vehicle, _, _, _ in rows], np.int32),
        taken_us=np.round((FIRST_DAY * 24 + hours) * 3.6e9).astype(np.int64),
        day=(FIRST_DAY + hours // 24).astype(np.int32),
        state=np.array([STATES.index(state) if state else -1 for _, _, state, _ in rows], np.int8),
        values=values,
        switches=np.tile(np.array(told, np.int8), (len(rows), 1)),
    )
