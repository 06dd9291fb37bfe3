"""What can go wrong when a caller shows who it is.

AuthError
├── MissingToken        nothing was shown
├── InvalidToken        what was shown is unknown, revoked or expired
├── InsufficientScope   it is valid, but does not allow this
└── WrongToken          a new token was asked for in a way that makes no sense
"""

# ruff: noqa: N818  (an error here is named after the fact it states)

from collections.abc import Sequence


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
