"""Pressure at altitude against the standard atmosphere and a second printed table."""

import numpy as np
import pytest

from models.physics import standard_pressure

FOOT_M = 0.3048


@pytest.mark.parametrize(
    ("altitude", "pascal", "byte"),
    [
        (500.0, 95_460.8, 95),
        (1000.0, 89_874.6, 90),
        (1500.0, 84_556.0, 85),
        (1609.344, 83_427.6, 83),
        (2000.0, 79_495.2, 79),
        (3000.0, 70_108.5, 70),
    ],
)
def test_standard_atmosphere(altitude: float, pascal: float, byte: int) -> None:
    """US Standard Atmosphere 1976 at geopotential heights, in pascal and as the BARO byte shows it."""
    pressure = float(standard_pressure(altitude))

    assert 1000.0 * pressure == pytest.approx(pascal, abs=0.06)
    assert round(pressure) == byte


def test_second_form_of_the_formula() -> None:
    """The same atmosphere printed as p0 (1 - h / 44329)^5.255876 agrees within 0.01 %."""
    height = np.array([500.0, 1500.0, 3000.0])

    np.testing.assert_allclose(
        standard_pressure(height), 101.325 * (1.0 - height / 44_329.0) ** 5.255876, rtol=1e-4
    )


def test_thousand_metres_geometric() -> None:
    """The printed 898.76 mb (from memory) is for 1,000 m geometric, which is 999.84 m geopotential."""
    geopotential = 6_356_766.0 * 1000.0 / (6_356_766.0 + 1000.0)

    assert 10.0 * float(standard_pressure(geopotential)) == pytest.approx(898.76, abs=0.005)


@pytest.mark.parametrize(("feet", "printed"), [(1000, 97_733), (5000, 84_323), (10_000, 69_692)])
def test_engineering_table_in_feet(feet: int, printed: float) -> None:
    """An engineering table rounded to psi agrees within 0.02 %."""
    assert 1000.0 * float(standard_pressure(feet * FOOT_M)) == pytest.approx(printed, rel=2e-4)


def test_test_program_floor_is_an_altitude() -> None:
    """The J1699-3 test program's least BARO, 71 kPa, is 2,900 m: higher fleets need a wider bound."""
    assert float(standard_pressure(2900.0)) == pytest.approx(71.0, abs=0.1)
