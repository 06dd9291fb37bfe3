"""Who reads a page or sends a form, and whether the route is for that person."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from fastapi import Request
from starlette.concurrency import run_in_threadpool

from dashboards.frame import Units
from service.auth import digest_of
from service.auth.rights import ROLES, ROLES_WITH, Right, Role, may
from service.auth.sessions import COOKIE, TLS_COOKIE, TOUCH_AFTER, form_token_of, is_over
from service.settings import Settings
from service.store import Person, SignIn, StoreError
from service.web.errors import PasswordIssued, RoleNotAllowed, SignInNeeded
from service.web.shell import Shell, whole_shell_of

ROLE_COOKIE: Final = "role"
"""Cookie of the practice fleet: the role in which its visitor looks around."""

VISIT_COOKIE: Final = "visit"
"""Cookie of a browser in which nobody is signed in: its sign-in form is bound to it."""

TLS_VISIT_COOKIE: Final = "__Host-visit"
"""Its name behind TLS: no other host of the same domain can set it."""

AWAY_COOKIE: Final = "away"
"""Cookie of a browser that is on its way to the sign-in provider and back."""

TLS_AWAY_COOKIE: Final = "__Host-away"
"""Its name behind TLS."""

PRACTICE_ROLE: Final[Role] = "manager"
"""Role of a visitor of the practice fleet who has chosen none."""

OWN_PAGES: Final = ("/account", "/account/password", "/sign-out", "/units")
"""What a person may do whose password somebody else has set."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reader:
    """The person behind a request.

    Parameters
    ----------
    login : str
        Name of the account; empty for nobody.
    role : Role or ""
        Empty for nobody: then no right is had.
    depot : str
        Depot that comes first for this person; empty for none.
    only_depot : str
        Depot beyond which this person sees nothing; empty for the whole fleet.
    form_token : str
        What every form of this person's pages sends back; empty where no form is taken.
    units : Units or ""
        How this person wants quantities; empty where the account does not say.
    session : str
        Digest of the sign-in; empty for nobody and in the practice fleet.
    signed_in_at : datetime or None
        Aware; None for nobody and in the practice fleet.
    must_change : bool
        Whether somebody else set the password.
    seen_at, expires_at : datetime or None
        Last use before this one, and the end however much it is used, aware; None as before.
    """

    login: str = ""
    role: Role | str = ""
    depot: str = ""
    only_depot: str = ""
    form_token: str = ""
    units: Units | str = ""
    session: str = ""
    signed_in_at: datetime | None = None
    must_change: bool = False
    seen_at: datetime | None = None
    expires_at: datetime | None = None


def reader_of(request: Request) -> Reader:
    """Tell who is behind a request.

    Parameters
    ----------
    request : Request
        Of a page or form, past its guard.

    Returns
    -------
    Reader
        Nobody, without a right, where no guard has looked.
    """
    found = getattr(request.state, "reader", None)
    return found if isinstance(found, Reader) else Reader()


def recognise(request: Request) -> Reader:
    """Find out who is behind a request, and note it for everything that follows.

    Parameters
    ----------
    request : Request
        Its cookie is looked up in the store, in one statement; without one nothing is asked.

    Returns
    -------
    Reader
        In the practice fleet a visitor in the chosen role; otherwise who is signed in, or nobody.
    """
    shell = whole_shell_of(request)
    reader = _visitor(request, shell) if shell.settings.practice else _signed_in(request, shell)
    note(request, reader)
    return reader


def note(request: Request, reader: Reader) -> None:
    """Note who is behind a request: what the store shows, and whose name is logged, follow from it."""
    request.state.reader = reader
    request.state.depot = reader.only_depot
    if reader.login:
        request.state.caller = reader.login


def _visitor(request: Request, shell: Shell) -> Reader:
    chosen = request.cookies.get(ROLE_COOKIE, "")
    role = chosen if chosen in ROLES else PRACTICE_ROLE
    return Reader(login="visitor", role=role, form_token=form_token_of(shell.secret.hex()))


def _signed_in(request: Request, shell: Shell) -> Reader:
    cookie = request.cookies.get(cookie_name(shell.settings), "")
    if not cookie:
        return _nobody(request, shell.settings)
    digest, now = digest_of(cookie), shell.clock.now()
    with shell.store.begin(readonly=True) as work:
        found = work.find_visit(digest)
    if found is None or has_ended(found, now, shell.settings):
        return _nobody(request, shell.settings)
    sign_in, person = found
    if now - sign_in.seen_at > TOUCH_AFTER:
        with shell.store.begin() as work:
            work.touch_sign_in(digest, now)
            work.commit()
    return reader_for(person, sign_in, form_token_of(cookie))


def reader_for(person: Person, sign_in: SignIn, form_token: str) -> Reader:
    """Give the reader that a sign-in stands for."""
    return Reader(
        login=person.login,
        role=person.role,
        depot=person.depot,
        only_depot=person.depot if person.depot_only else "",
        form_token=form_token,
        units=person.preferences.get("units", ""),
        session=sign_in.digest,
        signed_in_at=sign_in.created_at,
        seen_at=sign_in.seen_at,
        expires_at=sign_in.expires_at,
        # Whoever came through the provider has used no password, nobody else's either.
        must_change=person.password_until is not None and sign_in.way == "password",
    )


def has_ended(found: tuple[SignIn, Person], now: datetime, settings: Settings) -> bool:
    """Tell whether a sign-in is over by the settings, or its person's account is disabled."""
    sign_in, person = found
    return is_over(
        now,
        seen_at=sign_in.seen_at,
        expires_at=sign_in.expires_at,
        idle=timedelta(minutes=settings.session_idle_minutes),
        disabled=person.disabled_at is not None,
    )


def _nobody(request: Request, settings: Settings) -> Reader:
    visit = request.cookies.get(visit_name(settings), "")
    return Reader(form_token=form_token_of(visit, "visit") if visit else "")


def visit_name(settings: Settings) -> str:
    """Give the name of the cookie of a browser in which nobody is signed in."""
    return TLS_VISIT_COOKIE if settings.tls_in_front else VISIT_COOKIE


def cookie_name(settings: Settings) -> str:
    """Give the name of the sign-in's cookie: behind TLS browsers guard it by its name too."""
    return TLS_COOKIE if settings.tls_in_front else COOKIE


@dataclass(frozen=True, slots=True)
class Allow:
    """The guard of a route: lets pass whoever's role has the right.

    Parameters
    ----------
    right : Right
        What the route is for.
    """

    right: Right

    def __call__(self, request: Request) -> None:
        """Pass, or refuse.

        Raises
        ------
        SignInNeeded
            Nobody is signed in.
        PasswordIssued
            Somebody else set the reader's password, and this is not the page to change it.
        RoleNotAllowed
            The reader's role lacks the right; says which roles have it.
        """
        reader = recognise(request)
        if not reader.role:
            raise SignInNeeded
        if reader.must_change and request.url.path not in OWN_PAGES:
            raise PasswordIssued
        if not may(reader.role, self.right):
            raise RoleNotAllowed(self.right, reader.role, ROLES_WITH[self.right])


def allow(right: Right) -> Allow:
    """Make the guard of a router or route, for the framework's dependencies."""
    return Allow(right)


def anyone(request: Request) -> None:
    """Let everybody pass, and note who it is: the guard of pages that tell nothing of the fleet.

    Each such route says so by naming this guard; a test fails for a route that names none. A store that does
    not answer keeps nobody from the page that explains it.
    """
    try:
        recognise(request)
    except StoreError:
        note(request, Reader())


def public() -> None:
    """Let everybody pass without looking who it is: the guard of files and signs of life."""


async def recognise_late(request: Request) -> None:
    """Note who asked for an address that no route answers, so that the page that says so is theirs."""
    if getattr(request.state, "reader", None) is None:
        await run_in_threadpool(anyone, request)
