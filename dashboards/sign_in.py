"""The sign-in page: for whoever is not signed in, and for whoever was while a form was open."""

from dataclasses import dataclass
from typing import Annotated, Literal

from dashboards.again import Kept

Reason = Literal["", "ended", "wrong", "wait", "stale"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SignInView:
    """What is asked for, why, and what was typed before the sign-in ended."""

    reason: Annotated[Reason, "Why the page is shown; empty where the reader came by a link."]
    wait_s: Annotated[int, "Seconds until the next try is taken; 0 for at once."]
    login: Annotated[str, "Login as typed before; may be empty."]
    following: Annotated[str, "Address of this service to go to afterwards."]
    action: Annotated[str, "Address that the form went to which was not taken; empty for none."]
    kept: Annotated[tuple[Kept, ...], "Its fields, in order; passwords left out."]
    files_lost: Annotated[bool, "Whether it had files, which a page cannot carry along."]
