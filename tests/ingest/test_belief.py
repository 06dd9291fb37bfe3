"""Belief: ranges, times and repeats."""

import numpy as np
import pytest

from ingest.belief import count_ends, describe_range, find_repeats, find_time_faults, lie_outside
from ingest.parameters import CODES, COLUMN, PARAMETERS


@pytest.mark.parametrize("code", CODES)
def test_range_of_every_parameter(code: str) -> None:
    """Both ends of what a sensor can encode are believed, a step beyond either is not."""
    parameter = PARAMETERS[code]
    step = max(parameter.step, 0.01)
    values = np.array([parameter.low, parameter.high, parameter.low - step, parameter.high + step])

    outside = lie_outside(values, np.full(4, COLUMN[code]))

    assert outside.tolist() == [False, False, True, True]


def test_range_is_told() -> None:
    """The sentence names value, unit and range."""
    sentence = describe_range(COLUMN["ECT"], 300.0)

    assert sentence == "ECT is 300 degC; its sensor can encode -40 to 215."


@pytest.mark.parametrize(
    ("code", "value", "count"),
    [
        ("ECT", 215, 1),
        ("ECT", 214, 0),
        ("MAP", 0, 1),
        ("VPWR", 65.535, 1),
        ("LONGFT1", 99.2, 1),
        ("LONGFT1", 98.4, 0),
        ("VSS", 0, 0),
    ],
)
def test_sensor_ends(code: str, value: float, count: int) -> None:
    """Ends that speak of wiring are counted, ordinary zeros are not."""
    row = np.full((1, len(CODES)), np.nan)
    row[0, COLUMN[code]] = value

    assert count_ends(row) == count


def test_unset_clock_beats_future() -> None:
    """A clock that was never set is called that, even against a service clock further behind."""
    found = find_time_faults(np.array([1_000_000]), now_us=-(10**15))

    assert [code for _, code, _ in found] == ["clock-not-set"]


def test_third_repeat_names_the_first() -> None:
    """Every repeat points at the first of its kind."""
    assert find_repeats(["a", "a", "b", "a"]) == [(1, 0), (3, 0)]
    assert find_repeats([]) == []
