"""How tickets like this one ended: inspections that found a fault, with their uncertainty."""

from collections.abc import Iterable
from dataclasses import dataclass
from math import sqrt
from typing import Final

from service.tickets.checks import cause_table
from service.tickets.ticket import Ticket, TrackRecord

ENOUGH: Final = 10
"""Below this many inspections a share is too few to say (default)."""

_Z: Final = 1.959963984540054
"""97.5 % point of the normal distribution."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackCounts:
    """Inspections that found a fault, of how many."""

    found: int = 0
    inspected: int = 0


def count_tracks(tickets: Iterable[Ticket]) -> dict[str, TrackCounts]:
    """Count how tickets ended, by the cause they named first.

    A repair counts as a fault found, `no_fault_found` as none. Tickets that nobody looked at, and
    dismissals for other reasons, are left out: no label is not a negative one.
    """
    counts: dict[str, TrackCounts] = {}
    for ticket in tickets:
        found = ticket.done_at is not None
        nothing = ticket.status == "dismissed" and ticket.reason == "no_fault_found"
        if not (found or nothing) or not ticket.cause_1:
            continue
        before = counts.get(ticket.cause_1, TrackCounts())
        counts[ticket.cause_1] = TrackCounts(
            found=before.found + (0 if nothing else 1), inspected=before.inspected + 1
        )
    return counts


def wilson(found: int, inspected: int) -> tuple[float, float]:
    """Give the Wilson 95 % interval of a share.

    References
    ----------
    E. B. Wilson, Probable inference, the law of succession, and statistical inference, Journal of the
    American Statistical Association 22(158), 1927, 209-212 (citation from memory).

    Examples
    --------
    >>> low, high = wilson(31, 40)
    >>> round(low, 3), round(high, 3)
    (0.625, 0.877)
    """
    share, z2 = found / inspected, _Z * _Z
    centre = (share + z2 / (2 * inspected)) / (1 + z2 / inspected)
    spread = share * (1 - share) / inspected + z2 / (4 * inspected * inspected)
    half = _Z * sqrt(spread) / (1 + z2 / inspected)
    return max(0.0, centre - half), min(1.0, centre + half)


def track_record(cause: str, counts: TrackCounts) -> TrackRecord:
    """Say how tickets that name a cause first have ended."""
    words = cause_table().causes[cause].words
    if counts.inspected == 0:
        text = f"Like this one ({words}): none inspected yet."
        return TrackRecord(found=0, inspected=0, low=None, high=None, text=text)
    low, high = wilson(counts.found, counts.inspected)
    share = f"fault found in {counts.found} of {counts.inspected}"
    text = f"Like this one ({words}): {share} ({100 * low:.0f}-{100 * high:.0f} %)."
    if counts.inspected < ENOUGH:
        text = f"Like this one ({words}): {share}, too few to say."
    return TrackRecord(found=counts.found, inspected=counts.inspected, low=low, high=high, text=text)
