"""Keeping what arrives: snapshots, refusals and names nobody knows."""

from collections.abc import Sequence
from datetime import datetime

from ingest.batch import Arrival, Refusal
from service.store.unit import Unit
from service.store.values import KeptRefusal, Page, Receipt, UnknownName


class Arrivals(Unit):
    """Arrivals and what was refused of them."""

    def add_arrival(self, arrival: Arrival, *, received_at: datetime, source: str) -> Receipt:
        """Keep an arrival: new snapshots, refusals, unknown names, and marks on the vehicle-days touched."""
        raise NotImplementedError

    def add_refusals(
        self, refusals: Sequence[Refusal], *, kind: str, received_at: datetime, source: str
    ) -> None:
        """Keep refused items (`quarantined` or `rejected`)."""
        raise NotImplementedError

    def refusals(
        self,
        *,
        kind: str = "",
        code: str = "",
        vehicle: str = "",
        held_only: bool = True,
        limit: int = 100,
        cursor: str = "",
    ) -> Page[KeptRefusal]:
        """List refused items, newest first."""
        raise NotImplementedError

    def refusal_counts(self, *, held_only: bool = True) -> dict[tuple[str, str], int]:
        """Count refused items by kind and code."""
        raise NotImplementedError

    def release(self, numbers: Sequence[int], *, now: datetime) -> tuple[KeptRefusal, ...]:
        """Mark held items as released and give them back, payloads included, to be read again."""
        raise NotImplementedError

    def unknown_names(self) -> tuple[UnknownName, ...]:
        """List names that no alias explains, and personal fields dropped, by source."""
        raise NotImplementedError
