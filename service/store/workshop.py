"""Tickets with their history."""

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import Any, Final

from sqlalchemy import and_, bindparam, func, or_, select, update
from sqlalchemy.exc import IntegrityError

from service.store.columns import from_us, to_day, to_us
from service.store.errors import AlreadyThere, NotFound, StaleVersion
from service.store.packing import from_text, pack, to_text, unpack
from service.store.paging import check_limit, read_cursor, write_cursor
from service.store.pricing import Pricing
from service.store.tables import TICKET, TICKET_EVENT, TICKET_VERSION
from service.store.values import Page
from service.tickets.ticket import EXPORT_COLUMNS, Ticket, TicketEvent, is_open

_CLOSED: Final = ("verified", "dismissed")


class Workshop(Pricing):
    """Tickets."""

    def put_ticket(self, ticket: Ticket, events: Sequence[TicketEvent] = (), *, read_version: int) -> None:
        """Keep a ticket and append to its history.

        Parameters
        ----------
        ticket : Ticket
            Its version must be above `read_version`.
        events : sequence of TicketEvent
            What led to it, oldest first.
        read_version : int
            Version that the change started from; 0 for a new ticket.

        Raises
        ------
        AlreadyThere
            A new ticket's number is taken.
        NotFound
            A changed ticket is not there.
        StaleVersion
            Somebody else changed it since.
        """
        if ticket.version <= read_version:
            raise ValueError(f"Version {ticket.version} does not follow version {read_version}.")
        values = ticket_row(ticket)
        if read_version:
            self._change_ticket(ticket, values, read_version)
        else:
            self._add_ticket(ticket, values)
        self._connection.execute(
            TICKET_VERSION.insert(),
            {
                "ticket": ticket.ticket,
                "version": ticket.version,
                "at_us": to_us(ticket.updated_at),
                "body": values["body"],
            },
        )
        self._insert_rows(TICKET_EVENT.insert(), [_event_row(event) for event in events])

    def append_ticket_events(self, events: Sequence[TicketEvent]) -> None:
        """Append to histories without changing a ticket, such as a comment."""
        self._insert_rows(TICKET_EVENT.insert(), [_event_row(event) for event in events])

    def ticket(self, number: str) -> Ticket:
        """Give one ticket.

        Raises
        ------
        NotFound
            There is none.
        """
        body = self._connection.scalar(
            select(TICKET.c.body).where(TICKET.c.ticket == number, self._tickets_in_sight())
        )
        if body is None:
            raise NotFound("ticket", number)
        return unpack(body, Ticket)

    def ticket_version(self, number: str, version: int) -> Ticket:
        """Give one ticket as it stood at a version.

        Raises
        ------
        NotFound
            There is no such ticket, or it never had that version.
        """
        query = (
            select(TICKET_VERSION.c.body)
            .join(TICKET, TICKET.c.ticket == TICKET_VERSION.c.ticket)
            .where(
                TICKET_VERSION.c.ticket == number,
                TICKET_VERSION.c.version == version,
                self._tickets_in_sight(),
            )
        )
        body = self._connection.scalar(query)
        if body is None:
            raise NotFound("version of a ticket", f"{number}, version {version}")
        return unpack(body, Ticket)

    def statements(
        self, horizon: timedelta, *, as_of: datetime | None = None
    ) -> tuple[tuple[Ticket, Ticket], ...]:
        """Give each ticket as it was first kept, and as it stood when a horizon from then had passed.

        Parameters
        ----------
        horizon : timedelta
            Tickets that are younger stand for themselves as they are now.
        as_of : datetime or None
            Leaves out what was written later, aware.

        Returns
        -------
        tuple of (Ticket, Ticket)
            In the order of their numbers.
        """
        first = (
            select(TICKET_VERSION.c.ticket, func.min(TICKET_VERSION.c.at_us).label("at_us"))
            .group_by(TICKET_VERSION.c.ticket)
            .subquery()
        )
        within = (
            select(
                TICKET_VERSION.c.ticket,
                func.min(TICKET_VERSION.c.version).label("early"),
                func.max(TICKET_VERSION.c.version).label("late"),
            )
            .join(first, first.c.ticket == TICKET_VERSION.c.ticket)
            .where(
                TICKET_VERSION.c.at_us <= first.c.at_us + int(horizon.total_seconds() * 1_000_000),
                *([] if as_of is None else [TICKET_VERSION.c.at_us <= to_us(as_of)]),
            )
            .group_by(TICKET_VERSION.c.ticket)
            .subquery()
        )
        query = (
            select(TICKET_VERSION.c.ticket, TICKET_VERSION.c.body)
            .join(within, within.c.ticket == TICKET_VERSION.c.ticket)
            .where(or_(TICKET_VERSION.c.version == within.c.early, TICKET_VERSION.c.version == within.c.late))
            .order_by(TICKET_VERSION.c.ticket, TICKET_VERSION.c.version)
        )
        found: dict[str, list[Ticket]] = {}
        for number, body in self._connection.execute(query):
            found.setdefault(number, []).append(unpack(body, Ticket))
        return tuple((versions[0], versions[-1]) for versions in found.values())

    def tickets(
        self,
        *,
        vehicle: str = "",
        depot: str = "",
        statuses: Sequence[str] = (),
        open_only: bool = False,
        as_of: datetime | None = None,
    ) -> tuple[Ticket, ...]:
        """Give tickets in the order of their creation.

        Parameters
        ----------
        vehicle, depot, statuses
            Only these; empty for all.
        open_only : bool
            Leaves out those nobody owes anything any more.
        as_of : datetime or None
            Tickets as they stood at that time, and only those that were there.
        """
        if as_of is not None:
            found = self._tickets_as_of(as_of)
            return tuple(
                ticket
                for ticket in found
                if _is_wanted(ticket, vehicle, depot, statuses, open_only=open_only)
            )
        query = select(TICKET.c.body).where(
            _condition(vehicle, depot, statuses, open_only=open_only), self._tickets_in_sight()
        )
        return tuple(
            unpack(body, Ticket) for body in self._connection.scalars(query.order_by(TICKET.c.number))
        )

    def ticket_page(
        self,
        *,
        vehicle: str = "",
        depot: str = "",
        statuses: Sequence[str] = (),
        open_only: bool = False,
        limit: int = 100,
        cursor: str = "",
    ) -> Page[Ticket]:
        """List tickets in the order of their creation.

        Raises
        ------
        BadCursor
            Not the cursor of this list with these filters.
        """
        filters = {"vehicle": vehicle, "depot": depot, "statuses": sorted(statuses), "open": open_only}
        after = read_cursor("tickets", filters, cursor, (int,))
        query = select(TICKET.c.number, TICKET.c.body).where(
            _condition(vehicle, depot, statuses, open_only=open_only), self._tickets_in_sight()
        )
        if after is not None:
            query = query.where(TICKET.c.number > after[0])
        rows = self._connection.execute(query.order_by(TICKET.c.number).limit(check_limit(limit) + 1)).all()
        more = len(rows) > limit
        return Page(
            rows=tuple(unpack(row.body, Ticket) for row in rows[:limit]),
            cursor=write_cursor("tickets", filters, [rows[limit - 1].number]) if more else "",
        )

    def ticket_events(self, number: str = "", *, since: datetime | None = None) -> tuple[TicketEvent, ...]:
        """Give the history of one ticket, or of all, oldest first, from `since` on."""
        query = select(TICKET_EVENT).order_by(TICKET_EVENT.c.number)
        if self.depot:
            seen = select(TICKET.c.ticket).where(self._tickets_in_sight())
            query = query.where(TICKET_EVENT.c.ticket.in_(seen))
        if number:
            query = query.where(TICKET_EVENT.c.ticket == number)
        if since is not None:
            query = query.where(TICKET_EVENT.c.at_us >= to_us(since))
        return tuple(_event(row) for row in self._connection.execute(query))

    def _tickets_in_sight(self) -> Any:
        return self._names_in_sight(TICKET.c.vehicle)

    def _add_ticket(self, ticket: Ticket, values: dict[str, Any]) -> None:
        taken = self._connection.scalar(select(TICKET.c.version).where(TICKET.c.ticket == ticket.ticket))
        if taken is not None:
            raise AlreadyThere("ticket", ticket.ticket)
        try:
            self._connection.execute(TICKET.insert(), values)
        except IntegrityError as err:  # another writer took it between our look and our write
            raise AlreadyThere("ticket", ticket.ticket) from err

    def _change_ticket(self, ticket: Ticket, values: dict[str, Any], read_version: int) -> None:
        named = {f"new_{name}": value for name, value in values.items()}
        changed = self._connection.execute(
            _CHANGE, named | {"old_ticket": ticket.ticket, "old_version": read_version}
        )
        if not changed.rowcount:
            found = self._connection.scalar(select(TICKET.c.version).where(TICKET.c.ticket == ticket.ticket))
            if found is None:
                raise NotFound("ticket", ticket.ticket)
            raise StaleVersion(ticket.ticket, read_version, found)

    def _tickets_as_of(self, as_of: datetime) -> tuple[Ticket, ...]:
        newest = (
            select(TICKET_VERSION.c.ticket, func.max(TICKET_VERSION.c.version).label("version"))
            .where(TICKET_VERSION.c.at_us <= to_us(as_of))
            .group_by(TICKET_VERSION.c.ticket)
            .subquery()
        )
        query = (
            select(TICKET_VERSION.c.body)
            .join(
                newest,
                and_(
                    TICKET_VERSION.c.ticket == newest.c.ticket, TICKET_VERSION.c.version == newest.c.version
                ),
            )
            .join(TICKET, TICKET.c.ticket == TICKET_VERSION.c.ticket)
            .where(self._tickets_in_sight())
            .order_by(TICKET.c.number)
        )
        return tuple(unpack(body, Ticket) for body in self._connection.scalars(query))


_CHANGE = (
    update(TICKET)
    .where(TICKET.c.ticket == bindparam("old_ticket"), TICKET.c.version == bindparam("old_version"))
    .values({name: bindparam(f"new_{name}") for name in (*EXPORT_COLUMNS, "body", "version")})
)
"""Built once: building it anew for each of a night's changes cost more than the database did."""


def ticket_row(ticket: Ticket) -> dict[str, Any]:
    """Give the columns of a ticket's row: the exported ones, the whole ticket packed, and its version."""
    values = {name: _stored(getattr(ticket, name)) for name in EXPORT_COLUMNS}
    return values | {"body": pack(ticket), "version": ticket.version}


def _stored(value: object) -> object:
    if isinstance(value, date) and not isinstance(value, datetime):
        return to_day(value)
    return value


def _condition(vehicle: str, depot: str, statuses: Sequence[str], *, open_only: bool) -> Any:
    conditions: list[Any] = [True]
    if vehicle:
        conditions.append(TICKET.c.vehicle == vehicle)
    if depot:
        conditions.append(TICKET.c.depot == depot)
    if statuses:
        conditions.append(TICKET.c.status.in_(list(statuses)))
    if open_only:
        conditions += [TICKET.c.status.not_in(_CLOSED), TICKET.c.closed_at.is_(None)]
    return and_(*conditions)


def _is_wanted(ticket: Ticket, vehicle: str, depot: str, statuses: Sequence[str], *, open_only: bool) -> bool:
    return (
        (not vehicle or ticket.vehicle == vehicle)
        and (not depot or ticket.depot == depot)
        and (not statuses or ticket.status in statuses)
        and (not open_only or is_open(ticket))
    )


def _event_row(event: TicketEvent) -> dict[str, Any]:
    return {
        "ticket": event.ticket,
        "version": event.version,
        "at_us": to_us(event.at),
        "event": event.event,
        "role": event.role,
        "by": event.by,
        "status_before": event.status_before,
        "status_after": event.status_after,
        "note": event.note,
        "facts": to_text(event.facts),
    }


def _event(row: Any) -> TicketEvent:
    return TicketEvent(
        ticket=row.ticket,
        version=row.version,
        at=from_us(row.at_us),
        event=row.event,
        role=row.role,
        by=row.by,
        status_before=row.status_before,
        status_after=row.status_after,
        note=row.note,
        facts=from_text(row.facts, dict),
    )
