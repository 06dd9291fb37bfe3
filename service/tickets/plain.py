"""A ticket as plain JSON values and back, without loss."""

from collections.abc import Mapping
from dataclasses import asdict
from datetime import date, datetime
from typing import Any

import msgspec

from service.tickets.ticket import Ticket, TicketEvent


def to_plain(value: Ticket | TicketEvent) -> dict[str, Any]:
    """Turn a ticket or an event into dicts, lists, text and numbers; times become RFC 3339 text."""
    return {name: _plain(item) for name, item in asdict(value).items()}


def ticket_from_plain(values: Mapping[str, Any]) -> Ticket:
    """Rebuild a ticket.

    Raises
    ------
    msgspec.ValidationError
        A field is missing, unknown to the type or of the wrong kind.
    """
    return msgspec.convert(dict(values), Ticket)


def event_from_plain(values: Mapping[str, Any]) -> TicketEvent:
    """Rebuild an event.

    Raises
    ------
    msgspec.ValidationError
        A field is missing, unknown to the type or of the wrong kind.
    """
    return msgspec.convert(dict(values), TicketEvent)


def _plain(value: object) -> object:
    if isinstance(value, dict):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    if isinstance(value, (datetime, date)):
        return value.isoformat()
    return value
