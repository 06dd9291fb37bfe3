"""People: who has an account, in which role, and what an administrator may change of it."""

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonLine:
    """One account."""

    login: Annotated[str, "Name of the account."]
    role: Annotated[str, "Role, a key of `dashboards.words.ROLES`."]
    depot: Annotated[str, "Depot that comes first; empty for none."]
    depot_only: Annotated[bool, "Whether other depots are kept from this person."]
    disabled: Annotated[bool, "Whether the account can sign in no more."]
    seen_at: Annotated[datetime | None, "Last page while signed in; None where not signed in now."]
    password_until: Annotated[datetime | None, "End of a password that the person has not yet replaced."]
    through_provider: Annotated[bool, "Whether the login is tied to somebody at the sign-in provider."]


@dataclass(frozen=True, slots=True, kw_only=True)
class Issued:
    """A password that is shown this once."""

    login: Annotated[str, "Whose it is."]
    password: Annotated[str, "The password; kept nowhere."]
    until: Annotated[datetime, "When it ends unless its owner has chosen another, in the zone shown."]


@dataclass(frozen=True, slots=True, kw_only=True)
class PeopleView:
    """Every account, and a form for another one."""

    people: Annotated[tuple[PersonLine, ...], "By login."]
    roles: Annotated[tuple[str, ...], "Roles to choose from."]
    depots: Annotated[tuple[str, ...], "Depots to choose from."]
    issued: Annotated[Issued | None, "Password of an account just made; None otherwise."]
    error: Annotated[str, "Why an account was not made; empty where nothing was refused."]
    typed: Annotated[str, "Login as typed in the refused form; may be empty."]


@dataclass(frozen=True, slots=True, kw_only=True)
class PersonView:
    """One account, and what can be done to it."""

    person: Annotated[PersonLine, "The account."]
    roles: Annotated[tuple[str, ...], "Roles to choose from."]
    depots: Annotated[tuple[str, ...], "Depots to choose from."]
    issued: Annotated[Issued | None, "Password just set; None otherwise."]
    error: Annotated[str, "Why a change was not made; empty where nothing was refused."]
