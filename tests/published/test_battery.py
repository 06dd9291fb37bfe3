"""Lead-acid voltage: the charge table, its interpolation, and slopes with temperature."""

import numpy as np
import pytest

from models.physics import resting_charge
from models.statistics.trend import fit_line, sen_trend

REGULATED_AMBIENT = [-20.0, 20.0, 60.0, 80.0]
REGULATED_LOW = [14.0, 13.7, 13.2, 12.9]
REGULATED_HIGH = [15.1, 14.6, 14.3, 14.1]
"""Regulated voltage against ambient at the regulator: a 2018 passenger-car service specification."""


@pytest.mark.parametrize(
    ("voltage", "charge"), [(12.65, 100), (12.45, 75), (12.24, 50), (12.06, 25), (11.89, 0)]
)
def test_charge_table(voltage: float, charge: float) -> None:
    """The rested, flooded battery's five points at 26.7 degC (credited to the Battery Council)."""
    assert float(resting_charge(voltage)[1]) == pytest.approx(charge)


@pytest.mark.parametrize(("voltage", "charge"), [(12.35, 63.10), (12.55, 87.5), (12.00, 16.18)])
def test_charge_between_the_points(voltage: float, charge: float) -> None:
    """Linear interpolation: 12.35 V is 63.10 %, 12.55 V 87.5 %, 12.00 V 16.18 %."""
    assert float(resting_charge(voltage)[1]) == pytest.approx(charge, abs=5e-3)


@pytest.mark.parametrize(
    ("voltage", "other_table"), [(12.66, 100), (12.4, 75), (12.30, 50), (12.0, 25), (12.15, 25)]
)
def test_other_tables_lie_inside_the_band(voltage: float, other_table: float) -> None:
    """Other published tables differ by up to 0.1 V; their points lie inside the band that we give."""
    low, _, high = resting_charge(voltage)

    assert float(low) - 1e-9 <= other_table <= float(high) + 1e-9


def test_fully_charged_rests_near_12_6() -> None:
    """Common practice, no source: about 12.6 V at rest means fully charged; our band reaches 100 % there."""
    low, _, high = resting_charge(12.6)

    assert float(high) == 100.0
    assert float(low) > 75.0


def test_regulators_lose_ten_millivolts_a_degree() -> None:
    """The published band's middle falls by 10.4 mV / degC: not the -18..-30 of a charger."""
    middle = (np.array(REGULATED_LOW) + np.array(REGULATED_HIGH)) / 2

    fit = fit_line(REGULATED_AMBIENT, middle)

    assert 1000.0 * fit.slope == pytest.approx(-10.4, abs=0.05)
    assert -18.0 < 1000.0 * float(sen_trend(REGULATED_AMBIENT, middle).slope[0]) < -9.0


def test_chargers_follow_another_slope() -> None:
    """A charger compensates -3 mV / degC per cell: 14.4 V at 25 degC is 15.21 at -20, 13.77 at 60 degC."""
    at = np.array([-20.0, 0.0, 10.0, 40.0, 60.0])

    volts = 14.4 - 0.018 * (at - 25.0)
    fit = fit_line(at, volts)

    np.testing.assert_allclose(volts, [15.21, 14.85, 14.67, 14.13, 13.77])
    assert 1000.0 * fit.slope == pytest.approx(-18.0)
