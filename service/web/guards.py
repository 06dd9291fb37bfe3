"""Who may pass: the bearer token of each API request against the store."""

from collections.abc import Callable
from dataclasses import dataclass

from fastapi import Request

from service.auth import Grant, digest_of, read_bearer, verify
from service.web.errors import TooManyRequests
from service.web.readers import Allow
from service.web.shell import whole_shell_of


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
    shell = whole_shell_of(request)
    secret = read_bearer(request.headers.get("authorization"))
    with shell.store.begin(readonly=True) as work:
        kept = work.find_token(digest_of(secret))
    now = shell.clock.now()
    grant = Grant.of(verify(secret, kept, now))
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
        if scope == "send":
            _spend(request)

    return guard


def _spend(request: Request) -> None:
    """Count a request with snapshots against what its token may send.

    Raises
    ------
    TooManyRequests
        The token has sent as much as it may within a minute.
    """
    shell = whole_shell_of(request)
    if shell.settings.sends_per_minute:
        wait_s = shell.quota.take(grant_of(request).name, shell.clock.now(), shell.settings.sends_per_minute)
        if wait_s:
            raise TooManyRequests(wait_s)


@dataclass(frozen=True, slots=True)
class AllowToken(Allow):
    """The guard of a route for people and their programs: a role with the right, or a token with the scope.

    Parameters
    ----------
    right : Right
        For people.
    scope : str
        For programs, which show a bearer token.
    """

    scope: str

    def __call__(self, request: Request) -> None:
        """Pass, or refuse as the guard of people or of tokens does."""
        if "authorization" in request.headers:
            recognise(request).require(self.scope)
        else:
            Allow.__call__(self, request)


def grant_of(request: Request) -> Grant:
    """Read what the guard recognised."""
    grant: Grant = request.state.grant
    return grant
