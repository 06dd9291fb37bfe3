"""Robust scale, place and slope."""

import numpy as np
import pytest
from scipy import stats

from models.errors import OutOfRangeError, ShapeError
from models.robust import clip_to_neighbours, half_step, mad_sigma, modified_z, theil_sen, weighted_median


@pytest.mark.parametrize("seed", range(5))
def test_mad_estimates_sigma(seed: int) -> None:
    """Of normal readings the scaled MAD is their standard deviation."""
    values = np.random.default_rng(seed).normal(0.0, 2.5, (1, 20_000))

    # The standard error of the scaled MAD is 1.17 sigma / sqrt(n) = 0.021.
    assert float(mad_sigma(values)[0]) == pytest.approx(2.5, abs=0.08)


def test_floor_of_quantised_readings() -> None:
    """A series on one count keeps half a step of doubt."""
    assert float(mad_sigma(np.zeros(9), floor=half_step(0.78125))) == 0.390625
    np.testing.assert_allclose(modified_z([0.0] * 8 + [1.0], floor=0.5)[-1], 0.6745 * 2)


def test_theil_sen_is_the_librarys() -> None:
    """Slopes with gaps agree with scipy's on the readings that are there."""
    rng = np.random.default_rng(3)
    days = np.sort(rng.uniform(0, 100, 50))
    values = 0.1 * days + rng.standard_t(2, (4, 50))
    values[1, ::7] = np.nan

    slope, intercept = theil_sen(days, values)

    for row in range(4):
        there = ~np.isnan(values[row])
        oracle = stats.theilslopes(values[row, there], days[there])
        assert float(slope[row]) == pytest.approx(float(oracle.slope), rel=1e-12)
        assert float(intercept[row]) == pytest.approx(float(oracle.intercept), rel=1e-9)


def test_theil_sen_is_chunked(monkeypatch: pytest.MonkeyPatch) -> None:
    """The size of the chunks changes nothing."""
    values = np.random.default_rng(4).normal(size=(7, 12))
    whole = theil_sen(np.arange(12), values)[0]

    monkeypatch.setattr("models.robust.CHUNK_ELEMENTS", 100)

    np.testing.assert_array_equal(theil_sen(np.arange(12), values)[0], whole)


def test_clip_looks_back_only() -> None:
    """What comes later changes no clipped value of before."""
    values = np.random.default_rng(5).normal(size=60)
    changed = values.copy()
    changed[40:] = 50.0

    np.testing.assert_array_equal(clip_to_neighbours(changed, 1.0)[:40], clip_to_neighbours(values, 1.0)[:40])


def test_clip_lets_a_lasting_shift_through() -> None:
    """A shift that stays reaches its full size once half the window has it."""
    values = np.concatenate([np.zeros(30), np.full(30, 8.0)])

    clipped = clip_to_neighbours(values, 1.0)

    assert clipped[30] == 2.5
    assert clipped[38:].min() == 8.0


def test_clip_without_a_scale() -> None:
    """An unknown sigma clips nothing."""
    np.testing.assert_array_equal(clip_to_neighbours([0.0, 99.0], np.nan), [0.0, 99.0])


@pytest.mark.parametrize("wrong", [{"window": 0}, {"width": 0.0}])
def test_clip_refuses(wrong: dict[str, int]) -> None:
    """A window below one and a width of zero are refused."""
    with pytest.raises(OutOfRangeError):
        clip_to_neighbours([1.0], 1.0, **wrong)


def test_weighted_median() -> None:
    """Whole weights count like repeats; missing values and weights count nothing."""
    values, weights = np.array([5.0, 1.0, 3.0, 9.0]), np.array([2, 1, 3, 1])

    assert weighted_median(values, weights) == float(np.median(np.repeat(values, weights)))
    assert weighted_median([1.0, np.nan, 3.0], [1.0, 9.0, np.nan]) == 1.0
    assert np.isnan(weighted_median([], []))


def test_weighted_median_refuses() -> None:
    """Weights of another shape or below zero are refused."""
    with pytest.raises(ShapeError):
        weighted_median([1.0, 2.0], [1.0])
    with pytest.raises(OutOfRangeError):
        weighted_median([1.0], [-1.0])
