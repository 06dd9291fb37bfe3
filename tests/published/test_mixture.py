"""What faults and fuels do to trim, against worked numbers."""

import numpy as np
import pytest

from models.mixture import (
    air_meter_trim,
    blend_stoichiometry,
    blend_trim_shift,
    pressure_trim,
    total_trim,
    unmetered_air_trim,
)
from models.physics import absolute_load


@pytest.mark.parametrize(
    ("share", "computed", "published"),
    [
        (0.05, 14.399, None),
        (0.10, 14.100, (14.08, 14.13)),
        (0.15, 13.803, (13.8, 13.8)),
        (0.20, 13.507, None),
        (0.85, 9.814, (9.7, 9.853)),
    ],
)
def test_blends(share: float, computed: float, published: tuple[float, float] | None) -> None:
    """E5 to E85 weighted by mass from 14.7 and 9.0; secondary pages weight differently."""
    ratio = float(blend_stoichiometry(share))

    assert ratio == pytest.approx(computed, abs=1e-3)
    if published is not None:
        low, high = published
        assert low - 0.035 <= ratio <= high + 0.035


def test_pure_fuels() -> None:
    """Ethanol needs 9.0 of air (Heywood D.4, from memory), gasoline 14.7 (the trade's figure)."""
    np.testing.assert_allclose(blend_stoichiometry([1.0, 0.0]), [9.0, 14.7])


@pytest.mark.parametrize(
    ("share", "mass", "orifice", "volume"), [(0.10, 4.26, 3.95, 3.64), (0.20, 8.83, 8.20, 7.56)]
)
def test_trim_shift_of_a_new_fuel(share: float, mass: float, orifice: float, volume: float) -> None:
    """E0 to E10 moves trim by +3.5..+4.3 % whichever way fuel is metered; E20 by twice that (computed)."""
    shifts = [float(blend_trim_shift(0.0, share, way)) for way in ("mass", "orifice", "volume")]

    np.testing.assert_allclose(shifts, [mass, orifice, volume], atol=5.1e-3)
    assert share > 0.10 or all(3.5 <= one <= 4.3 for one in shifts)


def test_wrong_fuel_leaves_every_adaptation() -> None:
    """E85 in place of gasoline asks for 43 to 50 % more fuel, beyond the usual +/-25 % of a controller."""
    shifts = [float(blend_trim_shift(0.0, 0.85, way)) for way in ("volume", "orifice", "mass")]

    assert 41 < shifts[0] < shifts[1] < shifts[2] < 51


def test_trims_multiply() -> None:
    """Short +5 and long +10 make 15.5 %, -5 and +20 make 14.0 %; adding them says 15 both times."""
    np.testing.assert_allclose(total_trim([5.0, -5.0], [10.0, 20.0]), [15.5, 14.0])


def test_unmetered_air_fades_with_flow() -> None:
    """0.40 g/s past the meter: +13.33 % at 3.0 g/s, +3.33 % at 12 g/s (mass balance)."""
    np.testing.assert_allclose(unmetered_air_trim(0.40, [3.0, 12.0]), [13.33, 3.33], atol=5e-3)


def test_low_air_meter_is_the_same_everywhere() -> None:
    """Gains .95 .90 .85 1.05 give +5.263 +11.111 +17.647 -4.762 % at every flow."""
    np.testing.assert_allclose(
        air_meter_trim([0.95, 0.90, 0.85, 1.05]), [5.263, 11.111, 17.647, -4.762], atol=5e-4
    )


def test_low_air_meter_lowers_shown_load() -> None:
    """At a gain of 0.9 a full-throttle LOAD_ABS of 88 % shows as 79 %."""
    flow = 88.0 / 100.0 * 59.20

    assert float(absolute_load(0.9 * flow, 3000.0, 2.0)) == pytest.approx(79.2, abs=0.01)


def test_pressure_goes_with_the_root() -> None:
    """Pressure ratios .95 .90 .81 .64 give +2.598 +5.409 +11.111 +25.0 % (Bernoulli)."""
    np.testing.assert_allclose(
        pressure_trim([0.95, 0.90, 0.81, 0.64]), [2.598, 5.409, 11.111, 25.0], atol=5e-4
    )


def test_equal_steady_trims_cannot_be_split() -> None:
    """A meter at 0.90 and a pressure at 0.81 ask for the same +11.11 %; only the shown air differs."""
    assert float(air_meter_trim(0.90)) == pytest.approx(float(pressure_trim(0.81)), abs=1e-9)

    true_air = 30.0
    shown = [float(absolute_load(gain * true_air, 2500.0, 2.0)) for gain in (0.90, 1.0)]
    assert shown[0] / shown[1] == pytest.approx(0.90)
