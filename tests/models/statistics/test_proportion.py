"""Intervals of shares and rates, and learning from findings."""

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from models.errors import OutOfRangeError
from models.statistics.proportion import poisson_rate, update_causes, wilson


@pytest.mark.parametrize(("successes", "count"), [(0, 7), (1, 9), (31, 40), (12, 12), (500, 1000)])
def test_intervals_are_the_librarys(successes: int, count: int) -> None:
    """Wilson's ends agree with statsmodels."""
    oracle = proportion_confint(successes, count, 0.1, method="wilson")

    assert wilson(successes, count, 0.9) == pytest.approx(oracle, abs=1e-12)


def test_no_trial_says_nothing() -> None:
    """Without a trial the interval is everything."""
    assert wilson(0, 0) == (0.0, 1.0)


@pytest.mark.parametrize("events", [0, 1, 6, 40])
def test_poisson_interval_is_exact(events: int) -> None:
    """At each end, seeing so many or more (or fewer) events has a chance of 2.5 %."""
    low, high = poisson_rate(events, 2.0)

    assert float(stats.poisson.cdf(events, 2.0 * high)) == pytest.approx(0.025, abs=1e-9)
    if events:
        assert float(stats.poisson.sf(events - 1, 2.0 * low)) == pytest.approx(0.025, abs=1e-9)
    else:
        assert low == 0.0


def test_findings_move_a_cause_up() -> None:
    """Fourteen findings of one cause lift it over another; shares before and after both sum to 1."""
    shifts = update_causes({"deposits": 5, "switch": 3, "unknown": 2}, 10, {"switch": 14})

    before = {one.cause: one.before for one in shifts}
    after = {one.cause: one.after for one in shifts}
    assert before["deposits"] > before["switch"]
    assert after["switch"] > after["deposits"]
    assert sum(before.values()) == pytest.approx(1.0)
    assert sum(after.values()) == pytest.approx(1.0)
    assert next(one.found for one in shifts if one.cause == "switch") == 14


def test_no_findings_no_change() -> None:
    """Without findings nothing moves."""
    for one in update_causes({"a": 2.0, "b": 6.0}, 4.0, {}):
        assert one.after == pytest.approx(one.before)


def test_order_of_findings_does_not_matter() -> None:
    """Learning in two steps gives what one step gives."""
    first = update_causes({"a": 1.0, "b": 3.0}, 4.0, {"a": 2})
    second = update_causes({one.cause: one.after for one in first}, 6.0, {"b": 5})
    at_once = update_causes({"a": 1.0, "b": 3.0}, 4.0, {"a": 2, "b": 5})

    np.testing.assert_allclose([one.after for one in second], [one.after for one in at_once])


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: wilson(3, 2), "successes"),
        (lambda: wilson(0, -1), "count"),
        (lambda: wilson(1, 2, 1.0), "confidence"),
        (lambda: poisson_rate(-1, 1.0), "events"),
        (lambda: poisson_rate(1, 0.0), "exposure"),
        (lambda: update_causes({}, 1.0, {}), "prior"),
        (lambda: update_causes({"a": 0.0}, 1.0, {}), "prior"),
        (lambda: update_causes({"a": 1.0}, 1.0, {"z": 1}), "found"),
        (lambda: update_causes({"a": 1.0}, 1.0, {"a": -1}), "found"),
    ],
    ids=[f"case {number}" for number in range(9)],
)
def test_proportion_refuses(call: object, name: str) -> None:
    """Counts that do not fit, empty beliefs and findings of unknown causes are refused."""
    assert callable(call)
    with pytest.raises(OutOfRangeError, match=name):
        call()
