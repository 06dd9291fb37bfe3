"""Take back what evaluations did from a day on, so that the same days can be walked anew."""

from dataclasses import dataclass
from typing import Final

from sqlalchemy import delete, select

from service.store.packing import unpack
from service.store.tables import ASSESSMENT, CORRECTED, TICKET, TICKET_EVENT, TICKET_VERSION, TREND
from service.store.work import Work
from service.store.workshop import ticket_row
from service.store.zones import DAY_US
from service.tickets.ticket import Ticket

_BY_ITSELF: Final = frozenset({"system", "record"})
"""Roles that act without a person."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What evaluations from a day on have left.

    Parameters
    ----------
    assessments, tickets : int
        Assessments of those days, and tickets raised or changed since.
    touched_by_people : tuple of str
        Tickets that a person raised or changed since: they cannot be taken back.
    """

    assessments: int
    tickets: int
    touched_by_people: tuple[str, ...]


def standing_since(work: Work, from_day: int) -> Standing:
    """Tell what evaluations and people have done since the start of a day [days since 1970-01-01]."""
    connection = work._connection
    assessments = connection.scalars(select(ASSESSMENT.c.day).where(ASSESSMENT.c.day >= from_day)).all()
    since = from_day * DAY_US
    changed = connection.scalars(
        select(TICKET_VERSION.c.ticket).where(TICKET_VERSION.c.at_us >= since).distinct()
    ).all()
    people = connection.scalars(
        select(TICKET_EVENT.c.ticket)
        .where(TICKET_EVENT.c.at_us >= since, TICKET_EVENT.c.role.not_in(_BY_ITSELF))
        .distinct()
        .order_by(TICKET_EVENT.c.ticket)
    ).all()
    return Standing(assessments=len(assessments), tickets=len(changed), touched_by_people=tuple(people))


def rewind(work: Work, from_day: int) -> None:
    """Remove assessments from a day on; put tickets back as they stood before it, and newer ones away.

    Frozen weekly reports stay: they are never rewritten. The caller has made sure that no person acted
    on those tickets since.
    """
    connection, since = work._connection, from_day * DAY_US
    connection.execute(delete(ASSESSMENT).where(ASSESSMENT.c.day >= from_day))
    connection.execute(delete(TREND).where(TREND.c.day >= from_day))
    connection.execute(delete(CORRECTED).where(CORRECTED.c.day >= from_day))
    changed = connection.scalars(
        select(TICKET_VERSION.c.ticket).where(TICKET_VERSION.c.at_us >= since).distinct()
    ).all()
    connection.execute(delete(TICKET_EVENT).where(TICKET_EVENT.c.at_us >= since))
    connection.execute(delete(TICKET_VERSION).where(TICKET_VERSION.c.at_us >= since))
    for number in changed:
        _put_back(work, number)


def _put_back(work: Work, number: str) -> None:
    connection = work._connection
    body = connection.scalar(
        select(TICKET_VERSION.c.body)
        .where(TICKET_VERSION.c.ticket == number)
        .order_by(TICKET_VERSION.c.version.desc())
        .limit(1)
    )
    if body is None:
        connection.execute(delete(TICKET).where(TICKET.c.ticket == number))
        return
    values = ticket_row(unpack(body, Ticket))
    connection.execute(TICKET.update().where(TICKET.c.ticket == number).values(**values))
