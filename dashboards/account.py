"""The reader's own account: password, units, and when it was used."""

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated


@dataclass(frozen=True, slots=True, kw_only=True)
class SignInLine:
    """One sign-in, or one that was refused."""

    at: Annotated[datetime, "When, in the zone shown."]
    what: Annotated[str, "What happened, as the event log has it."]
    source: Annotated[str, "Address that it came from; may be empty."]


@dataclass(frozen=True, slots=True, kw_only=True)
class AccountView:
    """What a person sees and changes of the own account."""

    login: Annotated[str, "Name of the account."]
    role: Annotated[str, "Role, a key of `dashboards.words.ROLES`."]
    depot: Annotated[str, "Depot that comes first; empty for none."]
    depot_only: Annotated[bool, "Whether other depots are kept from this person."]
    must_change: Annotated[bool, "Whether somebody else set the password, so that it is changed first."]
    error: Annotated[str, "Why the new password was not taken; empty where nothing was refused."]
    shortest: Annotated[int, "Fewest characters of a password."]
    ends_at: Annotated[datetime, "Latest end of this sign-in, in the zone shown."]
    idle_minutes: Annotated[int, "Minutes without a page after which it ends sooner [min]."]
    sign_ins: Annotated[tuple[SignInLine, ...], "Newest sign-ins and refused ones, newest first."]
