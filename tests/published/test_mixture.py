"""What faults and fuels do to trim, against worked numbers."""

import numpy as np
import pytest

from models.telling.mixture import (
    blend_stoichiometry,
    blend_trim_shift,
)


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
