"""What the pages of the setup have in common: a wrong field, what a file did, how far a reading-again is."""

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One field that was not taken."""

    field: Annotated[str, "Name of the field in the form."]
    text: Annotated[str, "What is wrong and what is allowed."]


@dataclass(frozen=True, slots=True, kw_only=True)
class Again:
    """How far stored snapshots have been read again under newer names."""

    seen: Annotated[int, "Stored snapshots looked at."]
    changed: Annotated[int, "Those among them that gained a value."]
    unconverted: Annotated[int, "Manifold vacuums that stay as they came."] = 0
    total: Annotated[int, "Stored snapshots that hold something without a meaning."]
    finished_at: Annotated[datetime | None, "When it was done; None while it goes on."]
