"""Work records, tickets with their history, and costs."""

from collections.abc import Sequence
from datetime import datetime

from ingest.records import WorkRecord
from service.store.unit import Unit
from service.store.values import Cost, KeptWork, Loads, Page
from service.tickets.ticket import Ticket, TicketEvent


class Workshop(Unit):
    """Work records, tickets and costs."""

    def put_work(self, rows: Sequence[WorkRecord], now: datetime, *, who: str = "system") -> Loads:
        """Keep work records; refused: an unknown vehicle, a ticket that does not exist."""
        raise NotImplementedError

    def work_records(
        self,
        *,
        vehicle: str = "",
        ticket: str = "",
        from_day: int | None = None,
        up_to_day: int | None = None,
    ) -> tuple[KeptWork, ...]:
        """Give work records by local day done, sorted by vehicle and time."""
        raise NotImplementedError

    def work_page(
        self, *, vehicle: str = "", kind: str = "", limit: int = 100, cursor: str = ""
    ) -> Page[KeptWork]:
        """List work records, newest done first."""
        raise NotImplementedError

    def delete_work(self, number: str) -> None:
        """Take one work record back (undo within the form's time); raises NotFound."""
        raise NotImplementedError

    def next_ticket_number(self, vehicle: str) -> str:
        """Give the next free ticket number of a vehicle, `V-0017-T2`."""
        raise NotImplementedError

    def put_ticket(self, ticket: Ticket, events: Sequence[TicketEvent] = (), *, read_version: int) -> None:
        """Keep a ticket and append its events; `read_version` is 0 for a new one. Raises StaleVersion, AlreadyThere."""
        raise NotImplementedError

    def ticket(self, number: str) -> Ticket:
        """Give one ticket; raises NotFound."""
        raise NotImplementedError

    def tickets(
        self,
        *,
        vehicle: str = "",
        depot: str = "",
        statuses: Sequence[str] = (),
        open_only: bool = False,
        as_of: datetime | None = None,
    ) -> tuple[Ticket, ...]:
        """Give tickets sorted by number; `as_of` gives them as they stood then."""
        raise NotImplementedError

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
        """List tickets in the order of their creation."""
        raise NotImplementedError

    def ticket_events(self, number: str = "", *, since: datetime | None = None) -> tuple[TicketEvent, ...]:
        """Give the history of one ticket or of all, oldest first."""
        raise NotImplementedError

    def put_costs(self, rows: Sequence[Cost], now: datetime, *, who: str = "system") -> Loads:
        """Keep a revision of the cost table; the same figures again change nothing."""
        raise NotImplementedError

    def costs(self) -> tuple[Cost, ...]:
        """Give the newest revision of each cause's costs, sorted by cause."""
        raise NotImplementedError
