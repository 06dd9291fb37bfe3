"""Trade facts that our sums must not contradict: common practice, no published source, unless said."""

import numpy as np
import pytest

from models.mixture import air_meter_trim, pressure_trim, unmetered_air_trim
from models.physics import speed_density_flow
from models.robust import clip_to_neighbours, half_step, mad_sigma
from models.trend import mann_kendall

TRIM_STEP = 100.0 / 128.0
"""One count of a fuel trim, SAE J1979 [%]."""


@pytest.mark.parametrize("litres", [1.2, 2.0, 3.5])
def test_idle_air_is_about_the_displacement(litres: float) -> None:
    """Common practice: warm idle MAF in g/s is about the displacement in litres, give or take half."""
    flow = float(speed_density_flow(35.0, 30.0, 750.0, litres, 0.60))

    assert 0.5 * litres <= flow <= 1.51 * litres


def test_high_at_idle_normal_at_cruise_is_unmetered_air() -> None:
    """Published, secondary: a leak past the meter shows at idle and fades; the other causes do not fade."""
    idle, cruise = unmetered_air_trim(0.3, [3.0, 15.0])

    assert idle > 8.0
    assert cruise < 0.25 * idle
    assert float(air_meter_trim(0.9)) > 8.0
    assert float(pressure_trim(0.81)) > 8.0


def test_one_count_is_no_trend() -> None:
    """Quantisation: one trim count of change half way through is within half a step's floor of doubt."""
    trim = np.repeat([0.0, TRIM_STEP], 15)

    floor = half_step(TRIM_STEP)
    sigma = float(mad_sigma(trim - np.median(trim), floor=floor))

    assert sigma >= floor
    assert TRIM_STEP / sigma < 2.5


def test_one_map_count_at_idle() -> None:
    """One MAP count at a 35 kPa idle is 2.86 % of air mass: no idle trend is finer than that (computed)."""
    one, next_one = speed_density_flow([35.0, 36.0], 30.0, 750.0, 2.0, 0.6)

    assert 100.0 * (next_one / one - 1.0) == pytest.approx(2.86, abs=5e-3)


def test_wild_but_healthy_recordings() -> None:
    """Measured on a healthy car: recordings at -7.8 and +6.3 among sd 1.4; neither may lead a chart."""
    rng = np.random.default_rng(5)
    trims = rng.normal(-1.0, 1.4, 73)
    trims[[20, 50]] = [-7.8, 6.3]

    clipped = clip_to_neighbours(trims, mad_sigma(trims))

    assert float(np.abs(clipped + 1.0).max()) < 2.5 * 1.4 + 2.5
    assert float(mad_sigma(trims)) == pytest.approx(1.4, abs=0.4)


def test_relearned_trim_of_one_vehicle_is_judged_with_its_memory() -> None:
    """Measured lag-1 of 0.54 between idle recordings leaves less than half of Mann-Kendall's Z squared."""
    rise = np.linspace(0.0, 2.0, 60) + np.random.default_rng(1).normal(0.0, 1.4, 60)

    plain = mann_kendall(np.arange(60), rise)
    honest = mann_kendall(np.arange(60), rise, correlation=0.54)

    assert float(honest.z[0]) ** 2 < 0.5 * float(plain.z[0]) ** 2
