"""What a mechanic found, in two picks, and the work record that says it."""

from dataclasses import dataclass
from typing import Final, Literal, get_args

from ingest.parameters import CAUSES
from service.tickets.effects import NO_FAULT_REASONS
from service.tickets.errors import TransitionRefused
from service.tickets.ticket import Role, Ticket

Correction = Literal["usual", "repair", "battery_replaced", "memory_cleared", "note"]
"""What was done; `usual` is what the cause asks for."""

RecordKind = Literal["repair", "battery_replaced", "no_fault_found", "memory_cleared", "note"]
"""Kinds of work record that a finding may become."""

CORRECTIONS: Final[tuple[Correction, ...]] = get_args(Correction)

NOT_LOOKED: Final = "not_looked"
"""Pick of whoever did not look."""

OFFERED: Final = 5
"""Causes offered first: more than a thumb reaches are not read; chosen by us."""

FINDERS: Final[frozenset[Role]] = frozenset({"mechanic", "lead"})
"""Roles that record findings."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """What is to be recorded.

    Parameters
    ----------
    kind : RecordKind
        Of the work record.
    cause : str
        Cause code; empty where none was found.
    way : str
        In which way nothing was found, of `NO_FAULT_REASONS`; empty where something was.
    """

    kind: RecordKind
    cause: str = ""
    way: str = ""


def read_finding(ticket: str, found: str, correction: str) -> Finding:
    """Make a finding out of two picks.

    Parameters
    ----------
    ticket : str
        Number, for the sentence of an error.
    found : str
        A cause code, one of `NO_FAULT_REASONS`, or `not_looked`.
    correction : str
        One of `CORRECTIONS`.

    Returns
    -------
    Finding
        The usual correction of a cause is a repair, of an ageing battery its replacement.

    Raises
    ------
    TransitionRefused
        A pick is missing or unknown, or the two contradict each other.

    Examples
    --------
    >>> read_finding("V-1-T1", "battery_ageing", "usual").kind
    'battery_replaced'
    >>> read_finding("V-1-T1", "comes_and_goes", "usual").kind
    'no_fault_found'
    """
    if correction not in CORRECTIONS:
        raise _refusal(
            ticket, "kind", f"what was done is one of {', '.join(CORRECTIONS)}; was {correction!r}."
        )
    if found in NO_FAULT_REASONS:
        if correction not in {"usual", "note"}:
            raise _refusal(
                ticket, "kind", "nothing was found, so nothing was put right: choose one of the two."
            )
        return Finding(kind="no_fault_found", way=found)
    if found == NOT_LOOKED:
        if correction == "usual":
            return Finding(kind="note")
        return Finding(kind=_kind(correction), cause="" if correction == "note" else "unknown")
    if found not in CAUSES:
        raise _refusal(ticket, "cause", f"what was found is a cause, or nothing; was {found!r}.")
    usual: RecordKind = "battery_replaced" if found == "battery_ageing" else "repair"
    return Finding(kind=usual if correction == "usual" else _kind(correction), cause=found)


def offered_causes(ticket: Ticket) -> tuple[str, ...]:
    """Choose the causes that the form offers first: the likeliest ones, the unknown apart."""
    ranked = ticket.detail.causes if ticket.detail else ()
    likely = [code for code, _ in ranked if code != "unknown"]
    if not likely and ticket.cause_1 not in {"", "unknown"}:
        likely = [ticket.cause_1]
    return tuple(likely[:OFFERED])


def _kind(correction: str) -> RecordKind:
    return next(kind for kind in get_args(RecordKind) if kind == correction)


def _refusal(ticket: str, field: str, detail: str) -> TransitionRefused:
    return TransitionRefused(ticket=ticket, event="record", field=field, detail=detail)
