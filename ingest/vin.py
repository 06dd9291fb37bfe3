"""The vehicle identification number and its check digit.

References
----------
49 CFR 565.15 (letter values, weights, check digit in position 9). ISO 3779 leaves position 9 free outside
North America, so a wrong digit is a warning, never a refusal. A and J (and others) share a value: a right
digit proves little.
"""

from typing import Final

VIN_LENGTH: Final = 17
_WEIGHTS: Final = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
_DIGIT_PLACE: Final = 8
_LETTER_VALUES: Final = {
    **{letter: value for value, letter in enumerate("ABCDEFGH", start=1)},
    **{letter: value for value, letter in enumerate("JKLMN", start=1)},
    "P": 7,
    "R": 9,
    **{letter: value for value, letter in enumerate("STUVWXYZ", start=2)},
    **{str(digit): digit for digit in range(10)},
}


def find_shape_fault(vin: str) -> str | None:
    """Say what is wrong with length or letters; None when both are right.

    Examples
    --------
    >>> find_shape_fault("1O1111111111111IQ")
    'A VIN has no letters I, O, Q or signs; this one has I, O, Q.'
    """
    if len(vin) != VIN_LENGTH:
        return f"A VIN has {VIN_LENGTH} characters, this one has {len(vin)}."
    wrong = sorted(set(vin.upper()) - set(_LETTER_VALUES))
    if wrong:
        return f"A VIN has no letters I, O, Q or signs; this one has {', '.join(wrong)}."
    return None


def expect_digit(vin: str) -> str:
    """Compute the check digit that position 9 should hold.

    Parameters
    ----------
    vin : str
        Seventeen characters of the right letters; position 9 itself does not count.

    Raises
    ------
    ValueError
        Length or letters are wrong.

    Examples
    --------
    >>> expect_digit("1G4AH59H_5G118341".replace("_", "0"))
    '4'
    """
    fault = find_shape_fault(vin)
    if fault:
        raise ValueError(fault)
    letters = zip(vin.upper(), _WEIGHTS, strict=True)
    rest = sum(_LETTER_VALUES[letter] * weight for letter, weight in letters) % 11
    return "X" if rest == 10 else str(rest)


def check(vin: str) -> str | None:
    """Give a warning in words when the number looks mistyped; None when it does not.

    Examples
    --------
    >>> check("11111111111111111") is None
    True
    >>> check("11111111211111111")
    'Position 9 of the VIN is 2 but its other characters give 1: check for a typing error.'
    """
    fault = find_shape_fault(vin)
    if fault:
        return fault
    expected, found = expect_digit(vin), vin.upper()[_DIGIT_PLACE]
    if expected == found:
        return None
    return (
        f"Position 9 of the VIN is {found} but its other characters give {expected}: "
        "check for a typing error."
    )
