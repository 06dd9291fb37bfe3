"""EWMA and CUSUM recursions."""

import numpy as np
import pytest

from models.errors import OutOfRangeError
from models.statistics.charts import cusum, ewma, ewma_reach


def test_gaps_leave_the_memory() -> None:
    """A missing reading changes neither sum, count nor smoothed value."""
    values = [1.0, np.nan, np.nan, 2.0]

    np.testing.assert_allclose(ewma(values, 0.5), [0.5, 0.5, 0.5, 1.25])
    sums = cusum(values, 0.25)
    np.testing.assert_allclose(sums.high, [0.75, 0.75, 0.75, 2.5])
    np.testing.assert_array_equal(sums.run_high, [1, 1, 1, 2])


def test_a_repair_clears_the_memory() -> None:
    """Where the memory is cleared the sums start anew with that reading."""
    restart = np.array([False, False, True, False])

    sums = cusum([2.0, 2.0, 2.0, 2.0], 0.5, restart=restart)

    np.testing.assert_allclose(sums.high, [1.5, 3.0, 1.5, 3.0])
    np.testing.assert_array_equal(sums.run_high, [1, 2, 1, 2])


def test_rise_and_fall_mirror() -> None:
    """Negated readings swap the two sums."""
    values = np.random.default_rng(0).normal(size=(3, 50))

    rise, fall = cusum(values, 0.4), cusum(-values, 0.4)

    np.testing.assert_array_equal(rise.high, fall.low)
    np.testing.assert_array_equal(rise.run_low, fall.run_high)


def test_ewma_goes_on_from_a_state() -> None:
    """Walking in two pieces gives what one walk gives."""
    values = np.random.default_rng(1).normal(size=(2, 30))
    whole = ewma(values, 0.1, target=1.0)

    first = ewma(values[:, :10], 0.1, target=1.0)
    second = ewma(values[:, 10:], 0.1, start=first[:, -1])

    np.testing.assert_array_equal(np.hstack([first, second]), whole)


def test_each_series_has_its_own_target() -> None:
    """A target for each row shifts that row alone."""
    values = np.zeros((2, 3))

    np.testing.assert_allclose(cusum(values, 0.5, target=[0.0, -1.0]).high[:, -1], [0.0, 1.5])


def test_limits_widen_to_the_asymptote() -> None:
    """Limits from the first reading on approach the fixed one from below."""
    reach = ewma_reach(0.2, 3.0, count=np.arange(1, 60))

    assert np.all(np.diff(reach) >= 0.0)
    assert float(reach[-1]) == pytest.approx(float(ewma_reach(0.2, 3.0)), rel=1e-9)
    assert float(reach[0]) == pytest.approx(0.6)


def test_charts_refuse() -> None:
    """A weight outside 0..1, a negative slack or head start and a width of zero are refused."""
    for weight in (0.0, 1.5):
        with pytest.raises(OutOfRangeError, match="weight"):
            ewma([1.0], weight)
    with pytest.raises(OutOfRangeError, match="width"):
        ewma_reach(0.1, 0.0)
    with pytest.raises(OutOfRangeError, match="reference"):
        cusum([1.0], -0.1)
    with pytest.raises(OutOfRangeError, match="start"):
        cusum([1.0], 0.1, start=-1.0)
