"""Bearer tokens of devices and programs: random, shown once, kept only as a digest."""

import hashlib
import hmac
import re
import secrets
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from service.auth.errors import InvalidToken, MissingToken, WrongToken

SCOPES: Final = ("send", "read", "work", "admin")
"""send: post snapshots; read: lists and exports; work: work records and ticket events; admin: all of it, and
vehicles, spec sheets, aliases and quarantine."""

MARK: Final = "flt_"
"""Start of every token, so that scanners for leaked secrets can find one."""

SECRET_BYTES: Final = 32
"""256 random bits: guessing is hopeless, so a fast digest without salt is enough to keep it."""

PREFIX_LENGTH: Final = len(MARK) + 6
"""Characters of the token that lists may show: enough to recognise it, 36 of its 256 bits."""

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ._-]{0,63}\Z")
_TOKEN = re.compile(r"flt_[A-Za-z0-9_-]{43}\Z")
_BEARER = re.compile(r"bearer +(\S+) *\Z", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class ApiToken:
    """One token as it is kept: never the secret itself.

    Parameters
    ----------
    name : str
        Unique name given by whoever issued it.
    prefix : str
        First characters of the token, to recognise it in lists.
    digest : str
        SHA-256 of the whole token, 64 hexadecimal digits.
    scopes : tuple of str
        Some of `SCOPES`.
    vehicles : tuple of str
        Vehicles for which it may send snapshots; empty for all.
    created_at : datetime
        Aware UTC.
    expires_at, revoked_at : datetime or None
        Aware UTC; None where it does not expire, or is not revoked.
    """

    name: str
    prefix: str
    digest: str
    scopes: tuple[str, ...]
    vehicles: tuple[str, ...] = ()
    created_at: datetime
    expires_at: datetime | None = None
    revoked_at: datetime | None = None

    def has_ended(self, now: datetime) -> bool:
        """Tell whether it was revoked, or has expired by a time [aware]."""
        return self.revoked_at is not None or (self.expires_at is not None and self.expires_at <= now)


def digest_of(secret: str) -> str:
    """Compute the digest under which a token is kept.

    Parameters
    ----------
    secret : str
        The whole token as the caller sends it.

    Returns
    -------
    str
        SHA-256, 64 hexadecimal digits.
    """
    return hashlib.sha256(secret.encode("utf-8", "surrogateescape")).hexdigest()


def issue(
    name: str,
    scopes: Sequence[str],
    *,
    now: datetime,
    vehicles: Sequence[str] = (),
    expires_at: datetime | None = None,
    random_text: Callable[[int], str] = secrets.token_urlsafe,
) -> tuple[str, ApiToken]:
    """Make a new token.

    Parameters
    ----------
    name : str
        1-64 letters, digits, spaces, dots, dashes and underscores, starting with a letter or digit.
    scopes : sequence of str
        At least one of `SCOPES`.
    now : datetime
        Time of issue, aware UTC.
    vehicles : sequence of str
        Limits the scope `send` to these vehicles; empty for all.
    expires_at : datetime or None
        When it ends; None for never.
    random_text : callable
        Source of randomness: bytes wanted in, URL-safe text out. Other than the default in tests only.

    Returns
    -------
    tuple of (str, ApiToken)
        The secret, to be shown once and never kept, and what is kept.

    Raises
    ------
    WrongToken
        The name, a scope or the vehicle list makes no sense.
    """
    if _NAME.match(name) is None:
        raise WrongToken(
            "name",
            f"A token's name is 1-64 letters, digits, spaces, dots, dashes or underscores; {name!r} is not.",
        )
    _check_scopes(scopes, vehicles)
    if expires_at is not None and expires_at <= now:
        raise WrongToken("expires_at", f"The token would have ended already: {expires_at.isoformat()}.")
    secret = MARK + random_text(SECRET_BYTES)
    token = ApiToken(
        name=name,
        prefix=secret[:PREFIX_LENGTH],
        digest=digest_of(secret),
        scopes=tuple(scope for scope in SCOPES if scope in scopes),
        vehicles=tuple(sorted(set(vehicles))),
        created_at=now,
        expires_at=expires_at,
    )
    return secret, token


def _check_scopes(scopes: Sequence[str], vehicles: Sequence[str]) -> None:
    unknown = [scope for scope in scopes if scope not in SCOPES]
    if unknown or not scopes:
        given = ", ".join(unknown) or "none"
        raise WrongToken("scopes", f"A token's scopes are among {', '.join(SCOPES)}; given: {given}.")
    if vehicles and (set(scopes) != {"send"} or "" in vehicles):
        raise WrongToken(
            "vehicles",
            "A list of vehicles limits tokens that only send; it holds fleet numbers and no other scope.",
        )


def read_bearer(header: str | None) -> str:
    """Take the token out of an Authorization header (RFC 6750 section 2.1).

    Parameters
    ----------
    header : str or None
        Value of the header; None when it was not sent.

    Returns
    -------
    str
        The token as sent, in the right form, not yet known to be valid.

    Raises
    ------
    MissingToken
        No header, or one of another scheme.
    InvalidToken
        A bearer token that cannot be one of ours.
    """
    found = _BEARER.match(header or "")
    if found is None:
        raise MissingToken
    if _TOKEN.match(found[1]) is None:
        raise InvalidToken
    return found[1]


def verify(secret: str, kept: ApiToken | None, now: datetime) -> ApiToken:
    """Check a token against what is kept under its digest.

    Parameters
    ----------
    secret : str
        As sent.
    kept : ApiToken or None
        What the store found for it.
    now : datetime
        Aware UTC.

    Returns
    -------
    ApiToken
        `kept`, when it is valid.

    Raises
    ------
    InvalidToken
        Unknown, revoked, expired or another token.
    """
    # Compared in constant time although the look-up by digest came first: what the store found must
    # not be trusted to be what was asked for.
    if kept is None or not hmac.compare_digest(kept.digest, digest_of(secret)):
        raise InvalidToken
    if kept.has_ended(now):
        raise InvalidToken
    return kept
