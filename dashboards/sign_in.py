"""The sign-in pages: for whoever is not signed in, and for whoever was while a form was open."""

from dataclasses import dataclass
from typing import Annotated, Literal

from dashboards.again import Kept

Reason = Literal[
    "",
    "ended",
    "wrong",
    "wait",
    "stale",
    "cancelled",
    "late",
    "away",
    "nonsense",
    "unproven",
    "nobody",
    "disabled",
    "other_person",
    "under_way",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class SignInView:
    """What is asked for, why, and what was typed before the sign-in ended."""

    reason: Annotated[Reason, "Why the page is shown; empty where the reader came by a link."]
    wait_s: Annotated[int, "Seconds until the next try is taken; 0 for at once."]
    login: Annotated[str, "Login as typed before, or as the provider says; may be empty."]
    provider: Annotated[str, "Name of the sign-in provider; empty where passwords are the only way."]
    following: Annotated[str, "Address of this service to go to afterwards."]
    action: Annotated[str, "Address that the form went to which was not taken; empty for none."]
    kept: Annotated[tuple[Kept, ...], "Its fields, in order; passwords left out."]
    files_lost: Annotated[bool, "Whether it had files, which a page cannot carry along."]


@dataclass(frozen=True, slots=True, kw_only=True)
class AwayView:
    """The way to the sign-in provider, for browsers that do not go there by themselves."""

    provider: Annotated[str, "Its name."]
    address: Annotated[str, "Where it asks who the reader is."]
