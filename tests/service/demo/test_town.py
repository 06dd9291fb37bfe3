"""The fictional town: air thins with height, seasons turn, nothing bears a real name."""

import numpy as np
import pytest

from service.demo.strengths import draw_strengths
from service.demo.town import DEPOTS, air_temperature, make_climate, standard_pressure_kpa


@pytest.mark.parametrize(
    ("height_m", "pressure_kpa"),
    [(0, 101.325), (500, 95.4608), (1000, 89.8746), (1500, 84.556), (3000, 70.1085)],
)
def test_pressure_follows_the_standard_atmosphere(height_m: float, pressure_kpa: float) -> None:
    """Pressure at a height is that of the US Standard Atmosphere 1976."""
    assert standard_pressure_kpa(height_m) == pytest.approx(pressure_kpa, abs=1e-3)


def test_higher_depots_are_colder_and_thinner() -> None:
    """The depot on the plateau has less pressure and less warmth than the one by the water."""
    rng = np.random.default_rng(1)
    climate = make_climate(rng, np.arange(1, 366), draw_strengths(rng))

    pressure, warmth = climate.pressure_kpa.mean(axis=1), climate.mean_c.mean(axis=1)

    assert np.all(np.diff(pressure) < -1)
    assert warmth[0] > warmth[-1] + 4


def test_summer_is_warm_and_the_afternoon_warmer() -> None:
    """July is warmer than January, three in the afternoon warmer than six in the morning."""
    rng = np.random.default_rng(2)
    climate = make_climate(rng, np.arange(1, 366), draw_strengths(rng))
    day = np.full(2, 190)

    dawn, afternoon = air_temperature(climate, np.zeros(2, int), day, np.array([6.0, 15.0]))

    assert climate.mean_c[:, 181:212].mean() > climate.mean_c[:, :31].mean() + 8
    assert afternoon > dawn + 3


def test_time_zones_name_no_place() -> None:
    """A fictional town borrows a clock, never the name of a real city."""
    assert all("/" not in depot.time_zone for depot in DEPOTS)
