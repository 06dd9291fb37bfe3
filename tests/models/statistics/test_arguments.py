"""What a method's arguments must be, and what is said when they are not."""

import numpy as np
import pytest

from models.errors import ModelError, OutOfRangeError, ShapeError
from models.statistics.arguments import as_columns, as_times, demand_positive, demand_share


def test_infinite_becomes_missing() -> None:
    """Infinities turn into NaN in a copy."""
    given = np.array([1.0, -np.inf])

    assert np.isnan(as_columns(given)[1])
    assert np.isinf(given[1])


def test_a_scalar_is_no_series() -> None:
    """A single number is refused with its shape."""
    with pytest.raises(ShapeError, match=r"values must have one axis.*shape was \(\)") as caught:
        as_columns(3.0)
    assert caught.value.shape == ()


def test_times_fit_the_values() -> None:
    """A time axis of another length, or with a gap, is refused."""
    with pytest.raises(ShapeError, match="each of the 3 places"):
        as_times([1.0, 2.0], 3)
    with pytest.raises(OutOfRangeError, match="finite"):
        as_times([1.0, np.nan], 2)


@pytest.mark.parametrize("value", [0.0, -1.0, float("nan"), float("inf")])
def test_positive(value: float) -> None:
    """Zero, negative, NaN and infinite are not positive; zero only where it is allowed."""
    with pytest.raises(OutOfRangeError, match="limit must be above zero"):
        demand_positive(value, "limit")
    assert demand_positive(0.0, "limit", zero=True) == 0.0


@pytest.mark.parametrize("value", [0.0, 1.0, 1.5, float("nan")])
def test_share(value: float) -> None:
    """A share lies between 0 and 1; its ends only where they are allowed."""
    with pytest.raises(OutOfRangeError, match="between 0 and 1"):
        demand_share(value, "confidence")
    assert demand_share(1.0, "confidence", ends=True) == 1.0


def test_errors_carry_facts_and_a_code() -> None:
    """Every error of a model is a ValueError with a stable code, and keeps what, allowed and value."""
    for kind in (ModelError, ShapeError, OutOfRangeError):
        assert issubclass(kind, ValueError)
        assert kind.code
    error = OutOfRangeError("weight", "above 0", -1)
    assert (error.name, error.allowed, error.value) == ("weight", "above 0", -1)
