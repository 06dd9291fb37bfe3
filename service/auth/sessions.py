"""Sign-ins of people: a random cookie kept as a digest, and two ends to it."""

import hashlib
import hmac
import secrets
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Final

COOKIE_BYTES: Final = 32
"""256 random bits; ASVS 5.0.0 V7.2.3 asks for 128. As with tokens, a fast digest is enough to keep it."""

COOKIE: Final = "forelamp"
"""Name of the cookie on this machine."""

TLS_COOKIE: Final = "__Host-forelamp"
"""Its name behind TLS: browsers take the prefix only with Secure, without Domain, for the whole site
(RFC 6265bis section 4.1.3.2)."""

TOUCH_AFTER: Final = timedelta(minutes=1)
"""How old the note of the last use gets before it is written anew; chosen by us: one write a minute."""


def new_cookie(random_text: Callable[[int], str] = secrets.token_urlsafe) -> str:
    """Make the secret of a cookie.

    Parameters
    ----------
    random_text : callable
        Source of randomness: bytes wanted in, URL-safe text out. Other than the default in tests only.
    """
    return random_text(COOKIE_BYTES)


def form_token_of(cookie: str, purpose: str = "form") -> str:
    """Derive what forms send back from the cookie: nobody who cannot read the cookie knows it.

    Parameters
    ----------
    cookie : str
        Secret of a cookie that only this browser has.
    purpose : str
        Another purpose gives another token.

    Returns
    -------
    str
        HMAC-SHA256, 64 hexadecimal digits. It does not give the cookie away.
    """
    return hmac.new(cookie.encode("utf-8", "surrogateescape"), purpose.encode(), hashlib.sha256).hexdigest()


def seconds_left(
    now: datetime, *, seen_at: datetime, expires_at: datetime, idle: timedelta
) -> tuple[int, bool]:
    """Tell how long a sign-in lasts unless it is used, and whether using it puts its end off.

    Parameters
    ----------
    now : datetime
        Aware.
    seen_at, expires_at, idle
        As in `is_over`.

    Returns
    -------
    tuple of (int, bool)
        Whole seconds, 0 when it is over; whether the end that comes first is that without use.

    Examples
    --------
    >>> from datetime import UTC
    >>> at = datetime(2031, 3, 4, 12, tzinfo=UTC)
    >>> hour = timedelta(hours=1)
    >>> seconds_left(at, seen_at=at, expires_at=at + 5 * hour, idle=hour)
    (3600, True)
    >>> seconds_left(at, seen_at=at, expires_at=at + hour / 2, idle=hour)
    (1800, False)
    """
    can_stay = seen_at + idle < expires_at
    end = min(seen_at + idle, expires_at)
    return max(0, int((end - now).total_seconds())), can_stay


def is_over(
    now: datetime, *, seen_at: datetime, expires_at: datetime, idle: timedelta, disabled: bool
) -> bool:
    """Tell whether a sign-in has ended.

    Parameters
    ----------
    now : datetime
        Aware.
    seen_at, expires_at : datetime
        Last use, and the end however much it is used; aware.
    idle : timedelta
        Longest time without use.
    disabled : bool
        Whether the account is disabled.

    Examples
    --------
    >>> from datetime import UTC
    >>> at = datetime(2031, 3, 4, 12, tzinfo=UTC)
    >>> hour = timedelta(hours=1)
    >>> is_over(at, seen_at=at - hour, expires_at=at + hour, idle=hour, disabled=False)
    False
    >>> is_over(at, seen_at=at - 2 * hour, expires_at=at + hour, idle=hour, disabled=False)
    True
    """
    return disabled or now >= expires_at or now - seen_at > idle
