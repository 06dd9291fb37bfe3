"""Check digits of vehicle identification numbers, as published."""

import pytest

from ingest.vin import check, expect_digit

# number with position 9 open, and its digit: the table of 49 CFR 565.15, the guide of the highway safety
# agency, and two numbers carried by public libraries
PUBLISHED = (
    ("1G4AH59H_5G118341", "4"),
    ("1J9RP1A3_A1644345", "6"),
    ("1M8GDM9A_KP042788", "X"),
    ("1FACP45E_LF192944", "X"),
    ("11111111_11111111", "1"),
)


@pytest.mark.parametrize(("number", "digit"), PUBLISHED)
def test_published_digits(number: str, digit: str) -> None:
    """The digit of each published number comes out."""
    assert expect_digit(number.replace("_", "0")) == digit
    assert check(number.replace("_", digit)) is None


@pytest.mark.parametrize(("number", "digit"), PUBLISHED)
def test_any_wrong_digit_warns(number: str, digit: str) -> None:
    """Every other digit in position 9 is named as wrong, with the expected one."""
    for other in "0123456789X":
        warning = check(number.replace("_", other))
        assert (warning is None) == (other == digit)
        assert warning is None or f"give {digit}" in warning


def test_accepted_number_with_x() -> None:
    """The number 10000000X00000001 passes."""
    assert check("10000000X00000001") is None


def test_one_changed_digit_warns() -> None:
    """Changing any one digit of seventeen ones is noticed."""
    for place in range(17):
        if place != 8:
            changed = "1" * place + "2" + "1" * (16 - place)
            assert check(changed), place


def test_letters_of_one_value_pass() -> None:
    """A and J share a value, so swapping them stays unseen: passing proves little."""
    assert check("11111111111111A11".replace("A", "J")) == check("11111111111111A11")
