"""Running sums over residuals."""

import numpy as np
import pytest
from numpy.typing import NDArray

from models.evidence.history import CLIP_READINGS, build_history, clip_to_neighbours
from models.series import PLACE, SERIES, Observations
from tests.models.fleets import FIRST_DAY, observed

Floats = NDArray[np.float64]
TRIM, VOLTS = PLACE["LONGFT1@warm_idle"], PLACE["VPWR@warm_idle"]


def _scattered(seed: int) -> Observations:
    """Make observations of three vehicles on random days."""
    rng = np.random.default_rng(seed)
    rows = [
        (vehicle, place, FIRST_DAY + int(day), rng.normal())
        for vehicle in range(3)
        for place in sorted((TRIM, VOLTS))
        for day in np.sort(rng.choice(60, 25, replace=False))
    ]
    vehicle, series, day, value = zip(*rows, strict=True)
    return observed(np.array(vehicle), np.array(series), np.array(day), np.array(value))


def test_any_windows_sums_are_the_sums() -> None:
    """The sums of a window equal the sums over its readings, unusable ones left out."""
    seen = _scattered(1)
    usable = np.random.default_rng(2).random(len(seen)) < 0.8
    history = build_history(seen, seen.value, usable, vehicles=3, days=(FIRST_DAY, FIRST_DAY + 59))
    low, high = FIRST_DAY + 11, FIRST_DAY + 47

    sums = history.sums(history.before(low), history.before(high))

    for vehicle in range(3):
        for place in (TRIM, VOLTS):
            mine = (seen.vehicle == vehicle) & (seen.series == place) & usable
            mine &= (seen.day >= low) & (seen.day < high)
            day, value = seen.day[mine] - FIRST_DAY, seen.value[mine]
            found = [
                getattr(sums, name)[vehicle, place]
                for name in ("count", "day", "day_squared", "value", "day_value")
            ]
            expected = [mine.sum(), day.sum(), (day**2).sum(), value.sum(), (day * value).sum()]
            np.testing.assert_allclose(found, expected, atol=1e-9)


def test_days_outside_the_history_are_its_ends() -> None:
    """A window that begins before the first day or ends after the last is cut there."""
    seen = _scattered(1)
    everything = np.ones(len(seen), bool)
    history = build_history(seen, seen.value, everything, vehicles=3, days=(FIRST_DAY, FIRST_DAY + 59))

    sums = history.sums(history.before(FIRST_DAY - 400), history.before(FIRST_DAY + 4000))

    assert sums.count.sum() == len(seen)
    assert sums.value.sum() == pytest.approx(seen.value.sum())


def test_a_window_that_ends_before_it_begins_is_empty() -> None:
    """A segment that starts after the evaluation day holds nothing."""
    seen = _scattered(1)
    everything = np.ones(len(seen), bool)
    history = build_history(seen, seen.value, everything, vehicles=3, days=(FIRST_DAY, FIRST_DAY + 59))

    assert (history.sums(history.before(FIRST_DAY + 30), history.before(FIRST_DAY + 10)).count == 0).all()


def test_some_vehicles_alone() -> None:
    """Pointers of chosen vehicles are those rows of all vehicles' pointers."""
    seen = _scattered(1)
    everything = np.ones(len(seen), bool)
    history = build_history(seen, seen.value, everything, vehicles=3, days=(FIRST_DAY, FIRST_DAY + 59))

    rows = np.array([2, 0])

    np.testing.assert_array_equal(history.before(FIRST_DAY + 20, rows), history.before(FIRST_DAY + 20)[rows])


def _line(
    value: Floats,
    stretch: NDArray[np.int32] | None = None,
    usable: NDArray[np.bool_] | None = None,
    *,
    every: int = 1,
) -> Floats:
    """Clip one vehicle's trims of noise 1, read every so many days."""
    seen = observed(np.zeros(len(value), np.int64), TRIM, FIRST_DAY + every * np.arange(len(value)), value)
    stretch = np.ones(len(value), np.int32) if stretch is None else stretch
    usable = np.ones(len(value), bool) if usable is None else usable
    return clip_to_neighbours(seen, value, np.ones((1, len(SERIES))), stretch, usable)


@pytest.mark.parametrize("size", [10.0, 1e6, -1e6])
def test_a_wild_reading_is_pulled_in_however_far(size: float) -> None:
    """One wild reading counts no more than 2.5 sigma, wherever it stands."""
    for place in (0, 3, 20, 39):
        value = np.zeros(40)
        value[place] = size

        assert np.abs(_line(value)).max() == pytest.approx(2.5)


def test_ordinary_readings_are_left_alone() -> None:
    """Readings within 2.5 sigma of their neighbours stay as they are."""
    value = np.random.default_rng(0).normal(0, 0.6, 60)

    np.testing.assert_array_equal(_line(value), value)


def test_a_step_is_believed_after_six_readings() -> None:
    """A lasting step outvotes the readings before it once most of eleven stand on it."""
    value = np.concatenate((np.zeros(20), np.full(20, 9.0)))

    clipped = _line(value)

    assert (clipped[20:25] == 2.5).all()
    assert (clipped[25:] >= 6.5).all()


def test_who_reports_seldom_is_believed_sooner() -> None:
    """Where eleven readings take months, a lasting step outvotes the past with four of seven."""
    value = np.concatenate((np.zeros(20), np.full(20, 9.0)))

    clipped = _line(value, every=7)

    assert (clipped[20:23] == 2.5).all()
    assert (clipped[23:] >= 6.5).all()


def test_an_odd_tank_outvotes_nobody() -> None:
    """Five readings far off among ordinary ones stay pulled in."""
    value = np.zeros(40)
    value[20:25] = 9.0

    assert np.abs(_line(value)).max() == pytest.approx(2.5)


def test_readings_that_do_not_count_pull_nobody() -> None:
    """A week of relearning between two stretches of one level leaves that level alone."""
    value, usable = np.full(40, 9.0), np.ones(40, bool)
    value[20:28], usable[20:28] = 0.0, False

    np.testing.assert_array_equal(_line(value, usable=usable), value)


def test_a_repair_parts_the_neighbours() -> None:
    """Readings before a repair do not clip those after it."""
    value = np.concatenate((np.zeros(20), np.full(20, 9.0)))

    np.testing.assert_array_equal(_line(value, np.repeat([1, 2], 20)), value)


def test_a_number_never_changes_later() -> None:
    """Later readings do not change what a reading was clipped to, once its stretch has seven."""
    value = np.random.default_rng(3).standard_t(2, 80)

    for length in (CLIP_READINGS, 20, 50):
        np.testing.assert_array_equal(_line(value[:length]), _line(value)[:length])


def test_short_stretches_share_the_median_of_what_is_there() -> None:
    """A stretch of two, three or four readings is clipped to the median of all of them."""
    assert _line(np.array([0.0, 10.0])).tolist() == [2.5, 7.5]
    assert _line(np.array([0.0, 0.0, 10.0])).tolist() == [0.0, 0.0, 2.5]
    assert _line(np.array([0.0, 0.0, 1.0, 10.0])).tolist() == [0.0, 0.0, 1.0, 3.0]


def test_nothing_gives_nothing() -> None:
    """No readings, nothing to clip."""
    assert len(_line(np.empty(0))) == 0
