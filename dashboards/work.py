"""The work list: what a mechanic does next, in order."""

from dataclasses import dataclass
from datetime import date
from typing import Annotated

from dashboards.rows import TicketLine


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkView:
    """For the mechanic at the bench: which vehicle next, what to look at first, how long it takes."""

    depot: Annotated[str, "Depot the list is held to; empty for all."]
    depots: Annotated[tuple[str, ...], "Depots that can be chosen."]
    mine: Annotated[tuple[TicketLine, ...], "Tickets that the reader has, in order."]
    unassigned: Annotated[tuple[TicketLine, ...], "Open tickets that nobody has, in order."]
    others: Annotated[tuple[TicketLine, ...], "Open tickets that others have."]
    proof: Annotated[tuple[TicketLine, ...], "Done, waiting for readings to prove the repair."]
    resting: Annotated[tuple[TicketLine, ...], "Open, evidence eased or deferred."]
    in_order: Annotated[
        tuple[TicketLine, ...],
        "Every ticket to do, in order, where the reader is not known: then nothing is theirs or others'.",
    ] = ()
    following: Annotated[str, "Address of the next page of the list; empty on the last."]
    hidden: Annotated[
        int, "Tickets in other hands, in proof or resting that are not shown; a depot shows fewer."
    ]
    next_due: Annotated[date | None, "Next day on which something is due; None when nothing is."]
