"""What the arguments of a numeric method must be; one form of message for all of them."""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.errors import OutOfRangeError, ShapeError


def as_columns(values: ArrayLike, name: str = "values") -> NDArray[np.float64]:
    """Copy one series, or many as rows, into a float64 array with infinities turned into NaN.

    Parameters
    ----------
    values : array-like of shape (n,) or (V, n)
        One series, or V of them. NaN marks a missing value; an infinite one says no more than a missing one.
    name : str
        Name of the argument for the message.

    Returns
    -------
    float64 array of the same shape
        A copy: the caller's array is never written to.

    Raises
    ------
    ShapeError
        With no axis or more than two.

    Examples
    --------
    >>> as_columns([1, float("inf")])
    array([ 1., nan])
    """
    columns = np.array(values, dtype=np.float64)
    if columns.ndim not in (1, 2):
        raise ShapeError(name, "one axis (n,) or two (series, n)", columns.shape)
    columns[~np.isfinite(columns)] = np.nan
    return columns


def as_times(times: ArrayLike, length: int) -> NDArray[np.float64]:
    """Copy a time axis into float64 and hold its length against that of the values.

    Parameters
    ----------
    times : array-like of shape (n,)
        Finite times [days, or whatever unit the slope shall be in].
    length : int
        Length that the values have.

    Returns
    -------
    float64 array of shape (n,)

    Raises
    ------
    ShapeError
        When the shape is not (length,).
    OutOfRangeError
        When a time is not finite.

    Examples
    --------
    >>> as_times([3, 5], 2)
    array([3., 5.])
    """
    axis = np.array(times, dtype=np.float64)
    if axis.shape != (length,):
        raise ShapeError("times", f"one value for each of the {length} places", axis.shape)
    if not np.isfinite(axis).all():
        raise OutOfRangeError("times", "finite", axis[~np.isfinite(axis)][0])
    return axis


def demand_positive(value: float, name: str, *, zero: bool = False) -> float:
    """Return a finite positive number unchanged.

    Parameters
    ----------
    value : float
        The number.
    name : str
        Name of the argument for the message.
    zero : bool
        Whether zero is allowed too.

    Raises
    ------
    OutOfRangeError
        When it is not finite, negative, or zero where that is not allowed.

    Examples
    --------
    >>> demand_positive(2.5, "limit")
    2.5
    """
    if not math.isfinite(value) or value < 0.0 or (value == 0.0 and not zero):
        raise OutOfRangeError(name, "zero or above" if zero else "above zero", value)
    return value


def demand_share(value: float, name: str, *, ends: bool = False) -> float:
    """Return a number between 0 and 1 unchanged.

    Parameters
    ----------
    value : float
        The number [1].
    name : str
        Name of the argument for the message.
    ends : bool
        Whether 0 and 1 themselves are allowed.

    Raises
    ------
    OutOfRangeError
        When it is not.

    Examples
    --------
    >>> demand_share(0.95, "confidence")
    0.95
    """
    inside = 0.0 <= value <= 1.0 if ends else 0.0 < value < 1.0
    if not inside:
        raise OutOfRangeError(name, "from 0 to 1" if ends else "between 0 and 1, ends excluded", value)
    return value
