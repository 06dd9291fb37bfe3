"""Signing in through a provider: leaving for it, and coming back as somebody who is registered here.

One cookie that only the browser has stands behind all secrets of one try, so that what another browser began,
or what was used before, opens nothing.
"""

import hmac
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from starlette.requests import Request
from starlette.responses import Response

from dashboards.sign_in import Reason
from service.auth import digest_of
from service.auth.errors import ProviderFailed
from service.auth.sessions import form_token_of, new_cookie
from service.auth.tries import key_of
from service.settings import Settings
from service.store import Departure, Person
from service.web.entry import Entered, let_in
from service.web.readers import AWAY_COOKIE, TLS_AWAY_COOKIE, reader_of
from service.web.shell import Shell, address_of

if TYPE_CHECKING:
    from service.auth.provider import Proven, Provider

AWAY_AT_ONCE: Final = 50
"""Sign-ins under way from one address; chosen by us: a whole workshop may stand behind one."""

LONGEST_CODE: Final = 4_000
"""Longest code that is passed on [characters]; chosen by us, several times what providers give."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Refused:
    """Nobody was signed in.

    Parameters
    ----------
    reason : Reason
        Why, as the page says it.
    login : str
        As the provider says, where it did prove it; else empty.
    """

    reason: Reason
    login: str = ""


def leave(
    request: Request,
    shell: Shell,
    provider: "Provider",
    *,
    following: str,
    action: str,
    draft: tuple[tuple[str, str], ...],
) -> tuple[str, str] | Refused:
    """Send a browser to the provider.

    Parameters
    ----------
    request : Request
        Of the form that asks for it.
    shell : Shell
        With the whole store.
    provider : Provider
        Where to.
    following, action, draft
        Where to go afterwards, and the form that waits, as in `Departure`.

    Returns
    -------
    tuple of (str, str) or Refused
        Address at the provider, and the secret of the cookie.
    """
    now, cookie, source = shell.clock.now(), new_cookie(), key_of("address", address_of(request))
    departure = Departure(
        digest=digest_of(cookie), source=source, at=now, following=following, action=action, draft=draft
    )
    # Counted before the provider is asked: one that does not answer lets nobody fill the log either.
    with shell.store.begin() as work:
        if work.departures_from(source, now) >= AWAY_AT_ONCE:
            return Refused(reason="under_way")
        work.put_departure(departure)
        work.commit()
    try:
        return provider.address_for(**_secrets(cookie), now=now), cookie
    except ProviderFailed as failed:
        return _refuse(request, shell, failed)


def arrive(
    request: Request, shell: Shell, provider: "Provider"
) -> tuple[Entered | Refused, Departure | None]:
    """Take a browser back from the provider.

    Parameters
    ----------
    request : Request
        With what the provider gave along: state and code, or state and error.
    shell : Shell
        With the whole store.
    provider : Provider
        Where it comes from.

    Returns
    -------
    tuple of (Entered or Refused, Departure or None)
        Who is signed in, or why nobody is; and what was kept when it left.
    """
    cookie = request.cookies.get(away_name(shell.settings), "")
    secrets, told = _secrets(cookie), request.query_params
    now = shell.clock.now()
    if not cookie or not hmac.compare_digest(told.get("state", "").encode(), secrets["state"].encode()):
        return Refused(reason="late"), None  # anybody can open this address: nothing is written for it
    with shell.store.begin() as work:
        left = work.take_departure(digest_of(cookie), now)
        work.commit()
    if left is None:
        return Refused(reason="late"), None
    if "error" in told:
        return _note(request, shell, "cancelled", "error"), left
    code = told.get("code", "")
    if not 0 < len(code) <= LONGEST_CODE:
        return _note(request, shell, "nonsense", "code"), left
    try:
        proven = provider.ask(
            code,
            nonce=secrets["nonce"],
            verifier=secrets["verifier"],
            now=now,
            said_issuer=told.get("iss"),
        )
    except ProviderFailed as failed:
        return _refuse(request, shell, failed), left
    return _enter(request, shell, proven), left


def _secrets(cookie: str) -> dict[str, str]:
    """Derive state, nonce and PKCE verifier of one try from its cookie: none gives away another."""
    return {name: form_token_of(cookie, f"provider {name}") for name in ("state", "nonce", "verifier")}


def _enter(request: Request, shell: Shell, proven: "Proven") -> Entered | Refused:
    """Sign in whoever is registered, and the same at the provider as the first time."""
    login = proven.login
    with shell.store.begin() as work:
        person: Person | None = work.person(login)
        if person is not None and person.disabled_at is None and work.tie_person(login, proven.subject):
            entered = let_in(
                work,
                shell,
                person,
                old_session=reader_of(request).session,
                address=address_of(request),
                way="provider",
                note="through the provider",
            )
            work.commit()
            return entered
    if person is None:
        return _note(request, shell, "nobody", "not registered", login)
    if person.disabled_at is not None:
        return _note(request, shell, "disabled", "disabled", login, subject=person.login)
    return _note(request, shell, "other_person", "not who came before", login, subject=person.login)


def _refuse(request: Request, shell: Shell, failed: ProviderFailed) -> Refused:
    return _note(request, shell, failed.failure, f"{failed.failure}, {failed.fact}")


def _note(
    request: Request, shell: Shell, reason: Reason, fact: str, login: str = "", subject: str = "unknown login"
) -> Refused:
    """Write a refusal down: what failed, never what was sent; whom nobody registered is not named."""
    with shell.store.begin() as work:
        work.log_event(
            at=shell.clock.now(),
            who="nobody",
            what="sign-in refused",
            subject=subject,
            after=f"provider: {fact}",
            source=address_of(request),
        )
        work.commit()
    return Refused(reason=reason, login=login)


def away_name(settings: Settings) -> str:
    """Give the name of the cookie of a browser under way: behind TLS no other site can set it."""
    return TLS_AWAY_COOKIE if settings.tls_in_front else AWAY_COOKIE


def set_away(answer: Response, cookie: str, settings: Settings) -> None:
    """Give the browser the cookie of its way; strict would lose it on the way back from another site."""
    answer.set_cookie(
        away_name(settings), cookie, path="/", secure=settings.tls_in_front, httponly=True, samesite="lax"
    )


def clear_away(answer: Response, settings: Settings) -> None:
    """Take that cookie back."""
    answer.delete_cookie(
        away_name(settings), path="/", secure=settings.tls_in_front, httponly=True, samesite="lax"
    )
