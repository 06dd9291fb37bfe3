"""Four depots: their height, their weather day by day, and what their pump sells."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final, TypeAlias

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Depot:
    """A depot in a town that does not exist.

    Parameters
    ----------
    height_m : float
        Height above the sea [m].
    mean_c, swing_c, daily_c : float
        Mean of the year, half the swing between seasons, and half the swing within a day [degC].
    alcohol : float
        Share of alcohol in the fuel of its pump [1].
    """

    name: str
    zone: str
    height_m: float
    mean_c: float
    swing_c: float
    daily_c: float
    alcohol: float
    share: float


DEPOTS: Final[tuple[Depot, ...]] = (
    Depot(
        name="Brackwater",
        zone="America/Halifax",
        height_m=15.0,
        mean_c=8.0,
        swing_c=11.5,
        daily_c=4.0,
        alcohol=0.05,
        share=0.32,
    ),
    Depot(
        name="Ochre Flats",
        zone="America/Phoenix",
        height_m=340.0,
        mean_c=22.5,
        swing_c=10.5,
        daily_c=7.0,
        alcohol=0.1,
        share=0.25,
    ),
    Depot(
        name="Tarnhollow",
        zone="America/Denver",
        height_m=1640.0,
        mean_c=10.0,
        swing_c=12.0,
        daily_c=7.5,
        alcohol=0.1,
        share=0.23,
    ),
    Depot(
        name="Lindenford",
        zone="America/Winnipeg",
        height_m=235.0,
        mean_c=4.0,
        swing_c=17.0,
        daily_c=5.0,
        alcohol=0.07,
        share=0.2,
    ),
)

WEATHER_MEMORY: Final = 0.72
"""Share of a day's departure from the season that is left on the next day; chosen by us, mid-latitudes."""

BLENDS: Final = (0.0, 0.05, 0.1, 0.15)
"""Shares of alcohol on sale [1]."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Climate:
    """What a depot's days were like; arrays of shape (days,).

    Parameters
    ----------
    mean_c, half_c : array of shape (days,)
        Mean of the day and half its swing [degC].
    baro_kpa : array of shape (days,)
        Air pressure [kPa].
    alcohol : array of shape (days,)
        Share of alcohol the pump sells [1].
    winter : array of shape (days,)
        Share of winter fuel the pump sells [1].
    """

    mean_c: Floats
    half_c: Floats
    baro_kpa: Floats
    alcohol: Floats
    winter: Floats

    def air_c(self, day: NDArray[np.int64], hour: Floats) -> Floats:
        """Give the air's temperature [degC]; coldest at five, warmest in mid-afternoon."""
        swing = -np.cos((hour - 4.5) / 24.0 * 2.0 * np.pi)
        return np.asarray(self.mean_c[day] + self.half_c[day] * swing, dtype=np.float64)


def _wander(rng: np.random.Generator, days: int, spread: float, memory: float) -> Floats:
    pushes = rng.normal(0.0, spread * np.sqrt(1.0 - memory**2), days)
    found = np.empty(days)
    here = rng.normal(0.0, spread)
    for day, push in enumerate(pushes):
        here = memory * here + push
        found[day] = here
    return found


def pressure_at(height_m: float) -> float:
    """Give the standard atmosphere's pressure [kPa]."""
    return float(101.325 * (1.0 - 0.0065 * height_m / 288.15) ** 5.255876)


def make_climate(rng: np.random.Generator, depot: Depot, first: date, days: int) -> Climate:
    """Draw the weather and the fuel of a depot for each day."""
    year_day = np.array([(first + timedelta(days=day)).timetuple().tm_yday for day in range(days)])
    season = -np.cos((year_day - 20) / 365.25 * 2.0 * np.pi)
    mean = depot.mean_c + depot.swing_c * season + _wander(rng, days, 3.8, WEATHER_MEMORY)
    for start in rng.integers(0, days, 2 + days // 120):
        length = int(rng.integers(3, 9))
        mean[start : start + length] -= rng.uniform(4.0, 10.0) * (season[start] < 0.3)
    alcohol = np.full(days, depot.alcohol)
    if rng.random() < 0.25 and days > 200:
        change = int(rng.integers(60, days - 40))
        alcohol[change:] = rng.choice([blend for blend in BLENDS if 0.02 < abs(blend - depot.alcohol) < 0.06])
    return Climate(
        mean_c=mean,
        half_c=depot.daily_c * rng.uniform(0.5, 1.3, days),
        baro_kpa=pressure_at(depot.height_m) + _wander(rng, days, 0.75, 0.8),
        alcohol=alcohol,
        winter=np.clip(0.5 - 1.6 * season, 0.0, 1.0),
    )
