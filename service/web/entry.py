"""Signing in and out: the same answer and the same work whether or not there is such an account."""

import threading
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from starlette.responses import Response

from service.auth import digest_of
from service.auth.passwords import hash_password, is_outdated, matches
from service.auth.sessions import form_token_of, new_cookie
from service.auth.tries import FORGET_AFTER, FREE_TRIES, FREE_TRIES_ADDRESS, key_of, wait_after
from service.settings import Settings
from service.store import Person, SignIn, Work
from service.web.errors import TooManyRequests
from service.web.readers import Reader, cookie_name, reader_for, visit_name
from service.web.shell import Shell

HASHES_AT_ONCE: Final = 4
"""Passwords hashed at one time, 19 MiB each; chosen by us: guessing cannot take the memory of the rest."""

_HASHING = threading.BoundedSemaphore(HASHES_AT_ONCE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Entered:
    """A new sign-in.

    Parameters
    ----------
    cookie : str
        Secret of its cookie, for the browser only.
    reader : Reader
        Who is signed in.
    """

    cookie: str
    reader: Reader


def sign_in(
    shell: Shell, login: str, password: str, *, address: str, old_session: str = ""
) -> Entered | None:
    """Sign a person in.

    Parameters
    ----------
    shell : Shell
        With the whole store.
    login, password : str
        As typed; the login's case does not matter.
    address : str
        Where the try comes from.
    old_session : str
        Digest of this browser's sign-in so far, which ends; empty for none.

    Returns
    -------
    Entered or None
        None when login and password do not fit, the account is disabled, or the password was set by somebody
        else too long ago. Which of them is not told.

    Raises
    ------
    TooManyRequests
        Too many tries for this login, or from this address, whether or not there is such an account.
    """
    login = login.casefold()
    person = _count_try(shell, login, address)
    usable = person is not None and person.disabled_at is None
    if person is not None and person.password_until is not None:
        usable = usable and shell.clock.now() < person.password_until
    encoded = person.password if person is not None and usable else ""
    with _HASHING:
        right = matches(encoded, password)
        anew = hash_password(password) if right and is_outdated(encoded) else ""
    if person is None or not right:
        _refuse(shell, person, address)
        return None
    with shell.store.begin() as work:
        if anew:
            work.renew_hash(person.login, encoded, anew)
        work.forget_attempts(key=key_of("login", login), before=shell.clock.now() - FORGET_AFTER)
        entered = let_in(work, shell, person, old_session=old_session, address=address)
        work.commit()
    return entered


def let_in(
    work: Work,
    shell: Shell,
    person: Person,
    *,
    old_session: str,
    address: str,
    way: str = "password",
    note: str = "",
) -> Entered:
    """Begin a sign-in in place of the browser's old one, and write it down; not committed here.

    Parameters
    ----------
    work : Work
        For writing.
    shell : Shell
    person : Person
        Who has proved to be that.
    old_session : str
        Digest of the sign-in that ends; empty for none.
    address : str
        Where from.
    way : str
        How it was proved.
    note : str
        The same for the event log; empty for a password.
    """
    now, entered = shell.clock.now(), begin_session(work, shell, person, way)
    work.end_sign_in(old_session)
    work.end_sign_ins(expired_by=now)
    work.log_event(
        at=now, who=person.login, what="signed in", subject=person.login, after=note, source=address
    )
    return entered


def begin_session(work: Work, shell: Shell, person: Person, way: str = "password") -> Entered:
    """Keep a new sign-in under a new cookie; not committed here."""
    now, cookie = shell.clock.now(), new_cookie()
    kept = SignIn(
        digest=digest_of(cookie),
        login=person.login,
        created_at=now,
        expires_at=now + timedelta(hours=shell.settings.session_hours),
        seen_at=now,
        way=way,
    )
    work.put_sign_in(kept)
    return Entered(cookie=cookie, reader=reader_for(person, kept, form_token_of(cookie)))


def _count_try(shell: Shell, login: str, address: str) -> Person | None:
    """Count a try before it is judged, so that tries sent at one time count one by one."""
    now = shell.clock.now()
    key = key_of("login", login)
    with shell.store.begin() as work:
        _hold_back(work, key, now)
        _hold_back(work, key_of("address", address), now)
        _count(work, key, now, FREE_TRIES)
        person = work.person(login)
        work.commit()
    return person


def _hold_back(work: Work, key: str, now: datetime) -> None:
    """Raise where tries under a key still have to wait."""
    until = work.attempts(key).locked_until
    if until is not None and until > now:
        raise TooManyRequests(int((until - now).total_seconds()) + 1)


def _count(work: Work, key: str, now: datetime, free: int) -> None:
    """Count a try under a key; beyond the free ones the next has to wait."""
    wait = wait_after(work.count_attempt(key, now, forget_after=FORGET_AFTER), free)
    if wait:
        work.lock_attempts(key, now + wait)


def _refuse(shell: Shell, person: Person | None, address: str) -> None:
    """Note a try that failed. A login that nobody has is not written down: it may be a password."""
    now = shell.clock.now()
    with shell.store.begin() as work:
        _count(work, key_of("address", address), now, FREE_TRIES_ADDRESS)
        who = "unknown login" if person is None else person.login
        work.log_event(at=now, who="nobody", what="sign-in refused", subject=who, source=address)
        work.commit()


def set_session(answer: Response, entered: Entered, settings: Settings) -> None:
    """Give the browser the cookie of a sign-in: for this site and requests only, behind TLS over TLS only."""
    answer.set_cookie(
        cookie_name(settings),
        entered.cookie,
        max_age=settings.session_hours * 3600,
        path="/",
        secure=settings.tls_in_front,
        httponly=True,
        samesite="lax",
    )


def clear_session(answer: Response, settings: Settings) -> None:
    """Take the cookie of a sign-in from the browser."""
    answer.delete_cookie(
        cookie_name(settings), path="/", secure=settings.tls_in_front, httponly=True, samesite="lax"
    )


def set_visit(answer: Response, visit: str, settings: Settings) -> None:
    """Give a browser the cookie that its sign-in form is bound to."""
    answer.set_cookie(
        visit_name(settings), visit, path="/", secure=settings.tls_in_front, httponly=True, samesite="strict"
    )


def confirm_password(shell: Shell, person: Person, password: str) -> bool:
    """Tell whether somebody who is signed in knows the own password; tries are counted as at the sign-in.

    Whoever found a browser left open could guess here otherwise, as often as wanted.

    Raises
    ------
    TooManyRequests
        Too many tries for this account.
    """
    now, key = shell.clock.now(), key_of("own password", person.login)
    with shell.store.begin() as work:
        _hold_back(work, key, now)
        _count(work, key, now, FREE_TRIES)
        work.commit()
    if not matches_gently(person.password, password):
        return False
    with shell.store.begin() as work:
        work.forget_attempts(key=key)
        work.commit()
    return True


def hash_gently(password: str) -> str:
    """Hash a password, a few at one time only."""
    with _HASHING:
        return hash_password(password)


def matches_gently(encoded: str, password: str) -> bool:
    """Compare a password, a few at one time only."""
    with _HASHING:
        return matches(encoded, password)
