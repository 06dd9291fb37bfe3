"""The vehicles: where they stand, what their parts are like, and how they are used."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from tests.bench.strangers.loops.builds import BUILDS, Build
from tests.bench.strangers.loops.places import DEPOTS


@dataclass(frozen=True, slots=True, kw_only=True)
class Traits:
    """What makes one vehicle differ from its kind.

    Parameters
    ----------
    base_trim : tuple of float
        Error of the base fuelling: bank 1 and 2 at idle, bank 1 and 2 at cruise [%].
    vapour_gain, load_gain, heat_gain, cold_gain : float
        How strongly vapour moves the trim, loads and drag move the idle air, load moves the thermostat, and
        cold moves the voltage; 1 on average.
    idle_gain : float
        Air the engine takes at idle, over its kind's [1].
    regulator_v, volts_noise_v : float
        Offset of the regulator, and its wandering within a drive [V].
    thermostat_c : float
        Offset of the thermostat [degC].
    battery_age : float
        Inner resistance of the battery on the first day over a fresh one's [1].
    learn_min : tuple of float
        Engine minutes in which learned trim makes up 63 % of an error, idle cell and cruise cell [min].
    wobble : float
        Size of the trim's unexplained movement from drive to drive [%].
    """

    base_trim: tuple[float, float, float, float]
    vapour_gain: float
    load_gain: float
    heat_gain: float
    cold_gain: float
    idle_gain: float
    regulator_v: float
    volts_noise_v: float
    thermostat_c: float
    battery_age: float
    learn_min: tuple[float, float]
    wobble: float
    ageing: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Vehicle:
    """One vehicle; `moved` is the day on which it came to `depot` from `earlier`, or None."""

    number: str
    index: int
    build: Build
    depot: int
    earlier: int
    moved: int | None
    in_service: date
    odometer_km: float
    drives_a_day: float
    eagerness: float
    weekends: float
    traits: Traits

    def depot_on(self, day: int) -> int:
        """Give the index of the depot where it stands on a day of the history."""
        return self.earlier if self.moved is not None and day < self.moved else self.depot


def _draw_traits(rng: np.random.Generator) -> Traits:
    shared = rng.normal(-3.0, 2.2)
    idle, cruise = shared + rng.normal(0.0, 0.9), shared + rng.normal(0.0, 0.9)
    gap = rng.normal(0.0, 0.9, 2)
    return Traits(
        base_trim=(idle, idle + gap[0], cruise, cruise + gap[1]),
        vapour_gain=float(rng.lognormal(0.0, 0.12)),
        load_gain=float(rng.lognormal(0.0, 0.07)),
        heat_gain=float(rng.lognormal(0.0, 0.07)),
        cold_gain=float(rng.lognormal(0.0, 0.06)),
        idle_gain=float(rng.lognormal(0.0, 0.06)),
        regulator_v=float(rng.normal(0.0, 0.1)),
        volts_noise_v=float(0.13 * rng.lognormal(0.0, 0.25)),
        thermostat_c=float(rng.normal(0.0, 1.6)),
        battery_age=float(rng.uniform(1.0, 1.3)),
        learn_min=(float(rng.uniform(35.0, 110.0)), float(rng.uniform(30.0, 90.0))),
        wobble=float(0.65 * rng.lognormal(0.0, 0.3)),
        ageing=float(rng.lognormal(0.0, 0.4)),
    )


def make_fleet(rng: np.random.Generator, first: date, vehicles: int, days: int) -> list[Vehicle]:
    """Draw the vehicles of a fleet; every kind and every depot is there."""
    kinds = rng.choice(len(BUILDS), vehicles, p=[build.share for build in BUILDS])
    kinds[: len(BUILDS)] = np.arange(len(BUILDS))
    homes = rng.choice(len(DEPOTS), vehicles, p=[depot.share for depot in DEPOTS])
    homes[-len(DEPOTS) :] = np.arange(len(DEPOTS))
    found = []
    for index in range(vehicles):
        moved = int(rng.integers(60, days - 30)) if rng.random() < 0.03 else None
        found.append(
            Vehicle(
                number=f"{'ABCDE'[int(kinds[index])]}{310 + 7 * index}",
                index=index,
                build=BUILDS[int(kinds[index])],
                depot=int(homes[index]),
                earlier=int((homes[index] + rng.integers(1, len(DEPOTS))) % len(DEPOTS)),
                moved=moved,
                in_service=first - timedelta(days=int(rng.integers(200, 3200))),
                odometer_km=float(np.round(rng.uniform(8_000, 190_000))),
                drives_a_day=float(rng.uniform(1.6, 4.6)),
                eagerness=float(np.clip(rng.lognormal(0.0, 0.28), 0.65, 1.6)),
                weekends=float(rng.uniform(0.05, 0.7)),
                traits=_draw_traits(rng),
            )
        )
    return found
