"""What can go wrong when a ticket is moved.

TicketError
├── TransitionNotAllowed   the table has no such row for this status and role
├── TransitionRefused      the row exists, but its guard says no
└── UnreadableTable        a table of causes, checks or costs is incomplete or wrong
"""


class TicketError(Exception):
    """Whatever the ticket rules refuse; `code` is stable."""

    code = "ticket-error"


class TransitionNotAllowed(TicketError):  # noqa: N818 -- named after what people read
    """No row of the life-cycle allows this event here.

    Parameters
    ----------
    ticket : str
        Ticket number.
    event, status, role : str
        What was asked, where the ticket stands, and who asked.
    allowed : tuple of str
        Events that this role may start from here.
    """

    code = "transition-not-allowed"

    def __init__(self, *, ticket: str, event: str, status: str, role: str, allowed: tuple[str, ...]) -> None:
        self.ticket = ticket
        self.event = event
        self.status = status
        self.role = role
        self.allowed = allowed
        choice = ", ".join(allowed) if allowed else "none"
        super().__init__(
            f"Ticket {ticket} is {status}: {event!r} is not allowed for {role}. Allowed events: {choice}."
        )


class TransitionRefused(TicketError):  # noqa: N818 -- named after what people read
    """The event exists here, but a fact it needs is missing or wrong.

    Parameters
    ----------
    ticket, event : str
        Ticket number and what was asked.
    field : str
        The fact that is missing or wrong.
    detail : str
        One sentence: what must hold, and what was given.
    """

    code = "transition-refused"

    def __init__(self, *, ticket: str, event: str, field: str, detail: str) -> None:
        self.ticket = ticket
        self.event = event
        self.field = field
        self.detail = detail
        super().__init__(f"Ticket {ticket}, {event}: {detail}")


class UnreadableTable(TicketError):  # noqa: N818 -- named after what people read
    """A table of causes, checks, cautions or costs cannot be used.

    Parameters
    ----------
    table, place, detail : str
        Which table, which entry, and what must hold there.
    """

    code = "unreadable-table"

    def __init__(self, *, table: str, place: str, detail: str) -> None:
        self.table = table
        self.place = place
        self.detail = detail
        super().__init__(f"{table}, {place}: {detail}")
