"""What a verified token allows."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from service.auth.errors import InsufficientScope
from service.auth.tokens import ApiToken

ROLES_OF_SCOPE: Final[Mapping[str, tuple[str, ...]]] = {
    "work": ("mechanic", "lead"),
    "admin": ("mechanic", "lead", "manager"),
}
"""Roles of the ticket's life-cycle in which a token with this scope may act, least power first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Grant:
    """A caller who has been recognised.

    Parameters
    ----------
    name : str
        Name of the token, written into logs beside what was done.
    scopes : frozenset of str
        What the token allows; `admin` allows everything.
    vehicles : frozenset of str
        Vehicles for which it may send; empty for all.
    """

    name: str
    scopes: frozenset[str]
    vehicles: frozenset[str] = frozenset()

    @classmethod
    def of(cls, token: ApiToken) -> "Grant":
        """Read the grant off a verified token."""
        return cls(name=token.name, scopes=frozenset(token.scopes), vehicles=frozenset(token.vehicles))

    def require(self, scope: str) -> None:
        """Pass only with the scope.

        Raises
        ------
        InsufficientScope
            The token has neither this scope nor `admin`.
        """
        if scope not in self.scopes and "admin" not in self.scopes:
            raise InsufficientScope(scope, sorted(self.scopes))

    def may_send_for(self, vehicle: str) -> bool:
        """Tell whether snapshots of the vehicle are accepted from this caller."""
        return not self.vehicles or vehicle in self.vehicles

    @property
    def roles(self) -> tuple[str, ...]:
        """Roles of the ticket's life-cycle in which the caller may act, least power first."""
        found: tuple[str, ...] = ()
        for scope in ("work", "admin"):
            if scope in self.scopes:
                found = ROLES_OF_SCOPE[scope]
        return found
