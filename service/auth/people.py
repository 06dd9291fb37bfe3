"""Rules of accounts: what a login and role may be, and that an administrator stays."""

import re
from collections.abc import Iterable
from datetime import timedelta
from typing import Final, Protocol

from service.auth.errors import LastAdmin, WrongPerson
from service.auth.rights import ROLES

ISSUED_FOR: Final = timedelta(days=7)
"""How long a password works that somebody else set, before its owner has changed it (ASVS 5.0.0 V6.4.1);
chosen by us: a week's absence."""

DEPOT_ROLES: Final = ("viewer", "mechanic", "lead")
"""Roles that can be held to one depot; the others look after the whole fleet."""

_LOGIN: Final = re.compile(r"[a-z0-9][a-z0-9._@-]{0,63}\Z")


class Account(Protocol):
    """What these rules need to know of an account."""

    @property
    def login(self) -> str:
        """Unique name."""
        ...

    @property
    def role(self) -> str:
        """One of the roles."""
        ...

    @property
    def disabled_at(self) -> object | None:
        """None for an account that can sign in."""
        ...


def check_person(login: str, role: str, *, depot: str = "", depot_only: bool = False) -> None:
    """Pass only an account that can be meant.

    Raises
    ------
    WrongPerson
        The login has other signs than allowed, there is no such role, or a limit to a depot makes no sense.
    """
    if _LOGIN.match(login) is None:
        raise WrongPerson(
            "login",
            "A login is 1-64 small letters, digits, dots, dashes, underscores or @, starting with a letter or"
            f" digit; {login!r} is not.",
        )
    if role not in ROLES:
        raise WrongPerson("role", f"A role is one of {', '.join(ROLES)}; {role!r} is not.")
    if len(depot) > 64 or not depot.isprintable():
        raise WrongPerson("depot", "A depot's name has at most 64 characters that can be shown.")
    if depot_only and not depot:
        raise WrongPerson("depot", "Whoever sees one depot only needs that depot's name.")
    if depot_only and role not in DEPOT_ROLES:
        raise WrongPerson(
            "depot", f"Only {', '.join(DEPOT_ROLES)} can be held to one depot; a {role} sees the whole fleet."
        )


def check_admin_stays(people: Iterable[Account], changed: Account) -> None:
    """Pass only a change after which an administrator can still sign in.

    Parameters
    ----------
    people : iterable of Account
        As they are.
    changed : Account
        One of them as it is to be.

    Raises
    ------
    LastAdmin
        The change would leave none.
    """
    before = [one for one in people if _is_admin(one)]
    others = [one for one in before if one.login != changed.login]
    if before and not others and not _is_admin(changed):
        raise LastAdmin(before[0].login)


def _is_admin(one: Account) -> bool:
    return one.role == "admin" and one.disabled_at is None
