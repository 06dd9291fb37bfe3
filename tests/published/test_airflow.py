"""Speed-density and LOAD_ABS against worked numbers."""

import pytest

from models.physics import (
    LOAD_AIR_DENSITY,
    absolute_load,
    air_density,
    filling_from_flow,
    speed_density_flow,
)


def test_speed_density_at_idle() -> None:
    """35 kPa, 30 degC, 750/min, 2.0 L, VE 0.60: 3.01658 g/s, LOAD_ABS 20.3823 % (Heywood 2.10)."""
    flow = float(speed_density_flow(35.0, 30.0, 750.0, 2.0, 0.60))

    assert float(air_density(35.0, 30.0)) == pytest.approx(0.402210, abs=5e-7)
    assert flow == pytest.approx(3.01658, abs=5e-6)
    assert float(absolute_load(flow, 750.0, 2.0)) == pytest.approx(20.3823, abs=5e-5)


def test_speed_density_at_load() -> None:
    """100 kPa, 25 degC, 3000/min, 2.0 L, VE 0.85: 1.168443 g/L, 49.65884 g/s, LOAD_ABS 83.8832 %."""
    flow = float(speed_density_flow(100.0, 25.0, 3000.0, 2.0, 0.85))

    assert float(air_density(100.0, 25.0)) == pytest.approx(1.168443, abs=5e-7)
    assert flow == pytest.approx(49.65884, abs=5e-6)
    assert float(absolute_load(flow, 3000.0, 2.0)) == pytest.approx(83.8832, abs=5e-5)


def test_filling_from_measured_air() -> None:
    """3.00 g/s at 750/min, 2.0 L, 35 kPa, 30 degC is a volumetric efficiency of 0.596703."""
    assert float(filling_from_flow(3.0, 35.0, 30.0, 750.0, 2.0)) == pytest.approx(0.596703, abs=5e-7)


def test_density_of_the_load_definition() -> None:
    """J1979's 1.184 g/L is dry air at 25 degC and 101.325 kPa: 1.183925 computed."""
    assert float(air_density(101.325, 25.0)) == pytest.approx(1.183925, abs=5e-7)
    assert pytest.approx(float(air_density(101.325, 25.0)), abs=5e-4) == LOAD_AIR_DENSITY


def test_load_abs_worked_example() -> None:
    """3.00 g/s, 750/min, 2.0 L is 20.2703 %, raw 52; 59.20 g/s at 3000/min is 100 % (J1979 definition)."""
    load = float(absolute_load(3.0, 750.0, 2.0))

    assert load == pytest.approx(20.2703, abs=5e-5)
    assert round(load * 255 / 100) == 52
    assert float(absolute_load(59.20, 3000.0, 2.0)) == pytest.approx(100.0, abs=5e-3)


@pytest.mark.parametrize("cylinders", [3, 4, 6, 8])
def test_cylinder_count_trap(cylinders: int) -> None:
    """Air of one cylinder over the displacement of one cylinder: the count must cancel, not divide."""
    per_stroke = 3.0 * 120.0 / 750.0 / cylinders
    standard = 100.0 * per_stroke / (LOAD_AIR_DENSITY * 2.0 / cylinders)
    trap = 100.0 * per_stroke / (LOAD_AIR_DENSITY * 2.0)

    ours = float(absolute_load(3.0, 750.0, 2.0))

    assert ours == pytest.approx(standard, rel=1e-12)
    assert ours == pytest.approx(cylinders * trap, rel=1e-12)
