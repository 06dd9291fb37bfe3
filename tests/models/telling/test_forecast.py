"""When a limit is reached."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from models.telling.forecast import HORIZON_DAYS, Outlook, Shifts, days_to_limit, imagine, weighted_points
from models.telling.onsets import ONSETS

Floats = NDArray[np.float64]
USUAL = 0.2
"""Slope of a usual fault: what drivers complain of, 12, within 60 days."""


def _simulate(change: Floats, count: int, seed: int = 0) -> tuple[Shifts, Shifts]:
    """Give the shifts of simulated series with daily noise 1 and a known level of 0.

    `change` is the true change on each of the last days, oldest first.
    """
    rng = np.random.default_rng(seed)
    days = np.arange(len(change), 0, -1, dtype=np.float64) - 1
    value = change + rng.normal(0, 1.0, (count, len(days)))
    ramp = np.maximum(ONSETS[:, None] - days[None, :], 0) / ONSETS[:, None]
    step = (days[None, :] < ONSETS[:, None]).astype(np.float64)
    shifts = []
    for templates in (ramp, step):
        root = np.sqrt((templates**2).sum(axis=1))
        shifts.append(Shifts(z=value @ templates.T / root, root=np.tile(root, (count, 1))))
    return shifts[0], shifts[1]


def _imagine(ramps: Shifts, steps: Shifts) -> Outlook:
    return imagine(ramps, steps, ONSETS, np.full(len(ramps.z), USUAL))


def _ramps(per_day: float, age: int, count: int, seed: int = 0) -> tuple[Shifts, Shifts]:
    """Simulate ramps of a known age."""
    return _simulate(per_day * np.maximum(age - np.arange(299, -1, -1.0), 0), count, seed)


def _intervals(
    per_day: float, *, age: int = 45, limit: float = 12.0, count: int = 400
) -> tuple[Floats, Floats]:
    """Give the ends of the 80 % intervals of the days until the limit of simulated ramps."""
    ramps, steps = _ramps(per_day, age, count)
    outlook = _imagine(ramps, steps)
    side = np.full(count, limit)
    days = days_to_limit(outlook, np.zeros(count), -side, side, np.ones(count, bool))
    low, high = weighted_points(days, outlook.weight, (0.1, 0.9)).T
    return low, high


@pytest.mark.parametrize("age", [45, 75])
@pytest.mark.parametrize("per_day", [0.07, 0.12, 0.2])
def test_intervals_hold_the_truth_at_least_about_as_often_as_they_say(per_day: float, age: int) -> None:
    """The 80 % interval holds the true day of straight ramps, slow or fast, and is not vacuous."""
    limit = 1.6 * per_day * age
    truth = limit / per_day - age

    low, high = _intervals(per_day, age=age, limit=limit)

    assert ((low <= truth) & (truth <= high)).mean() >= 0.65
    assert np.median(high - low) < 3.5 * truth
    assert np.median(low) > 0


def test_the_interval_narrows_as_the_ramp_grows() -> None:
    """The later the day, the narrower the interval."""
    width = []
    for age in (35, 69, 97):
        low, high = _intervals(0.1, age=age, limit=15.0, count=100)
        width.append(float(np.median(high - low)))

    assert width[0] > width[1] > width[2]


def _outlook(shift: float, slope: float) -> Outlook:
    return Outlook(
        shift=np.array([[shift]]), slope=np.array([[slope]]), pace=np.ones(1), weight=np.array([[1.0]])
    )


def _days(outlook: Outlook, low: float, high: float, *, upward: bool) -> float:
    band = (np.array([low]), np.array([high]))
    return float(days_to_limit(outlook, np.zeros(1), *band, np.array([upward]))[0, 0])


@pytest.mark.parametrize(
    ("shift", "slope", "upward", "days"),
    [
        (4.0, 0.1, True, 40.0),
        (-4.0, -0.1, False, 40.0),
        (9.0, 0.1, True, 0.0),
        (-9.0, -0.1, False, 0.0),
        (4.0, 0.0, True, np.inf),
        (4.0, -0.1, True, np.inf),
        (-4.0, 0.1, False, np.inf),
    ],
)
def test_days_until_the_limit_ahead(shift: float, slope: float, days: float, *, upward: bool) -> None:
    """A line reaches the limit on its side, is there already, or never gets there."""
    assert _days(_outlook(shift, slope), -8.0, 8.0, upward=upward) == pytest.approx(days)


def test_a_limit_on_the_other_side_does_not_count() -> None:
    """A band with an upper side only is never left downwards."""
    assert _days(_outlook(-4.0, -0.1), np.nan, 8.0, upward=False) == np.inf
    assert _days(_outlook(4.0, 0.1), np.nan, 8.0, upward=True) == pytest.approx(40.0)
    assert _days(_outlook(4.0, 0.1), -8.0, np.nan, upward=True) == np.inf


def test_a_slow_drift_may_not_get_there_within_a_year() -> None:
    """A drift of a tenth of a per cent a month has no day within the horizon."""
    ramps, steps = _ramps(0.003, 193, 50)
    outlook = _imagine(ramps, steps)
    days = days_to_limit(outlook, np.zeros(50), np.full(50, -20.0), np.full(50, 20.0), np.ones(50, bool))

    assert (weighted_points(days, outlook.weight, (0.5,)) > HORIZON_DAYS).all()


def test_weights_sum_to_one() -> None:
    """The samples of every row weigh one together, whatever the evidence, silence included."""
    ramps, steps = _ramps(0.1, 45, 5)
    for shape in (ramps, steps):
        shape.z[0], shape.root[0] = 0.0, 0.0
        shape.root[1, 4:] = 0.0
        shape.z[2] *= 8.0

    outlook = _imagine(ramps, steps)

    np.testing.assert_allclose(outlook.weight.sum(axis=1), 1.0)
    assert (outlook.slope[0] == 0).all()


def test_unit_change_scales() -> None:
    """Slopes have the unit of the readings."""
    ramps, steps = _ramps(0.1, 45, 5)
    finer_ramps, finer_steps = (replace(shape, root=shape.root / 50) for shape in (ramps, steps))

    one = _imagine(ramps, steps)
    other = imagine(finer_ramps, finer_steps, ONSETS, np.full(5, 50 * USUAL))

    np.testing.assert_allclose(other.slope, 50 * one.slope)
    np.testing.assert_allclose(other.weight, one.weight)


def test_slopes_are_found() -> None:
    """The weighted middle of the slopes is near the true slope."""
    ramps, steps = _ramps(0.15, 60, 200)
    outlook = _imagine(ramps, steps)

    middle = weighted_points(outlook.slope, outlook.weight, (0.5,))

    assert np.median(middle) == pytest.approx(0.15, rel=0.25)


def test_a_step_is_not_drawn_on_as_a_ramp() -> None:
    """A series that jumped a month ago and stands still has a later day at the limit than one that ramps."""
    still = np.where(np.arange(299, -1, -1.0) < 35, 4.0, 0.0)
    medians = []
    for ramps, steps in (_simulate(still, 200), _ramps(4.0 / 35, 35, 200)):
        outlook = _imagine(ramps, steps)
        side = np.full(200, 8.0)
        days = days_to_limit(outlook, np.zeros(200), -side, side, np.ones(200, bool))
        medians.append(float(np.median(weighted_points(days, outlook.weight, (0.5,)))))

    assert medians[1] == pytest.approx(35, rel=0.4)
    assert medians[0] > 2 * medians[1]


def test_weighted_points_are_in_order() -> None:
    """Quantiles of a row are values of the row, in order, and the last share gives the largest weighed."""
    values, weight = np.array([[5.0, 1.0, np.inf]]), np.array([[0.5, 0.25, 0.25]])

    assert weighted_points(values, weight, (0.1, 0.5, 0.75, 1.0)).tolist() == [[1.0, 5.0, 5.0, np.inf]]
