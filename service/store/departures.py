"""Browsers on their way to the sign-in provider and back: each comes back once, and not late."""

from datetime import datetime, timedelta
from typing import Final

from sqlalchemy import delete, func, select

from service.store.packing import from_text, to_text
from service.store.tables import DEPARTURE
from service.store.unit import Unit, clean
from service.store.values import Departure

AWAY_FOR: Final = timedelta(minutes=10)
"""Longest time between leaving and coming back; chosen by us: a second factor takes some minutes."""


class Departures(Unit):
    """Sign-ins under way at the provider."""

    def put_departure(self, departure: Departure) -> None:
        """Keep that a browser leaves; those that never came back are forgotten."""
        late = DEPARTURE.c.at < departure.at - AWAY_FOR
        self._connection.execute(delete(DEPARTURE).where(late))
        draft = [[clean(name), clean(text)] for name, text in departure.draft]
        self._connection.execute(
            DEPARTURE.insert().values(
                digest=departure.digest,
                source=departure.source,
                at=departure.at,
                following=clean(departure.following),
                action=clean(departure.action),
                draft=to_text(draft),
            )
        )

    def take_departure(self, digest: str, now: datetime) -> Departure | None:
        """Take what was kept of a browser that comes back; None where it left not at all, or too long ago.

        Whoever takes it is the only one: it is gone in the same statement.
        """
        taken = delete(DEPARTURE).where(DEPARTURE.c.digest == digest).returning(*DEPARTURE.c)
        row = self._connection.execute(taken).one_or_none()
        if row is None or row.at < now - AWAY_FOR:
            return None
        values = dict(row._mapping)
        values["draft"] = tuple((name, text) for name, text in from_text(values["draft"], list[list[str]]))
        return Departure(**values)

    def departures_from(self, source: str, now: datetime) -> int:
        """Count the browsers of one address that are under way."""
        query = select(func.count()).where(DEPARTURE.c.source == source, DEPARTURE.c.at >= now - AWAY_FOR)
        return int(self._connection.execute(query).scalar_one())
