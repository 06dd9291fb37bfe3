"""Tickets that belong together, with what was done on the earlier one and what was not: shown first."""

from collections.abc import Iterable, Sequence
from typing import Final
from zoneinfo import ZoneInfo

from dashboards.formats import day
from dashboards.ticket import TicketLink
from dashboards.words import CAUSES, REASONS, WORK, say
from service.store import KeptWork
from service.tickets.matching import REPAIRS
from service.tickets.ticket import Ticket

_LINKS: Final = ("comeback_of", "comeback_by", "merged_into")

OTHER_CAUSES: Final = 3
"""Causes that were likely then and were not the one found, at most; chosen by us."""


def links_of(
    ticket: Ticket, others: Iterable[Ticket], records: Sequence[KeptWork], zone: ZoneInfo
) -> tuple[TicketLink, ...]:
    """List the tickets that belong with one, and its own repair where that did not cure.

    Parameters
    ----------
    ticket : Ticket
        Whose page it is.
    others : iterable of Ticket
        Every ticket of the vehicle.
    records : sequence of KeptWork
        Work done on the vehicle.
    zone : ZoneInfo
        In which days are shown.

    Returns
    -------
    tuple of TicketLink
        Earlier work first. By cause and procedure, never by person.
    """
    known = {one.ticket: one for one in others}
    found = []
    if ticket.status == "reopened" and ticket.done_at is not None:
        found.append(_link("not_cured", ticket, records, zone))
    for kind in _LINKS:
        other = known.get(getattr(ticket, kind))
        if other is not None:
            found.append(_link(kind, other, records, zone))
    taken_in = [one for one in known.values() if one.merged_into == ticket.ticket]
    found += [TicketLink(kind="merged_from", ticket=one.ticket) for one in taken_in]
    return tuple(found)


def _link(kind: str, other: Ticket, records: Sequence[KeptWork], zone: ZoneInfo) -> TicketLink:
    if kind == "comeback_by":
        return TicketLink(kind=kind, ticket=other.ticket)
    own = [one for one in records if one.number in other.records and one.kind in REPAIRS]
    newest = max(own, key=lambda one: one.done_at, default=None)
    return TicketLink(
        kind=kind,
        ticket=other.ticket,
        done_then=_done(other, newest, zone),
        not_then=() if kind == "merged_into" else _not_done(other, newest),
    )


def _done(other: Ticket, record: KeptWork | None, zone: ZoneInfo) -> str:
    if other.done_at is None:
        return say(REASONS, other.reason) if other.reason else ""
    parts = [say(CAUSES, other.done_cause) if other.done_cause else "no cause named"]
    if record is not None:
        parts.insert(0, say(WORK, record.kind).lower())
        parts += [text for text in (record.parts, record.notes) if text]
        parts += ["relearn done"] if record.relearn_done else []
    return f"{day(other.done_at.astimezone(zone).date())}, {', '.join(parts)}"


def _not_done(other: Ticket, record: KeptWork | None) -> tuple[str, ...]:
    """Name the relearn that nobody recorded, and the causes that were likely and not the one found."""
    lacks = ["relearn"] if other.done_at and (record is None or not record.relearn_done) else []
    causes = other.detail.causes if other.detail else ()
    likely = [code for code, _ in causes if code not in {other.done_cause, "unknown"}]
    return tuple(lacks + [say(CAUSES, code) for code in likely[:OTHER_CAUSES]])
