"""Who may pass: the bearer token of each API request against the store."""

from collections.abc import Callable

from fastapi import Request

from service.auth import Grant, digest_of, read_bearer, verify
from service.web.shell import shell_of


def recognise(request: Request) -> Grant:
    """Recognise the caller.

    Parameters
    ----------
    request : Request
        With the header Authorization.

    Returns
    -------
    Grant
        What the caller may do.

    Raises
    ------
    MissingToken, InvalidToken
        Nothing valid was shown.
    """
    shell = shell_of(request)
    secret = read_bearer(request.headers.get("authorization"))
    with shell.store.begin(readonly=True) as work:
        kept = work.find_token(digest_of(secret))
    grant = Grant.of(verify(secret, kept, shell.clock.now()))
    request.state.caller = grant.name
    request.state.grant = grant
    return grant


def require(scope: str) -> Callable[[Request], None]:
    """Make the guard of a route.

    Parameters
    ----------
    scope : str
        Scope that the caller's token must have; `admin` has them all.

    Returns
    -------
    callable
        For the framework's dependencies; runs in a worker thread.
    """

    def guard(request: Request) -> None:
        recognise(request).require(scope)

    return guard


def grant_of(request: Request) -> Grant:
    """Read what the guard recognised."""
    grant: Grant = request.state.grant
    return grant
