"""What a depot does as a whole."""

import numpy as np
import pytest
from numpy.typing import NDArray

from models.compare import compare
from models.learning.crowd import MIN_VEHICLES, find_common, form_crowds
from models.panel import Wish
from models.series import PLACE, SERIES, Observations
from tests.models.fleets import BARE, FIRST_DAY, Town, observed

Floats = NDArray[np.float64]
TRIM = PLACE["LONGFT1@warm_idle"]
SIGMA = np.ones(len(SERIES))


def _seen(value: Floats) -> Observations:
    """Make observations of one series, shape (vehicles, days)."""
    vehicle, day = np.indices(value.shape).reshape(2, -1)
    return observed(vehicle, TRIM, FIRST_DAY + day, value.ravel())


def _shift(away: Floats, *, until: int, crowd: NDArray[np.int32] | None = None) -> Floats:
    """Find the common movement of one crowd, shape (days,)."""
    vehicles, days = away.shape
    crowd = np.zeros(vehicles, np.int32) if crowd is None else crowd
    common = find_common(
        _seen(away),
        away.ravel(),
        SIGMA,
        crowd,
        days=(FIRST_DAY, FIRST_DAY + days - 1),
        fitted_until=FIRST_DAY + until,
    )
    found: Floats = common.shift[0, TRIM]
    return found


@pytest.mark.parametrize(
    ("depot", "crowd"),
    [
        ([], []),
        ([0] * (MIN_VEHICLES - 1), [-1] * (MIN_VEHICLES - 1)),
        ([0] * MIN_VEHICLES, [0] * MIN_VEHICLES),
        ([0] * 4 + [1] * 4, [0] * 8),
        ([-1] * 8, [0] * 8),
        ([0] * 8 + [1] * 8, [0] * 8 + [1] * 8),
        ([0] * 8 + [1] * 3 + [-1] * 5, [0] * 8 + [1] * 8),
    ],
)
def test_crowds(depot: list[int], crowd: list[int]) -> None:
    """A depot of eight is a crowd, small depots join into one, fewer than eight have none."""
    assert form_crowds(np.array(depot, np.int32)).tolist() == crowd


def test_a_common_step_is_found_and_one_vehicle_is_not() -> None:
    """What all do is common; what one of sixteen does is not."""
    away = np.random.default_rng(0).normal(0, 1, (16, 80))
    away[:, 40:] += 4.0
    away[3] += 20.0

    shift = _shift(away, until=79)

    assert shift[50:70].mean() == pytest.approx(4.0, abs=0.5)
    assert abs(shift[10:30].mean()) < 0.5


def test_a_silent_crowd_moves_nothing() -> None:
    """Days without readings have no common movement."""
    away = np.full((10, 30), np.nan)

    np.testing.assert_array_equal(_shift(away, until=29), np.zeros(30))


def test_vehicles_of_no_crowd_are_left_alone() -> None:
    """Where no crowd is, nothing is taken out."""
    away = np.full((4, 30), 5.0)
    crowd = np.full(4, -1, np.int32)
    common = find_common(
        _seen(away), away.ravel(), SIGMA, crowd, days=(FIRST_DAY, FIRST_DAY + 29), fitted_until=FIRST_DAY
    )

    assert (common.at(_seen(away)) == 0).all()
    assert (common.support == 0).all()


def test_a_number_once_used_is_not_changed_by_later_data() -> None:
    """Until the next fit the common movement of a day past the fit date depends on that day and before."""
    away = np.random.default_rng(1).normal(0, 1, (12, 100))
    later = away.copy()
    later[:, 81:] += 7.0

    before, after = _shift(away, until=60), _shift(later, until=60)

    np.testing.assert_array_equal(before[:81], after[:81])
    assert after[90] > 5


def test_unit_change_scales() -> None:
    """Everything in another unit gives the movement in that unit."""
    away = np.random.default_rng(2).normal(1, 1, (9, 40))
    common = find_common(
        _seen(away * 1000),
        away.ravel() * 1000,
        SIGMA * 1000,
        np.zeros(9, np.int32),
        days=(FIRST_DAY, FIRST_DAY + 39),
        fitted_until=FIRST_DAY + 39,
    )

    np.testing.assert_allclose(common.shift[0, TRIM], 1000 * _shift(away, until=39), rtol=1e-9)


def test_small_fleets_have_no_common_movement() -> None:
    """Seven vehicles moving together are not called an event: nobody is left to compare with."""
    town = Town(7, 90)
    town.at("LONGFT1", "warm_idle")[:, 75:] += 4.0

    assert compare(town.fleet(), town.daily(), town.last_day, Wish()).events == ()


def _shifted_town(*, limited: bool = True) -> Town:
    """Give two depots of which the first turns 4 % leaner for the last ten days."""
    town = Town(20, 130, depots=2) if limited else Town(20, 130, depots=2, sheet=BARE)
    for state in ("warm_idle", "cruise"):
        town.at("LONGFT1", state)[town.depot == 0, 120:] += 4.0
    return town


def test_a_whole_depots_step_is_one_notice_a_series_and_no_finding() -> None:
    """A trim step of 4 % at a whole depot raises nothing but a notice that names the depot."""
    town = _shifted_town()

    said = compare(town.fleet(), town.daily(), town.last_day, Wish())

    assert said.findings == ()
    assert {(event.scope, event.series) for event in said.events} == {
        ("Depot 0", "LONGFT1@warm_idle"),
        ("Depot 0", "LONGFT1@cruise"),
    }
    assert len(said.events) == 2
    assert all(event.shift == pytest.approx(4.0, abs=1.2) and event.vehicles == 10 for event in said.events)


def test_beyond_the_limit_in_that_week_still_counts() -> None:
    """A vehicle beyond its sheet's limit gets its ticket though its depot shifted in the same week."""
    town = _shifted_town()
    town.at("LONGFT1", "warm_idle")[4, 100:] = 9.5 + np.linspace(-0.5, 0.5, 30)

    said = compare(town.fleet(), town.daily(), town.last_day, Wish())

    assert [(finding.vehicle, finding.tier) for finding in said.findings] == [("V-0004", "ticket")]
    assert said.findings[0].lead.outside
    assert len(said.events) == 2


def test_a_drift_during_a_common_step_is_still_seen() -> None:
    """The step is taken out of the drifting vehicle too, its own drift is not."""
    town = _shifted_town(limited=False)
    town.drift("LONGFT1", "warm_idle", 4, onset=70, per_week=0.8)

    said = compare(town.fleet(), town.daily(), town.last_day, Wish())

    assert [finding.vehicle for finding in said.findings] == ["V-0004"]
