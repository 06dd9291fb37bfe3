"""The fictional town of Wendmarrow: its depots, their height and their weather.

Every name is invented. Heights and climates are chosen by us to cover sea level to high plateau.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from service.demo.strengths import Strengths


@dataclass(frozen=True, slots=True, kw_only=True)
class Depot:
    """One depot: height above the sea [m], clock, yearly mean, seasonal and daily swing [degC]."""

    name: str
    altitude_m: float
    time_zone: str
    mean_c: float
    season_c: float
    daily_c: float


DEPOTS: Final = (
    Depot(name="Quayside", altitude_m=12, time_zone="CST6CDT", mean_c=14, season_c=8.5, daily_c=6),
    Depot(name="Millfold", altitude_m=240, time_zone="CST6CDT", mean_c=11.5, season_c=11, daily_c=8),
    Depot(name="Ridgegate", altitude_m=760, time_zone="CST6CDT", mean_c=9, season_c=12.5, daily_c=10),
    Depot(name="Upperworks", altitude_m=1480, time_zone="MST7MDT", mean_c=7, season_c=13, daily_c=12),
)
"""Depots of the fleet, in the order of their stored number."""

HOTTEST_DAY: Final = 201
"""Day of the year with the highest mean temperature; chosen by us (late July)."""

WARMEST_HOUR: Final = 15.0
"""Local hour of the daily maximum; common observation, no source."""


def standard_pressure_kpa(altitude_m: float) -> float:
    """Give the pressure of the standard atmosphere.

    Parameters
    ----------
    altitude_m : float
        Geopotential height [m].

    Returns
    -------
    float
        Pressure [kPa].

    References
    ----------
    US Standard Atmosphere 1976, troposphere: p = 101325 (1 - 0.0065 H / 288.15)^5.255876.
    """
    return float(101.325 * (1 - 0.0065 * altitude_m / 288.15) ** 5.255876)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Climate:
    """Weather: daily mean temperature [degC] and pressure [kPa], both of shape (depots, days)."""

    mean_c: NDArray[np.float64]
    pressure_kpa: NDArray[np.float64]
    cold_snaps: int


def _wandering(
    rng: np.random.Generator, series: int, days: int, phi: float, sd: float
) -> NDArray[np.float64]:
    shocks = rng.normal(0, sd * np.sqrt(1 - phi**2), (series, days))
    shocks[:, 0] = rng.normal(0, sd, series)
    for day in range(1, days):
        shocks[:, day] += phi * shocks[:, day - 1]
    return shocks


def make_climate(rng: np.random.Generator, day_of_year: NDArray[np.int64], strengths: Strengths) -> Climate:
    """Draw the weather of every depot.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance.
    day_of_year : int64 array of shape (days,)
        Day of the year of each day of the history, from 1.
    strengths : Strengths
        How many cold snaps, how deep.

    Returns
    -------
    Climate
        Daily means; the hour is added by `air_temperature`.
    """
    days = len(day_of_year)
    phase = np.cos(2 * np.pi * (day_of_year - HOTTEST_DAY) / 365.25)
    shared = _wandering(rng, 1, days, 0.78, 2.8)
    mean = np.array([[depot.mean_c] for depot in DEPOTS]) + np.array(
        [[depot.season_c] for depot in DEPOTS]
    ) * (phase * strengths.season)
    mean = mean + shared + _wandering(rng, len(DEPOTS), days, 0.7, 1.7)
    cold = np.flatnonzero(phase < -0.3)
    snaps = int(rng.poisson(strengths.cold_snaps)) if len(cold) else 0
    for _ in range(snaps):
        first = int(rng.choice(cold))
        last = min(days, first + int(rng.integers(4, 10)))
        struck = rng.random(len(DEPOTS)) < 0.7
        mean[struck, first:last] -= rng.uniform(7, 15)
    level = np.array([[standard_pressure_kpa(depot.altitude_m)] for depot in DEPOTS])
    pressure = level * (1 + _wandering(rng, len(DEPOTS), days, 0.7, 0.007))
    return Climate(mean_c=mean, pressure_kpa=pressure, cold_snaps=snaps)


def air_temperature(
    climate: Climate, depot: NDArray[np.int64], day: NDArray[np.int64], hour: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Give the outside air temperature [degC] at each row's depot, day and local hour; all of shape (n,)."""
    swing = np.array([place.daily_c for place in DEPOTS])[depot]
    return np.asarray(
        climate.mean_c[depot, day] + swing / 2 * np.cos(2 * np.pi * (hour - WARMEST_HOUR) / 24),
        dtype=np.float64,
    )
