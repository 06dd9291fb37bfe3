"""What every topic of a unit of work stands on: one connection and a few look-ups."""

from sqlalchemy import Connection


class Unit:
    """One connection inside one transaction."""

    def __init__(self, connection: Connection, *, fleet_zone: str) -> None:
        self._connection = connection
        self._fleet_zone = fleet_zone
