"""The event log: who changed what, when and from where."""

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated


@dataclass(frozen=True, slots=True, kw_only=True)
class LogLine:
    """One event; nothing of it can be changed afterwards."""

    number: Annotated[int, "Running number."]
    at: Annotated[datetime, "When, in the zone shown."]
    who: Annotated[str, "Login, name of a token, or `command line`."]
    what: Annotated[str, "What was done."]
    subject: Annotated[str, "To what; may be empty."]
    before: Annotated[str, "As it was; may be empty."]
    after: Annotated[str, "As it is since; may be empty."]
    source: Annotated[str, "Address that it came from; may be empty."]


@dataclass(frozen=True, slots=True, kw_only=True)
class LogView:
    """One page of the log, newest first."""

    lines: Annotated[tuple[LogLine, ...], "Events."]
    who: Annotated[str, "Filter: only this person or token; empty for all."]
    what: Annotated[str, "Filter: only this kind of event; empty for all."]
    subject: Annotated[str, "Filter: only about this; empty for all."]
    following: Annotated[str, "Address of the page with older events; empty on the last."]
