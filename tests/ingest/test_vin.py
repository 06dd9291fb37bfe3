"""The VIN's shape; its digit is held against published numbers elsewhere."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ingest.vin import check, expect_digit, find_shape_fault


@pytest.mark.parametrize("vin", ["", "123", "1" * 18])
def test_length(vin: str) -> None:
    """Seventeen characters, or a warning that says how many there are."""
    assert f"this one has {len(vin)}" in str(check(vin))


@pytest.mark.parametrize("letter", ["I", "O", "Q", "-", "i"])
def test_letters(letter: str) -> None:
    """I, O, Q and signs are named in the warning."""
    assert letter.upper() in str(find_shape_fault("1" * 16 + letter))


def test_expecting_a_digit_needs_a_vin() -> None:
    """No digit is made up for what is no VIN."""
    with pytest.raises(ValueError, match="17 characters"):
        expect_digit("123")


@given(st.text(max_size=20))
def test_any_text_gets_an_answer(text: str) -> None:
    """No text breaks the check."""
    assert check(text) is None or isinstance(check(text), str)
