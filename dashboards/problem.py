"""The page of an error: what, where, what is allowed, what to do."""

from dataclasses import dataclass
from typing import Annotated

from dashboards.again import AgainView, Kept


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldProblem:
    """One thing wrong with what was sent."""

    where: Annotated[str, "Field or row; also the id of the input it belongs to."]
    text: Annotated[str, "What is wrong and what is allowed."]


@dataclass(frozen=True, slots=True, kw_only=True)
class Conflict:
    """Two versions of one thing: theirs was saved first, mine is kept here."""

    field: Annotated[str, "What differs."]
    theirs: Annotated[str, "As it stands now."]
    mine: Annotated[str, "As it was sent."]


@dataclass(frozen=True, slots=True, kw_only=True)
class ProblemView:
    """For whoever met an error, or looks up what an error type means."""

    type: Annotated[str, "Stable code of the problem, such as `transition-not-allowed`."]
    status: Annotated[int | None, "HTTP status; None on the page that explains the type."]
    title: Annotated[str, "The problem in one sentence."]
    detail: Annotated[str, "What exactly happened; may be empty."]
    what_to_do: Annotated[str, "What helps."]
    errors: Annotated[tuple[FieldProblem, ...], "Each thing that is wrong."]
    conflicts: Annotated[tuple[Conflict, ...], "Both versions, when someone saved first."]
    allowed: Annotated[tuple[str, ...], "What is allowed instead, such as the events of a ticket."]
    back: Annotated[str, "Address to go back to; may be empty."]
    request_id: Annotated[str, "Number of the request, for whoever runs the service; may be empty."]
    kept: Annotated[tuple[Kept, ...], "What was typed into the form that was not taken."] = ()
    again: Annotated[
        AgainView | None, "The same form, made anew for the present version; None: not offered."
    ] = None
