"""Passwords: kept so that a stolen store gives none away, refused only where they are easy to guess."""

import pytest
from argon2 import PasswordHasher, extract_parameters
from argon2.low_level import Type
from hypothesis import given, settings
from hypothesis import strategies as st

from service.auth import passwords
from service.auth.errors import WeakPassword
from service.auth.passwords import check_password, hash_password, is_outdated, matches, random_password

GOOD = "seven quiet wrenches at dawn"


def test_parameters() -> None:
    """Passwords are hashed with Argon2id in the published strength (ASVS 5.0.0 V11.4.2)."""
    found = extract_parameters(hash_password(GOOD))

    assert (found.type, found.memory_cost, found.time_cost, found.parallelism) == (Type.ID, 19_456, 2, 1)
    assert found.salt_len >= 16


def test_salt() -> None:
    """Two persons with one password have two hashes, and neither holds the password."""
    first, second = hash_password(GOOD), hash_password(GOOD)

    assert first != second
    assert GOOD not in first
    assert matches(first, GOOD)


@settings(max_examples=10, deadline=None)
@given(st.text(min_size=1, max_size=100), st.text(min_size=1, max_size=3))
def test_exactly_as_typed(password: str, more: str) -> None:
    """A password is compared whole: nothing is cut, trimmed or folded (ASVS 5.0.0 V6.2.8)."""
    try:
        encoded = hash_password(password)
    except UnicodeEncodeError:
        return  # half a character cannot be typed

    assert matches(encoded, password)
    assert not matches(encoded, password + " ")
    assert not matches(encoded, more + password)


def test_nobodys_password() -> None:
    """Nobody's password is never right, whatever is tried, and hashing it costs the same."""
    assert not matches("", "")
    assert not matches("", GOOD)
    assert not matches("no hash at all", GOOD)
    assert not is_outdated(passwords._nobodys())


def test_outdated() -> None:
    """A hash of other parameters is made anew at the next sign-in."""
    assert is_outdated(PasswordHasher(time_cost=1, memory_cost=8192, parallelism=1).hash(GOOD))


@pytest.mark.parametrize(
    "password", [GOOD, "ÅngströmLampe und Öl 77", "x" * 3 + GOOD * 5, "correct horse battery"]
)
def test_good(password: str) -> None:
    """Long passwords, words and letters of every kind are taken (ASVS 5.0.0 V6.2.5, V6.2.9)."""
    check_password(password)


@pytest.mark.parametrize(
    ("password", "sentence"),
    [
        ("elevensigns", "at least 12"),
        ("x" * 201, "at most 200"),
        ("123456789012", "easy to guess"),
        ("q1w2e3r4t5y6", "easy to guess"),
        ("passwordpassword", "easy to guess"),
        ("ann.harrow.2031", "easy to guess"),
        ("forelampforelamp", "easy to guess"),
    ],
)
def test_refused(password: str, sentence: str) -> None:
    """Short and guessable passwords are refused with a reason that quotes nothing (V6.2.1, V6.2.4)."""
    with pytest.raises(WeakPassword, match=sentence) as refused:
        check_password(password, known=("ann.harrow",))

    assert password not in str(refused.value)


def test_common_passwords() -> None:
    """Every common password that is long enough is refused (ASVS 5.0.0 V6.2.4)."""
    from zxcvbn.frequency_lists import FREQUENCY_LISTS

    common = [one for one in FREQUENCY_LISTS["passwords"] if len(one) >= passwords.SHORTEST]
    assert len(common) > 200

    for password in common:
        with pytest.raises(WeakPassword):
            check_password(password)


def test_random_password() -> None:
    """A password that is handed over is random, easy to read out, and good enough to be kept."""
    found = {random_password() for _ in range(50)}

    assert len(found) == 50
    for password in found:
        assert len(password) == 24
        assert not set("01iloIO") & set(password)
        check_password(password)
