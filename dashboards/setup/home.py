"""The home of the setup: what is missing, as tasks, and the ways to its parts."""

from dataclasses import dataclass
from typing import Annotated


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One thing that the integrator can mend."""

    kind: Annotated[str, "Kind of task, a code of `words.TASKS`."]
    count: Annotated[int, "How many things it is about."]
    examples: Annotated[tuple[str, ...], "A few of them by name."]
    href: Annotated[str, "Page on which it is mended."]


@dataclass(frozen=True, slots=True, kw_only=True)
class Area:
    """One part of the setup."""

    code: Annotated[str, "Part, a code of `words.AREAS`."]
    href: Annotated[str, "Its page."]
    holds: Annotated[str, "What it holds now, in a few words; empty where that is not counted."]


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupView:
    """For integrator and administrator: what is missing, and where to set things up."""

    registered: Annotated[int, "Vehicles registered; 0 shows how to start."]
    tasks: Annotated[tuple[Task, ...], "What is missing, the gravest first."]
    areas: Annotated[tuple[Area, ...], "Parts of the setup that the reader may change."]
