"""What the fleet tells about itself: vehicles, spec sheets and aliases."""

from collections.abc import Sequence
from datetime import date, datetime

from ingest.records import Alias, SpecSheet, Vehicle
from service.store.unit import Unit
from service.store.values import KeptSheet, Loads


class Registry(Unit):
    """Vehicles, spec sheets and aliases."""

    def put_vehicles(self, rows: Sequence[Vehicle], now: datetime, *, who: str = "system") -> Loads:
        """Register vehicles or bring their rows up to date; the same row twice changes nothing."""
        raise NotImplementedError

    def vehicles(self, names: Sequence[str] | None = None) -> tuple[Vehicle, ...]:
        """Give all vehicles, or those named, sorted by the fleet's own number."""
        raise NotImplementedError

    def vehicle(self, name: str) -> Vehicle:
        """Give one vehicle; raises NotFound."""
        raise NotImplementedError

    def vehicle_zone(self, name: str) -> str:
        """Give the time zone that a vehicle's days are counted in: its own, or the fleet's."""
        raise NotImplementedError

    def sheet_of(self) -> dict[str, str]:
        """Give the spec sheet's name for each vehicle that names one."""
        raise NotImplementedError

    def put_sheets(
        self, rows: Sequence[SpecSheet], now: datetime, *, who: str = "system", draft: bool = False
    ) -> Loads:
        """Keep revisions of spec sheets, in force for the whole history at once or as drafts."""
        raise NotImplementedError

    def enforce_sheet(
        self, sheet: str, revision: int, *, in_force_from: date | None, now: datetime, who: str
    ) -> None:
        """Put a draft in force from a date on; raises NotFound."""
        raise NotImplementedError

    def sheets(self, *, as_of_day: int | None = None) -> tuple[SpecSheet, ...]:
        """Give the highest revision in force of each sheet, sorted by name."""
        raise NotImplementedError

    def sheet_revisions(self, sheet: str = "") -> tuple[tuple[SpecSheet, KeptSheet], ...]:
        """Give every revision of one sheet or of all, with its standing."""
        raise NotImplementedError

    def put_aliases(self, rows: Sequence[Alias], now: datetime, *, who: str = "system") -> Loads:
        """Keep aliases; key is scope, scope_id and name."""
        raise NotImplementedError

    def aliases(self) -> tuple[Alias, ...]:
        """Give all aliases, sorted by scope, scope_id and name."""
        raise NotImplementedError
