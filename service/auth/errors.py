"""What can go wrong when a caller shows who it is.

AuthError
├── MissingToken        nothing was shown
├── InvalidToken        what was shown is unknown, revoked or expired
├── InsufficientScope   it is valid, but does not allow this
├── WrongToken          a new token was asked for in a way that makes no sense
├── WrongPerson         an account was asked for in a way that makes no sense
├── WeakPassword        a password that is too short, too long or too easy to guess
├── ProviderFailed      the sign-in provider is away, or what it says is not believed
└── LastAdmin           nobody would be left who may look after accounts
"""

# ruff: noqa: N818  (an error here is named after the fact it states)

from collections.abc import Sequence
from typing import Literal

Failure = Literal["away", "nonsense", "unproven"]
"""What keeps a sign-in provider's word from counting: no answer, no sense in it, or no proof."""


class AuthError(Exception):
    """Anything wrong with a caller's credentials; `code` is stable."""

    code = "auth"


class MissingToken(AuthError):
    """The request carries no bearer token."""

    code = "token-missing"

    def __init__(self) -> None:
        super().__init__("This address needs the header 'Authorization: Bearer TOKEN'; none was sent.")


class InvalidToken(AuthError):
    """The token is malformed, unknown, revoked or expired; which one is not told to the caller."""

    code = "token-invalid"

    def __init__(self) -> None:
        super().__init__("The bearer token is not valid here: it is unknown, revoked or expired.")


class InsufficientScope(AuthError):
    """The token is valid but its scopes do not allow the request.

    Parameters
    ----------
    needed : str
        Scope that the request needs.
    held : sequence of str
        Scopes of the token.
    """

    code = "insufficient-scope"

    def __init__(self, needed: str, held: Sequence[str]) -> None:
        self.needed = needed
        self.held = tuple(held)
        has = ", ".join(self.held) or "none"
        super().__init__(f"This needs a token with the scope '{needed}'; the token's scopes are: {has}.")


class WrongToken(AuthError):
    """A token was asked for with a name, scope or vehicle list that cannot be meant.

    Parameters
    ----------
    field : str
        What is wrong: name, scopes or vehicles.
    detail : str
        One sentence: what was given and what is allowed.
    """

    code = "token-wrong"

    def __init__(self, field: str, detail: str) -> None:
        self.field = field
        super().__init__(detail)


class WrongPerson(AuthError):
    """An account was asked for with a login, role or depot that cannot be meant.

    Parameters
    ----------
    field : str
        What is wrong: login, role, depot or person.
    detail : str
        One sentence: what was given and what is allowed.
    """

    code = "person-wrong"

    def __init__(self, field: str, detail: str) -> None:
        self.field = field
        super().__init__(detail)


class WeakPassword(AuthError):
    """A password that is too short, too long or too easy to guess; it is never quoted.

    Parameters
    ----------
    detail : str
        One sentence: what is wrong and what is wanted.
    """

    code = "password-weak"

    def __init__(self, detail: str) -> None:
        super().__init__(detail)


class ProviderFailed(AuthError):
    """The sign-in provider is away, makes no sense, or does not prove who somebody is.

    Parameters
    ----------
    failure : Failure
        Which of the three.
    fact : str
        What was looked at, a word or two: `signature`, `nonce`; never a content.
    """

    code = "provider-failed"

    def __init__(self, failure: Failure, fact: str) -> None:
        self.failure = failure
        self.fact = fact
        said = {"away": "does not answer", "nonsense": "gave no usable answer", "unproven": "is not believed"}
        super().__init__(f"The sign-in provider {said[failure]}: {fact}.")


class LastAdmin(AuthError):
    """Nobody would be left who may look after accounts.

    Parameters
    ----------
    login : str
        The one administrator who can sign in.
    """

    code = "last-admin"

    def __init__(self, login: str) -> None:
        self.login = login
        super().__init__(
            f"'{login}' is the last administrator who can sign in. Make another one first, then try again."
        )
