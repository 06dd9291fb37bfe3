"""Who may do what: tokens of devices and programs, and what their scopes allow.

Pure, but for `provider` and `talk`, which ask a sign-in provider over the network.
"""

from service.auth.errors import AuthError, InsufficientScope, InvalidToken, MissingToken, WrongToken
from service.auth.grants import ROLES_OF_SCOPE, Grant
from service.auth.tokens import SCOPES, ApiToken, digest_of, issue, read_bearer, verify

__all__ = [
    "ROLES_OF_SCOPE",
    "SCOPES",
    "ApiToken",
    "AuthError",
    "Grant",
    "InsufficientScope",
    "InvalidToken",
    "MissingToken",
    "WrongToken",
    "digest_of",
    "issue",
    "read_bearer",
    "verify",
]
