"""The list that every numeric method over series must pass, whatever it computes."""

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from models.errors import ShapeError
from models.statistics.charts import cusum, ewma
from models.statistics.multiple import conformal_p_within
from models.statistics.robust import mad_sigma, middle
from models.statistics.serial import autocorrelation, robust_autocorrelation
from models.statistics.trend import fit_line, mann_kendall, sen_trend

Floats = NDArray[np.float64]
Method = Callable[[Floats], Floats]


def _days(values: Floats) -> Floats:
    return np.arange(values.shape[-1], dtype=np.float64)


SERIES: dict[str, Method] = {
    "middle": middle,
    "mad_sigma": mad_sigma,
    "sen_trend": lambda values: sen_trend(_days(values), values).slope,
    "mann_kendall": lambda values: mann_kendall(_days(values), values).z,
    "autocorrelation": autocorrelation,
    "robust_autocorrelation": robust_autocorrelation,
    "ewma": lambda values: ewma(values, 0.2),
    "cusum": lambda values: cusum(values, 0.5).high,
}
"""Every method over one series or many as rows."""

WITH_UNIT = ("middle", "mad_sigma", "sen_trend", "ewma")
"""Answers in the unit of the values."""

WITHOUT_UNIT = ("mann_kendall", "autocorrelation", "robust_autocorrelation")
"""Pure numbers."""


@pytest.fixture
def noise() -> Floats:
    """Two rows of forty readings with gaps."""
    values = np.random.default_rng(0).normal(3.0, 1.0, (2, 40)).cumsum(axis=1) * 0.1
    values[0, 5] = values[1, 30:33] = np.nan
    return values


@pytest.mark.parametrize("name", SERIES)
def test_rows_are_judged_alone(name: str, noise: Floats) -> None:
    """Many series at once give what each gives alone."""
    together = SERIES[name](noise)

    for row in range(2):
        np.testing.assert_array_equal(together[row], np.squeeze(SERIES[name](noise[row])))


@pytest.mark.parametrize("name", SERIES)
def test_input_untouched(name: str, noise: Floats) -> None:
    """No method writes to the caller's array."""
    before = noise.copy()

    SERIES[name](noise)

    np.testing.assert_array_equal(noise, before)


@pytest.mark.parametrize("name", SERIES)
def test_same_input_same_answer(name: str, noise: Floats) -> None:
    """Asking twice changes nothing."""
    np.testing.assert_array_equal(SERIES[name](noise), SERIES[name](noise))


@pytest.mark.parametrize("length", [0, 1])
@pytest.mark.parametrize("name", SERIES)
def test_empty_and_single(name: str, length: int) -> None:
    """No reading, or one, gives an answer of the right shape and never a number made of nothing."""
    answer = SERIES[name](np.full((3, length), 7.0))

    assert answer.shape[0] == 3
    if name in ("sen_trend", "mann_kendall", "autocorrelation", "robust_autocorrelation"):
        assert np.isnan(answer).all()


@pytest.mark.parametrize("name", SERIES)
def test_all_missing(name: str) -> None:
    """A series of gaps says nothing: NaN, or a chart's memory as it was."""
    answer = SERIES[name](np.full((2, 12), np.nan))

    assert np.all(np.isnan(answer) | (answer == 0.0))


@pytest.mark.parametrize("name", SERIES)
def test_infinite_counts_as_missing(name: str, noise: Floats) -> None:
    """An infinite reading is a gap, not a number."""
    infinite = np.where(np.isnan(noise), np.inf, noise)

    np.testing.assert_array_equal(SERIES[name](infinite), SERIES[name](noise))


@pytest.mark.parametrize("name", SERIES)
def test_constant(name: str) -> None:
    """A constant series has no spread, no slope and no trend."""
    answer = SERIES[name](np.full((1, 20), 4.0))

    assert not np.isinf(answer).any()
    if name in ("mad_sigma", "sen_trend", "mann_kendall"):
        assert np.all(answer == 0.0)
    if name in ("autocorrelation", "robust_autocorrelation"):
        assert np.isnan(answer).all()


@pytest.mark.parametrize("name", WITH_UNIT)
def test_another_unit_scales(name: str, noise: Floats) -> None:
    """Millivolts for volts gives a thousand times the number."""
    np.testing.assert_allclose(SERIES[name](1000.0 * noise), 1000.0 * SERIES[name](noise), rtol=1e-9)


@pytest.mark.parametrize("name", WITHOUT_UNIT)
def test_pure_numbers_do_not_scale(name: str, noise: Floats) -> None:
    """Degrees Fahrenheit for Celsius changes no score, no correlation and no test."""
    np.testing.assert_allclose(SERIES[name](1.8 * noise + 32.0), SERIES[name](noise), atol=1e-9)


@pytest.mark.parametrize("name", ["middle", "mad_sigma", "sen_trend", "mann_kendall"])
def test_one_wild_reading_moves_little(name: str, noise: Floats) -> None:
    """One reading a million away leaves a rank method where it was, within a fifth of its spread."""
    wild = noise.copy()
    wild[:, 20] = 1e6
    calm, moved = SERIES[name](noise), SERIES[name](wild)

    np.testing.assert_allclose(moved, calm, atol=0.25 * float(np.nanmax(np.abs(calm))))


@pytest.mark.parametrize("seed", range(3))
def test_order_of_time_does_not_matter(seed: int, noise: Floats) -> None:
    """Readings handed over in another order, with their times, give the same line and the same test."""
    order = np.random.default_rng(seed).permutation(40)
    days = np.arange(40.0)

    for method in (
        lambda t, v: sen_trend(t, v).low,
        lambda t, v: mann_kendall(t, v).z,
        lambda t, v: np.array([fit_line(t, v[0], correlation=None).slope_error]),
    ):
        np.testing.assert_allclose(method(days[order], noise[:, order]), method(days, noise), rtol=1e-12)


@pytest.mark.parametrize("name", SERIES)
def test_three_axes_are_refused(name: str) -> None:
    """An array of three axes is a mistake of the caller, and the message says what is allowed."""
    with pytest.raises(ShapeError, match="one axis"):
        SERIES[name](np.zeros((2, 2, 2)))


def test_ranks_within_a_group_do_not_need_an_order() -> None:
    """Shuffled rows get shuffled p-values."""
    scores = np.random.default_rng(2).normal(size=30)
    order = np.random.default_rng(3).permutation(30)

    np.testing.assert_array_equal(conformal_p_within(scores)[order], conformal_p_within(scores[order]))
