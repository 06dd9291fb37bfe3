"""One notice for what a crowd does at once, however many series show it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from datetime import date
from typing import Any

from models.findings import FleetEvent
from service.tickets.words import to_date


@dataclass(frozen=True, slots=True, kw_only=True)
class Notice:
    """What one crowd did together in a week.

    Parameters
    ----------
    on : date
        First day of those on which its series were farthest out.
    scope : str
        The depot, or `fleet`.
    vehicles : int
        How many vehicles moved.
    events : tuple of FleetEvent
        One for each series, by name.
    """

    on: date
    scope: str
    vehicles: int
    events: tuple[FleetEvent, ...]


def read_events(rows: Iterable[Mapping[str, Any]]) -> tuple[FleetEvent, ...]:
    """Read the shifts that a frozen report holds; reports of earlier releases name no hint."""
    names = {one.name for one in fields(FleetEvent)}
    return tuple(FleetEvent(**{name: row[name] for name in names & set(row)}) for row in rows)


def notices(events: Iterable[FleetEvent]) -> tuple[Notice, ...]:
    """Put the shifts of one week together, one notice for each crowd.

    Fuel, weather or a logger's new release move several series of a depot at once: that is one cause, and
    whoever reads it needs one line.

    Parameters
    ----------
    events : iterable of FleetEvent
        At most one for each scope and series.

    Returns
    -------
    tuple of Notice
        By scope.
    """
    crowds: dict[str, list[FleetEvent]] = {}
    for event in events:
        crowds.setdefault(event.scope, []).append(event)
    return tuple(
        Notice(
            on=to_date(min(event.day for event in shared)),
            scope=scope,
            vehicles=max(event.vehicles for event in shared),
            events=tuple(sorted(shared, key=lambda event: event.series)),
        )
        for scope, shared in sorted(crowds.items())
    )
