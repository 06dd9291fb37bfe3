"""How much sound readings scatter."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.stats import norm

from models.evidence.noise import (
    BLOCKS,
    DEFAULT_INFLATION,
    Noise,
    estimate_sigma,
    estimate_slow,
    rounding_error,
)
from models.series import PLACE, SERIES, Observations
from tests.models.fleets import FIRST_DAY, observed

Floats = NDArray[np.float64]
TRIM, CRUISE, VOLTS = PLACE["LONGFT1@warm_idle"], PLACE["LONGFT1@cruise"], PLACE["VPWR@warm_idle"]
AC = PLACE["ac@warm_idle"]


def _seen(columns: dict[int, Floats]) -> Observations:
    """Make observations from series place to values of shape (vehicles, days)."""
    parts = []
    for place in columns:
        vehicle, day = np.indices(columns[place].shape).reshape(2, -1)
        parts.append((vehicle, np.full(len(vehicle), place), day + FIRST_DAY, columns[place].ravel()))
    vehicle, series, day, value = (np.concatenate(column) for column in zip(*parts, strict=True))
    order = np.lexsort((day, series, vehicle))
    return observed(vehicle[order], series[order], day[order], value[order])


def _all(seen: Observations) -> NDArray[np.bool_]:
    return np.ones(len(seen), dtype=bool)


def _sigma(columns: dict[int, Floats], group: NDArray[np.int32] | None = None) -> tuple[Floats, Floats]:
    seen = _seen(columns)
    vehicles = len(next(iter(columns.values())))
    group = np.zeros(vehicles, np.int32) if group is None else group
    steps = np.zeros((vehicles, len(SERIES)))
    sigma, _, pooled = estimate_sigma(
        seen, seen.value, _all(seen), group, int(group.max(initial=0)) + 1, steps
    )
    return sigma, pooled


def _chain(rho: float, vehicles: int, days: int, seed: int = 0) -> Floats:
    """Make first-order chains of unit variance."""
    rng = np.random.default_rng(seed)
    value = np.empty((vehicles, days))
    value[:, 0] = rng.normal(0, 1, vehicles)
    for day in range(1, days):
        value[:, day] = rho * value[:, day - 1] + np.sqrt(1 - rho**2) * rng.normal(0, 1, vehicles)
    return value


def _slow(columns: dict[int, Floats]) -> tuple[Floats, Floats]:
    seen = _seen(columns)
    vehicles = len(next(iter(columns.values())))
    ones = np.ones((vehicles, len(SERIES)))
    return estimate_slow(seen, seen.value, _all(seen), ones, np.zeros(vehicles, np.int32), 1)


def test_independent_noise_is_measured() -> None:
    """The scatter of independent readings is found, drift or not."""
    value = np.random.default_rng(0).normal(0, 2.0, (12, 200))
    value[5] += 0.02 * np.arange(200)

    sigma, pooled = _sigma({TRIM: value})

    assert pooled[TRIM] == pytest.approx(2.0, rel=0.1)
    np.testing.assert_allclose(sigma[:, TRIM], 2.0, rtol=0.25)


def test_unit_change_scales() -> None:
    """Noise has the unit of the readings."""
    value = np.random.default_rng(0).normal(0, 2.0, (12, 100))

    np.testing.assert_allclose(_sigma({TRIM: value * 50})[0][:, TRIM], 50 * _sigma({TRIM: value})[0][:, TRIM])


def test_a_noisy_vehicle_is_noisier_than_its_likes() -> None:
    """A vehicle's own scatter counts, shrunk towards its likes."""
    value = np.random.default_rng(0).normal(0, 1.0, (12, 200))
    value[3] *= 4

    sigma, _ = _sigma({TRIM: value})

    assert 2.5 < sigma[3, TRIM] < 4.2
    assert sigma[4, TRIM] < 1.3


def test_a_newcomer_borrows_its_likes() -> None:
    """A vehicle with two readings is given the scatter of like vehicles."""
    rng = np.random.default_rng(0)
    seen = _seen({TRIM: rng.normal(0, 1.0, (12, 100))})
    keep = (seen.vehicle != 7) | (seen.day < FIRST_DAY + 2)

    sigma, _, _ = estimate_sigma(
        seen, seen.value, keep, np.zeros(12, np.int32), 1, np.zeros((12, len(SERIES)))
    )

    assert sigma[7, TRIM] == pytest.approx(np.median(sigma[:, TRIM]), rel=0.2)


def test_a_coarse_logger_is_noise_by_itself() -> None:
    """Whole units are noise of half a unit, and the mean of many readings is off by what is rounded."""
    value = np.random.default_rng(0).normal(14.3, 0.05, (12, 200))
    value[3] = np.round(value[3])
    seen, steps = _seen({VOLTS: value}), np.zeros((12, len(SERIES)))
    steps[3, VOLTS] = 1.0

    sigma, rounding, _ = estimate_sigma(seen, seen.value, _all(seen), np.zeros(12, np.int32), 1, steps)

    assert sigma[3, VOLTS] == 0.5
    assert rounding[3, VOLTS] == pytest.approx(0.5, rel=0.1)
    assert sigma[4, VOLTS] < 0.1
    assert not np.delete(rounding, 3, axis=0).any()


@given(
    scatter=st.floats(0.02, 1.0),
    level=st.floats(-3.0, 3.0),
)
def test_rounding_leaves_no_more_than_it_says(scatter: float, level: float) -> None:
    """The mean of rounded normal values, summed over all steps, is off by no more than stated."""
    edges = np.arange(-12.5, 13.0)
    share = np.diff(norm.cdf(edges, level, scatter))
    off = share @ (edges[:-1] + 0.5) - level

    assert abs(off) <= rounding_error(np.array(1.0), np.array(scatter)) + 1e-9


def test_few_differences_are_better_than_none() -> None:
    """With fewer than five differences on any vehicle those there are count."""
    _, pooled = _sigma({TRIM: np.array([[0.0, 3.0, 0.0, 3.0]])})

    assert np.isfinite(pooled[TRIM])
    assert pooled[TRIM] > 1


def test_quantised_steps_have_a_floor() -> None:
    """Readings that never leave one step of the sensor still scatter by half a step."""
    sigma, _ = _sigma({TRIM: np.full((10, 60), 1.5625)})

    np.testing.assert_allclose(sigma[:, TRIM], SERIES[TRIM].step / 2)


def test_a_voltage_commanded_to_two_levels_is_noisy() -> None:
    """A voltage that is at either of two levels, mostly one, scatters by about their distance."""
    high = np.random.default_rng(1).random((10, 200)) < 0.2
    value = np.where(high, 14.4, 12.8) + np.random.default_rng(2).normal(0, 0.03, (10, 200))

    sigma, _ = _sigma({VOLTS: value})

    assert sigma[:, VOLTS].min() > 0.4


@pytest.mark.parametrize("share", [0.1, 0.5])
def test_n_readings_of_on_weigh_as_rarely_as_they_happen(share: float) -> None:
    """Half the squared distance to always on equals the surprise of an independent reading of on."""
    value = (np.random.default_rng(3).random((40, 200)) < share).astype(float)

    sigma, _ = _sigma({AC: value})

    surprise = (1 - share) ** 2 / (2 * sigma[0, AC] ** 2)
    assert surprise == pytest.approx(np.log(1 / share), rel=0.1)


def test_what_nobody_reports_has_no_pooled_noise() -> None:
    """A series that nobody reports has unit noise and says so."""
    sigma, pooled = _sigma({TRIM: np.random.default_rng(0).normal(0, 1, (3, 30))})

    assert np.isnan(pooled[CRUISE])
    assert (sigma[:, CRUISE] == 1).all()


def test_groups_keep_their_own_noise() -> None:
    """Two sheets, one noisy: each is measured on its own."""
    value = np.random.default_rng(0).normal(0, 1.0, (20, 100))
    value[10:] *= 3

    sigma, _ = _sigma({TRIM: value}, np.repeat(np.arange(2, dtype=np.int32), 10))

    np.testing.assert_allclose(sigma[:10, TRIM], 1.0, rtol=0.25)
    np.testing.assert_allclose(sigma[10:, TRIM], 3.0, rtol=0.25)


@pytest.mark.parametrize("rho", [0.0, 0.4])
def test_means_of_a_chain_calm_down_as_theory_says(rho: float) -> None:
    """Inflation of block means of a first-order chain is 1 + 2 sum (1 - k/n) rho^k."""
    inflation, _ = _slow({TRIM: _chain(rho, 60, 400)})

    for place, length in enumerate(BLOCKS):
        lags = np.arange(1, length)
        theory = 1 + 2 * float(((1 - lags / length) * rho**lags).sum())
        assert inflation[0, TRIM, place] == pytest.approx(theory, rel=0.2)


def test_inflation_does_not_fall_with_the_number_of_readings() -> None:
    """More readings never count for more than independent ones would."""
    inflation, _ = _slow({TRIM: _chain(0.3, 20, 60, seed=4)})

    assert (inflation >= 1).all()
    assert (np.diff(inflation, axis=2) >= 0).all()


def test_too_few_blocks_use_the_default() -> None:
    """Until enough blocks are at hand the stated default holds."""
    inflation, _ = _slow({TRIM: _chain(0.0, 3, 6)})

    np.testing.assert_allclose(inflation[0, CRUISE], DEFAULT_INFLATION)


def test_inflation_between_blocks_lies_between() -> None:
    """Counts between block sizes are interpolated; beyond the largest the last one holds."""
    inflation = np.ones((1, len(SERIES), len(BLOCKS)))
    inflation[0, TRIM] = 1.0, 1.5, 2.0, 2.5, 3.0
    noise = Noise(
        sigma=np.ones((1, len(SERIES))),
        rounding=np.zeros((1, len(SERIES))),
        pooled=np.ones(len(SERIES)),
        inflation=inflation,
        correlation=np.eye(len(SERIES)),
    )

    found = [
        float(noise.inflate(np.zeros(1, np.int32), np.full((1, len(SERIES)), count))[0, TRIM])
        for count in (0.0, 1.0, 2.0, 3.0, 16.0, 500.0)
    ]

    assert found[:3] == [1.0, 1.0, 1.5]
    assert 1.5 < found[3] < 2.0
    assert found[4:] == [3.0, 3.0]


def _together(strength: float) -> dict[int, Floats]:
    """Make two series sharing slow movements."""
    rng = np.random.default_rng(6)
    slow = np.repeat(rng.normal(0, 1, (20, 20)), 21, axis=1)
    return {
        TRIM: strength * slow + rng.normal(0, 1, slow.shape),
        CRUISE: strength * slow + rng.normal(0, 1, slow.shape),
        VOLTS: rng.normal(0, 1, slow.shape),
    }


def test_series_that_move_together_are_correlated() -> None:
    """Shared slow movement shows as correlation, none as none."""
    _, correlation = _slow(_together(1.0))

    assert correlation[TRIM, CRUISE] > 0.5
    assert abs(correlation[TRIM, VOLTS]) < 0.2


@pytest.mark.parametrize("strength", [0.0, 1.0, 50.0])
def test_correlation_is_positive_definite(strength: float) -> None:
    """Even series that are copies of each other leave a matrix that can be inverted."""
    _, correlation = _slow(_together(strength))

    assert np.linalg.eigvalsh(correlation).min() > 0.01
    np.testing.assert_allclose(np.diag(correlation), 1.0)
    np.testing.assert_allclose(correlation, correlation.T)


def test_nothing_seen_is_independent() -> None:
    """Without any reading the series are taken as independent and the default inflation holds."""
    inflation, correlation = _slow({TRIM: np.empty((0, 0))})

    np.testing.assert_array_equal(correlation, np.eye(len(SERIES)))
    np.testing.assert_allclose(inflation[0], np.tile(DEFAULT_INFLATION, (len(SERIES), 1)))
