"""What is learned, and when."""

import numpy as np
import pytest

from models.learning.fit import (
    EARLY_DAYS,
    EARLY_FIT_EVERY_DAYS,
    FIT_EVERY_DAYS,
    Fit,
    Material,
    fit_day_of,
    fleet_groups,
    gather,
    learn,
)
from models.series import PLACE
from tests.models.fleets import BARE, FIRST_DAY, SHEET, Town

TRIM = PLACE["LONGFT1@warm_idle"]


def _learned(town: Town, day: int) -> tuple[Material, Fit]:
    material = gather(town.fleet(), town.daily())
    return material, learn(material, FIRST_DAY + day)


@pytest.mark.parametrize("first_day", range(19_600, 19_628, 5))
def test_fits_happen_on_fixed_dates(first_day: int) -> None:
    """The fit date never lies after the day, never runs back once weekly, and lasts its weeks."""
    served = np.array([fit_day_of(first_day + age, first_day) for age in range(400)])

    age = first_day + np.arange(400) - served
    assert (age >= 0).all()
    assert (np.diff(served[2 * EARLY_FIT_EVERY_DAYS :]) >= 0).all()
    assert (age[:EARLY_DAYS] < EARLY_FIT_EVERY_DAYS).all()
    assert (age < FIT_EVERY_DAYS).all()
    assert len(set(served[EARLY_DAYS:])) <= 400 / FIT_EVERY_DAYS + 2


def test_fit_dates_do_not_depend_on_when_the_history_began() -> None:
    """Two fleets that began on different days are fitted on the same dates once both are old."""
    for day in range(20_000, 20_100):
        assert fit_day_of(day, 19_600) == fit_day_of(day, 19_700)


def test_later_readings_teach_nothing() -> None:
    """Noise, peers and residuals up to the fit date are the same with later readings at hand."""
    town = Town(10, 160)
    early = Town(10, 160)
    for place in range(10):
        early.silence(place, 120)

    material, long = _learned(town, 119)
    _, short = _learned(early, 119)

    np.testing.assert_allclose(long.noise.sigma, short.noise.sigma)
    np.testing.assert_allclose(long.noise.correlation, short.noise.correlation)
    np.testing.assert_allclose(long.peers.level, short.peers.level)
    known = material.seen.day < FIRST_DAY + 120
    np.testing.assert_allclose(long.adjusted[known], short.adjusted, atol=1e-9)


def test_peers_are_described() -> None:
    """Like vehicles' level, spread and count are those of their own long-run levels."""
    _, fit = _learned(Town(16, 150), 149)

    assert fit.peers.count[0, TRIM] == 16
    assert fit.peers.level[0, TRIM] == pytest.approx(1.0, abs=0.6)
    assert fit.peers.low[0, TRIM] < fit.peers.level[0, TRIM] < fit.peers.high[0, TRIM]
    assert 0.5 < fit.peers.spread[0, TRIM] < 3


def test_fewer_than_eight_like_vehicles_are_no_comparison() -> None:
    """Seven like vehicles have a level, but no spread to hold a newcomer against."""
    _, fit = _learned(Town(7, 100), 99)

    assert np.isinf(fit.peers.spread[0, TRIM])
    assert fit.peers.count[0, TRIM] == 7


def test_a_series_nobody_reports_has_no_peers() -> None:
    """A second bank that no vehicle has gives no numbers."""
    _, fit = _learned(Town(9, 60), 59)
    place = PLACE["LONGFT2@warm_idle"]

    assert fit.peers.count[0, place] == 0
    assert np.isnan(fit.peers.low[0, place])
    assert fit.peers.level[0, place] == 0


def test_vehicles_without_a_sheet_are_a_group_but_no_crowd() -> None:
    """Vehicles without a sheet share noise, but are not taken for like vehicles that move together."""
    town = Town(10, 40)
    town.sheet[8:] = -1
    material = gather(town.fleet(), town.daily())

    assert material.group.tolist() == [0] * 8 + [1, 1]
    assert fleet_groups(material).tolist() == [0] * 8 + [-1, -1]


def test_like_vehicles_that_move_together_over_depots_are_levelled() -> None:
    """A step of one sheet's vehicles, spread over depots that otherwise stand still, is taken out."""
    town = Town(30, 150, depots=3)
    town.sheets = (SHEET, BARE)
    town.sheet[:] = np.arange(30) // 3 % 3 == 0
    town.at("LONGFT1", "warm_idle")[town.sheet == 1, 100:] += 4.0

    material, fit = _learned(town, 149)

    late = (material.seen.series == TRIM) & (material.seen.day >= FIRST_DAY + 110)
    moved = late & (town.sheet[material.seen.vehicle] == 1)
    early = (material.seen.series == TRIM) & (material.seen.day < FIRST_DAY + 90)
    before = early & (town.sheet[material.seen.vehicle] == 1)
    assert fit.adjusted[moved].mean() - fit.adjusted[before].mean() < 1.0


def test_nothing_can_be_learned_from_nothing() -> None:
    """An empty history has numbers all the same, and no residuals."""
    material, fit = _learned(Town(3, 0), 0)

    assert len(material.seen) == 0
    assert fit.adjusted.shape == (0,)
    assert np.isfinite(fit.noise.sigma).all()
