"""Medians and orders within groups, against numpy's own."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from models.statistics.grouped import medians_within, order_within

PAIRS = st.lists(st.tuples(st.floats(-1e6, 1e6), st.integers(0, 6)), max_size=60)


@given(PAIRS, st.integers(1, 4))
def test_medians_are_numpys(pairs: list[tuple[float, int]], least: int) -> None:
    """Every group with enough values has numpy's median, and no other is named."""
    value = np.array([value for value, _ in pairs], dtype=np.float64)
    group = np.array([group for _, group in pairs], dtype=np.int64)

    groups, middle = medians_within(value, group, least=least)

    wanted = {place: value[group == place] for place in range(7) if (group == place).sum() >= least}
    assert groups.tolist() == list(wanted)
    np.testing.assert_allclose(middle, [np.median(values) for values in wanted.values()], rtol=1e-12)


@given(PAIRS)
def test_order_sorts_by_group_then_value(pairs: list[tuple[float, int]]) -> None:
    """Both ways of sorting, by radix and by two keys, give sorted values within sorted groups."""
    value = np.array([value for value, _ in pairs], dtype=np.float64)
    group = np.array([group for _, group in pairs], dtype=np.int64)

    for shift in (0, 1 << 17):
        order = order_within(value, group + shift)
        assert list(zip(group[order], value[order], strict=True)) == sorted(
            zip(group.tolist(), value.tolist(), strict=True)
        )
