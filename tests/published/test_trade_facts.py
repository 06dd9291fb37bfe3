"""Trade facts that our sums must not contradict: common practice, no published source, unless said."""

import numpy as np
import pytest

from models.physics import speed_density_flow
from models.statistics.trend import mann_kendall


@pytest.mark.parametrize("litres", [1.2, 2.0, 3.5])
def test_idle_air_is_about_the_displacement(litres: float) -> None:
    """Common practice: warm idle MAF in g/s is about the displacement in litres, give or take half."""
    flow = float(speed_density_flow(35.0, 30.0, 750.0, litres, 0.60))

    assert 0.5 * litres <= flow <= 1.51 * litres


def test_one_map_count_at_idle() -> None:
    """One MAP count at a 35 kPa idle is 2.86 % of air mass: no idle trend is finer than that (computed)."""
    one, next_one = speed_density_flow([35.0, 36.0], 30.0, 750.0, 2.0, 0.6)

    assert 100.0 * (next_one / one - 1.0) == pytest.approx(2.86, abs=5e-3)


def test_relearned_trim_of_one_vehicle_is_judged_with_its_memory() -> None:
    """Measured lag-1 of 0.54 between idle recordings leaves less than half of Mann-Kendall's Z squared."""
    rise = np.linspace(0.0, 2.0, 60) + np.random.default_rng(1).normal(0.0, 1.4, 60)

    plain = mann_kendall(np.arange(60), rise)
    honest = mann_kendall(np.arange(60), rise, correlation=0.54)

    assert float(honest.z[0]) ** 2 < 0.5 * float(plain.z[0]) ** 2
