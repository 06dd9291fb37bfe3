"""Who reads a page or sends a form, and whether the route is for that person."""

import hashlib
import hmac
from dataclasses import dataclass
from typing import Final

from fastapi import Request

from service.auth.rights import ROLES, ROLES_WITH, Right, Role, may
from service.web.errors import RoleNotAllowed
from service.web.shell import Shell, shell_of

ROLE_COOKIE: Final = "role"
"""Cookie of the practice fleet: the role in which its visitor looks around."""

PRACTICE_ROLE: Final[Role] = "manager"
"""Role of a visitor of the practice fleet who has chosen none."""


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
    form_token : str
        What every form of this person's pages sends back.
    """

    login: str = ""
    role: Role | str = ""
    depot: str = ""
    form_token: str = ""


def reader_of(request: Request) -> Reader:
    """Tell who is behind a request.

    Parameters
    ----------
    request : Request
        Of a page or form.

    Returns
    -------
    Reader
        In the practice fleet a visitor in the chosen role.
    """
    shell = shell_of(request)
    plain: Role = PRACTICE_ROLE if shell.settings.practice else "admin"
    chosen = request.cookies.get(ROLE_COOKIE, "")
    role = chosen if chosen in ROLES else plain
    return Reader(login="visitor", role=role, form_token=_visitor_token(shell))


def _visitor_token(shell: Shell) -> str:
    """Make the form token of visitors who do not sign in; other sites can neither read nor guess it."""
    return hmac.new(shell.secret, b"form of a visitor", hashlib.sha256).hexdigest()


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
        """Pass, or refuse with the roles that may.

        Raises
        ------
        RoleNotAllowed
            The reader's role lacks the right.
        """
        reader = reader_of(request)
        if not may(reader.role, self.right):
            raise RoleNotAllowed(self.right, reader.role, ROLES_WITH[self.right])


def allow(right: Right) -> Allow:
    """Make the guard of a router or route, for the framework's dependencies."""
    return Allow(right)


def anyone() -> None:
    """Let everybody pass: the guard of routes that tell nothing of the fleet and change nothing in it.

    Each such route says so by naming this guard; a test fails for a route that names none.
    """
