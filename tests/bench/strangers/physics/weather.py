"""Depots, and what weather and fuel they have day by day."""

from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


class Depot(NamedTuple):
    """A place: temperatures in degC, the day of the year that is hottest."""

    name: str
    zone: str
    altitude_m: int
    mean: float
    swing: float
    day_swing: float
    hottest: int


DEPOTS: Final = (
    Depot("Kettle Bay", "America/Halifax", 20, 7.5, 11, 4.0, 205),
    Depot("Highmoor", "America/Denver", 1150, 10, 12, 7.5, 200),
    Depot("Lakefield", "America/Chicago", 190, 10.5, 14, 5.0, 200),
    Depot("Saltpan", "America/Phoenix", 340, 23, 10, 7.0, 198),
)


def with_memory(rng: np.random.Generator, shape: tuple[int, int], phi: float, sd: float) -> Floats:
    """Draw rows of stationary noise with a correlation from one day to the next."""
    z = rng.standard_normal(shape) * sd
    for day in range(1, shape[1]):
        z[:, day] = phi * z[:, day - 1] + np.sqrt(1 - phi**2) * z[:, day]
    return z


def _ethanol(rng: np.random.Generator, days: int) -> Floats:
    """Draw the share of ethanol sold, with changes that move trims by two to four percent each."""
    share = np.zeros(days)
    level = rng.choice([0.05, 0.08, 0.10])
    share[:] = level
    day = int(rng.integers(30, 150))
    while day < days:
        step = rng.uniform(0.045, 0.078)
        up = level - step < 0.01 or (level + step < 0.17 and rng.random() < 0.5)
        level = level + step if up else level - step
        share[day:] = level
        day += int(rng.integers(90, 210))
    return share


def draw_weather(rng: np.random.Generator, day_of_year: NDArray[np.int64]) -> tuple[Floats, ...]:
    """Draw the weather of all depots.

    Returns
    -------
    tuple of float arrays of shape (depots, days)
        Mean temperature [degC], pressure [kPa], share of ethanol sold, share of winter fuel.
    """
    days = len(day_of_year)
    shape = (len(DEPOTS), days)
    temperature, pressure, ethanol, winter = (np.zeros(shape) for _ in range(4))
    for place, depot in enumerate(DEPOTS):
        season = np.cos(2 * np.pi * (day_of_year - depot.hottest) / 365.25)
        temperature[place] = depot.mean + depot.swing * season + with_memory(rng, (1, days), 0.75, 3.2)[0]
        for _ in range(rng.poisson(2.5 * days / 365)):  # cold snaps, in the colder half
            day = int(rng.integers(0, days))
            if season[day] < 0:
                temperature[place, day : day + rng.integers(4, 10)] -= rng.uniform(7, 13)
        for _ in range(rng.poisson(1.5 * days / 365)):  # heat waves
            day = int(rng.integers(0, days))
            if season[day] > 0:
                temperature[place, day : day + rng.integers(4, 9)] += rng.uniform(4, 8)
        standard = 101.325 * (1 - 0.0065 * depot.altitude_m / 288.15) ** 5.2559
        pressure[place] = standard + with_memory(rng, (1, days), 0.7, 0.7)[0]
        ethanol[place] = _ethanol(rng, days)
        winter[place] = np.clip(-season * 3 - 0.6, 0, 1)
    return temperature, pressure, ethanol, winter


def at_depot(values: Any, depot: NDArray[np.int64]) -> Any:
    """Give what vehicles met day by day, from what each depot met; `depot` has shape (V, days)."""
    return values[depot, np.arange(depot.shape[1])]
