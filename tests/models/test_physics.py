"""Air, leaks and batteries: edges and refusals; the numbers stand among the published checks."""

import numpy as np
import pytest

from models.errors import OutOfRangeError
from models.physics import absolute_load, filling_from_flow, resting_charge, standard_pressure
from models.telling.mixture import (
    blend_stoichiometry,
    blend_trim_shift,
)


def test_missing_stays_missing() -> None:
    """NaN in, NaN out, in every function of air and mixture."""
    nan = float("nan")

    answers = [
        standard_pressure(nan), absolute_load(nan, 750, 2), blend_stoichiometry(nan),
        blend_trim_shift(0.0, nan), *resting_charge(nan),
    ]  # fmt: skip

    assert all(np.isnan(answer) for answer in answers)


def test_standing_engine_has_no_load() -> None:
    """Without speed or pressure there is nothing to divide by."""
    assert np.isnan(absolute_load(3.0, 0.0, 2.0))
    assert np.isnan(filling_from_flow(3.0, 0.0, 20.0, 700.0, 2.0))


def test_pressure_falls_with_height() -> None:
    """Higher is thinner, all the way up."""
    assert np.all(np.diff(standard_pressure(np.linspace(-400, 11_000, 50))) < 0)


def test_filling_undoes_a_low_meter() -> None:
    """A meter that shows 90 % makes the engine's filling look 10 % low: what tells it from low pressure."""
    sound, low = filling_from_flow([3.0, 2.7], 35.0, 30.0, 750.0, 2.0)

    assert low / sound == pytest.approx(0.9)


def test_charge_is_a_band_inside_0_100() -> None:
    """The band holds its middle, stays inside 0..100 and widens nothing at the ends."""
    low, middle, high = resting_charge(np.linspace(11.0, 13.5, 26))

    assert np.all((low <= middle) & (middle <= high))
    assert low.min() == 0.0
    assert high.max() == 100.0
    assert np.all(np.diff(middle) >= 0)


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: standard_pressure(20_000.0), "altitude_m"),
        (lambda: blend_stoichiometry(85.0), "ethanol_share"),
        (lambda: blend_trim_shift(0.0, 0.1, "weight"), "metering"),  # type: ignore[arg-type]
    ],
)
def test_out_of_range(call: object, name: str) -> None:
    """A height above the troposphere, a percentage for a share and an unknown metering are refused."""
    assert callable(call)
    with pytest.raises(OutOfRangeError, match=name):
        call()
