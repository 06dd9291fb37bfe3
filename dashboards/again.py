"""A form that was not taken, shown again with everything that was typed."""

from dataclasses import dataclass
from typing import Annotated


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """One field as it was typed."""

    name: Annotated[str, "The field's name."]
    text: Annotated[str, "What was typed or chosen."]


@dataclass(frozen=True, slots=True, kw_only=True)
class AgainView:
    """What a form held that was not taken, ready to be sent again with one press."""

    action: Annotated[str, "Address that the form goes to."]
    kept: Annotated[tuple[Kept, ...], "Every field, in the order in which it was sent; passwords left out."]
    signed_in: Annotated[bool, "Whether it waits because the reader had to sign in again."] = False
    files_lost: Annotated[bool, "Whether it had files, which a page cannot carry along."] = False
