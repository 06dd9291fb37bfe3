"""Passwords: hashed so that a stolen store gives none away, refused where they are easy to guess."""

import secrets
from collections.abc import Callable, Sequence
from functools import cache
from typing import Final

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from argon2.low_level import Type

from service.auth.errors import WeakPassword

MEMORY_KIB: Final = 19_456
PASSES: Final = 2
LANES: Final = 1
"""Argon2id with 19 MiB, two passes, one lane: OWASP Password Storage sheet, Argon2id. ASVS 5.0.0 V11.4.2."""

SHORTEST: Final = 12
"""Fewest characters; ASVS 5.0.0 V6.2.1 asks for 8 and advises 15; chosen by us in between."""

LONGEST: Final = 200
"""Most characters, so that nobody sends megabytes to be hashed; ASVS 5.0.0 V6.2.9 asks for 64 or more."""

WANTED_SCORE: Final = 3
"""Of 4 in the scale of zxcvbn (Wheeler 2016, USENIX Security): over 10^8 guesses."""

_SCORED: Final = 72
"""Characters that are scored; what follows can only make a password stronger. The library's own limit."""

_SIGNS: Final = "abcdefghjkmnpqrstuvwxyz23456789"
_GROUPS: Final = 5
_GROUP: Final = 4

_HASHER: Final = PasswordHasher(
    time_cost=PASSES, memory_cost=MEMORY_KIB, parallelism=LANES, hash_len=32, salt_len=16, type=Type.ID
)


def hash_password(password: str) -> str:
    """Hash a password with a salt of its own.

    Parameters
    ----------
    password : str
        Exactly as typed: never cut, trimmed or changed (ASVS 5.0.0 V6.2.8).

    Returns
    -------
    str
        Algorithm, parameters, salt and hash in one text.
    """
    return _HASHER.hash(password)


def matches(encoded: str, password: str) -> bool:
    """Tell whether a password is the one that was hashed.

    Parameters
    ----------
    encoded : str
        From `hash_password`; empty for nobody's, which costs the same work and is never right.
    password : str
        As typed.
    """
    stand_in = _nobodys()  # made by the first call of a process, whoever it is for
    try:
        return _HASHER.verify(encoded or stand_in, password) and encoded != ""
    except (VerificationError, InvalidHashError):
        return False


def is_outdated(encoded: str) -> bool:
    """Tell whether a hash was made with other parameters than today's, and is to be made anew."""
    return _HASHER.check_needs_rehash(encoded)


@cache
def _nobodys() -> str:
    return _HASHER.hash(secrets.token_urlsafe(32))


def check_password(password: str, *, known: Sequence[str] = ()) -> None:
    """Pass only a password that is fit to be kept.

    Parameters
    ----------
    password : str
        As typed. No kinds of characters are asked for (ASVS 5.0.0 V6.2.5).
    known : sequence of str
        What others know of the person, such as the login: worth nothing in a password.

    Raises
    ------
    WeakPassword
        Too short, too long, or found with few guesses: common passwords (30,000 of them, ASVS 5.0.0 V6.2.4),
        words, names, dates and rows of keys.
    """
    if len(password) < SHORTEST:
        raise WeakPassword(f"A password has at least {SHORTEST} characters; this one has {len(password)}.")
    if len(password) > LONGEST:
        raise WeakPassword(f"A password has at most {LONGEST} characters; this one has {len(password)}.")
    # Its lists of words take a moment to load, and most runs of the program never need them.
    from zxcvbn import zxcvbn

    words = [*known, "forelamp"]
    if zxcvbn(password[:_SCORED], user_inputs=words, max_length=_SCORED)["score"] < WANTED_SCORE:
        raise WeakPassword(
            "The password is easy to guess: it is common, or made of common words, names, dates or keys in a"
            " row. Several words that do not belong together are easy to keep in mind and hard to guess."
        )


def random_password(choose: Callable[[str], str] = secrets.choice) -> str:
    """Make a password to be handed to somebody: 20 signs in groups, 99 bits.

    Parameters
    ----------
    choose : callable
        Picks one sign of many. Other than the default in tests only.
    """
    return "-".join("".join(choose(_SIGNS) for _ in range(_GROUP)) for _ in range(_GROUPS))
