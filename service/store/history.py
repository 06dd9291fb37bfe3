"""Reading what was kept: snapshots, newest readings and exposure."""

from collections.abc import Mapping, Sequence
from datetime import datetime

from models.panel import Readings
from service.store.unit import Unit
from service.store.values import Exposure, KeptSnapshot, LastSeen, Page


class History(Unit):
    """Stored snapshots, read in several ways."""

    def readings(self, vehicle: str, from_day: int, to_day: int) -> Readings:
        """Give one vehicle's snapshots of local days from_day..to_day, both included, as columns (vehicle is place 0)."""
        raise NotImplementedError

    def snapshots(
        self,
        *,
        vehicle: str = "",
        state: str = "",
        from_at: datetime | None = None,
        to_at: datetime | None = None,
        known_at: datetime | None = None,
        limit: int = 100,
        cursor: str = "",
    ) -> Page[KeptSnapshot]:
        """List snapshots by vehicle (order of registration), then time; `known_at` leaves out later received ones."""
        raise NotImplementedError

    def snapshot_count(self) -> int:
        """Count stored snapshots."""
        raise NotImplementedError

    def last_seen(self) -> tuple[LastSeen, ...]:
        """Give the newest reading of every vehicle, sorted by the fleet's own number."""
        raise NotImplementedError

    def exposures(self, from_day: int, to_day: int) -> tuple[Exposure, ...]:
        """Give days and distance of every vehicle between two local days, both included."""
        raise NotImplementedError

    def device_starts(self) -> Mapping[str, Sequence[tuple[int, str]]]:
        """Give for each vehicle the devices that reported it: first local day and name, by day."""
        raise NotImplementedError
