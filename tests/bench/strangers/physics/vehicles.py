"""What differs between sound vehicles, and what changes in them from day to day."""

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from tests.bench.strangers.physics.engine import Floats
from tests.bench.strangers.physics.sheets import FRICTION, SHEETS
from tests.bench.strangers.physics.weather import DEPOTS, at_depot, with_memory

Columns = dict[str, Any]
"""Arrays by name."""

_HOMES: Final = (0.3, 0.2, 0.3, 0.2)
"""Shares of vehicles by depot."""


def draw_vehicles(rng: np.random.Generator, count: int, days: int) -> tuple[Columns, NDArray[np.int64]]:
    """Draw what differs between sound vehicles.

    Returns
    -------
    dict of str to array of shape (V,), int array of shape (V, days)
        Constants by name; the depot that each vehicle stands in.
    """
    sheet = np.arange(count) % len(SHEETS)
    rng.shuffle(sheet)

    def of(key: str) -> Any:
        return np.array([SHEETS[place][key] for place in sheet])

    def spread(sd: float, mean: float = 0.0) -> Any:
        return mean + sd * rng.standard_normal(count)

    own: Columns = {
        "sheet": sheet, "disp": of("disp"), "cyl": of("cyl"), "has_maf": of("maf"), "bypass": of("bypass"),
        "commanded": of("commanded"), "rpm_idle": of("rpm") + spread(8), "tstat": of("tstat") + spread(1.3),
        "v_set": of("v") + spread(0.08), "alt_amps": of("alt") * (1 + spread(0.05)),
        "k_th": of("k_th") * (1 + spread(0.055)), "m_idle": of("m_idle"), "m_cruise": of("m_cruise"),
        "inj_rate": of("inj"), "ac_kw": of("ac_kw"), "banks": of("banks"),
        "m_fric": FRICTION * (1 + spread(0.05)), "ve_off": spread(0.010), "maf_off": spread(0.010),
        "leak0": of("m_idle") * np.abs(spread(0.010)), "inj1": spread(0.013), "inj2": spread(0.008),
        "amps": spread(3, 27), "batt_r": 0.0078 * (1 + spread(0.08)), "ocv": spread(0.04),
        "feed": np.abs(spread(0.002, 0.005)), "ect0": spread(0.8), "iat0": spread(0.9), "map0": spread(0.6),
        "wear": np.abs(spread(0.012, 0.015)), "batt_age": np.abs(spread(0.05, 0.08)),
        "use": np.exp(spread(0.3)), "km": np.exp(spread(0.35, np.log(85))),
        "odo": rng.uniform(8e3, 19e4, count), "bump": rng.uniform(0.85, 1.15, count),
    }  # fmt: skip
    own["inj2"] += own["inj1"]
    home = rng.choice(4, count, p=_HOMES)
    depot = np.repeat(home[:, None], days, 1)
    for vehicle in rng.choice(
        count, max(count // 22, 1), replace=False
    ):  # moved; the register knows the last
        other = rng.choice([place for place in range(4) if place != home[vehicle]])
        depot[vehicle, int(rng.integers(60, days - 20)) :] = other
    return own, depot


def _tanks(rng: np.random.Generator, sold: Floats) -> Floats:
    """Mix what is sold into the tanks, a share of the tank a day; array of shape (V, days)."""
    tank = sold.copy()
    fill = rng.uniform(0.2, 0.5, len(sold))
    for day in range(1, sold.shape[1]):
        tank[:, day] = tank[:, day - 1] + fill * (sold[:, day] - tank[:, day - 1])
    return tank


def _mixture(rng: np.random.Generator, winter: Floats) -> list[Floats]:
    """Draw what fuel and air are off by, at idle and at cruise [1]; arrays of shape (V, days)."""
    shape = (winter.shape[0], winter.shape[1])
    count, days = shape
    common = with_memory(rng, shape, 0.38, 0.0095)
    idle = common + with_memory(rng, shape, 0.3, 0.0065) + 0.008 * winter
    cruise = common + with_memory(rng, shape, 0.35, 0.008) + 0.006 * winter
    odd = (rng.random(shape) < 0.012) * rng.standard_normal(shape) * 0.04
    for vehicle in range(count):
        for _ in range(rng.poisson(0.25 * days / 365)):  # bad tanks
            day = int(rng.integers(0, days))
            odd[vehicle, day : day + int(rng.integers(3, 9))] += rng.choice([-1, 1]) * rng.uniform(0.03, 0.08)
    return [idle + odd, cruise + odd]


def _in_use(rng: np.random.Generator, count: int, days: int) -> NDArray[np.bool_]:
    """Draw the days on which vehicles send anything; array of shape (V, days)."""
    use = rng.random((count, days)) < np.where((np.arange(days) % 7 < 5), 0.9, 0.45)
    for vehicle in np.flatnonzero(rng.random(count) < 0.15):  # weeks without a reading
        day = int(rng.integers(0, days - 20))
        use[vehicle, day : day + int(rng.integers(14, 43))] = False
    for vehicle in np.flatnonzero(rng.random(count) < 0.05):  # joined late
        use[vehicle, : int(rng.integers(20, 70))] = False
    return use


def draw_days(rng: np.random.Generator, depot: NDArray[np.int64], weather: tuple[Floats, ...]) -> Columns:
    """Draw what changes from day to day in sound vehicles; arrays of shape (V, days) by name."""
    count, days = depot.shape
    shape = (count, days)
    temperature, pressure, sold, winter = (at_depot(part, depot) for part in weather)
    tanks = _tanks(rng, sold)
    mix = _mixture(rng, winter)
    # The air that a leaking thermostat is sized for lies between the year's mean and the season's.
    year = np.array([place.mean for place in DEPOTS])[:, None]
    season = np.array(
        [np.convolve(np.pad(part, 20, mode="edge"), np.ones(41) / 41, "valid") for part in weather[0]]
    )
    return {
        "t": temperature,
        "t_ref": at_depot(year + 0.6 * (season - year), depot),
        "baro": pressure,
        "eth": tanks,
        "mix": mix,
        "use": _in_use(rng, count, days),
        "demand": with_memory(rng, shape, 0.2, 1.0),
        "volt": with_memory(rng, shape, 0.25, 0.055),
        "ocv": with_memory(rng, shape, 0.3, 0.045),
        "elec": with_memory(rng, shape, 0.3, 1.0),
        "crank": with_memory(rng, shape, 0.2, 0.08),
    }
