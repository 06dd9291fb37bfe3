"""Which columns a joint score can digest."""

import numpy as np

from models.statistics.columns import usable_columns


def test_a_mixture_of_others_is_left_out() -> None:
    """A column that is a sum of two others, in other units, says nothing new."""
    rows = np.random.default_rng(0).normal(size=(40, 2))
    table = np.column_stack([rows, 1e4 * (rows[:, 0] - rows[:, 1]) + 7.0])

    kept, dropped = usable_columns(table, ("a", "b", "c"))

    assert kept == [0, 1]
    assert dropped == (("c", "follows from the features before it"),)


def test_with_few_rows_only_repeats_are_left_out() -> None:
    """With fewer than five rows a column every column follows from the others; only plain repeats go."""
    rows = np.random.default_rng(1).normal(size=(9, 8))
    table = np.column_stack([rows, -rows[:, 0]])

    kept, dropped = usable_columns(table, tuple("abcdefghi"))

    assert kept == list(range(8))
    assert [name for name, _ in dropped] == ["i"]


def test_trim_steps_are_digested() -> None:
    """A trim in 0.78 % steps with a usual spread stays; one at rest in half the fleet goes."""
    rng = np.random.default_rng(2)
    spread = np.round(rng.normal(0.0, 2.5, 200) / 0.78125) * 0.78125
    resting = np.where(rng.random(200) < 0.5, 0.0, spread)

    kept, dropped = usable_columns(np.column_stack([spread, resting]), ("spread", "resting"))

    assert kept == [0]
    assert "share one value" in dropped[0][1]
