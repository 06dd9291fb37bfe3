"""Order values within groups and give their medians, fast for many values in few groups."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

Places = NDArray[np.int64] | NDArray[np.int32]

_FEW: Final = 1 << 16


def order_within(value: NDArray[np.float64], group: Places) -> NDArray[np.int64]:
    """Give the order that sorts by group, then value.

    Faster than a sort by two keys.

    Parameters
    ----------
    value : float64 array of shape (n,)
    group : int64 or int32 array of shape (n,)
        From 0.

    Returns
    -------
    int64 array of shape (n,)

    Examples
    --------
    >>> order_within(np.array([3.0, 1.0, 2.0]), np.array([0, 1, 0])).tolist()
    [2, 0, 1]
    """
    by_value = np.argsort(value)
    return by_value[sort_small(group[by_value])]


def sort_small(number: Places) -> NDArray[np.int64]:
    """Give the stable order of numbers from 0: below 65,536 in one pass, numpy's radix sort of 16 bits.

    Parameters
    ----------
    number : int64 or int32 array of shape (n,)

    Returns
    -------
    int64 array of shape (n,)

    Examples
    --------
    >>> sort_small(np.array([2, 0, 2, 1])).tolist()
    [1, 3, 0, 2]
    """
    few = not len(number) or int(number.max()) < _FEW
    return np.argsort(number.astype(np.uint16) if few else number, kind="stable")


def medians_within(
    value: NDArray[np.float64], group: Places, *, least: int = 1
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Give the median of every group with enough values.

    Parameters
    ----------
    value : float64 array of shape (n,)
        Without NaN.
    group : int64 or int32 array of shape (n,)
        From 0.
    least : int
        Values without which a group has no median.

    Returns
    -------
    groups : int64 array of shape (g,)
        Sorted.
    middle : float64 array of shape (g,)

    Examples
    --------
    >>> groups, middle = medians_within(np.array([3.0, 1.0, 2.0, 9.0]), np.array([0, 0, 0, 4]), least=2)
    >>> groups.tolist(), middle.tolist()
    ([0], [2.0])
    """
    order = order_within(value, group)
    groups, start, count = np.unique(group[order], return_index=True, return_counts=True)
    enough = count >= least
    groups, start, count = groups[enough], start[enough], count[enough]
    ordered = value[order]
    middle: NDArray[np.float64] = (ordered[start + (count - 1) // 2] + ordered[start + count // 2]) / 2
    return groups.astype(np.int64), middle
