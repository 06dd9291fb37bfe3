"""One unit of work: everything in it is kept together, or not at all."""

from types import TracebackType
from typing import Self

from sqlalchemy import Connection

from service.store.arrivals import Arrivals
from service.store.evaluations import Evaluations
from service.store.history import History
from service.store.ledger import Ledger
from service.store.people import People
from service.store.registry import Registry
from service.store.summaries import Summaries
from service.store.workshop import Workshop


class Work(Registry, Arrivals, History, Summaries, Workshop, Evaluations, Ledger, People):
    """One unit of work on the store; leaving the block rolls back what was not committed.

    Examples
    --------
    ``with store.begin() as work: work.put_vehicles(rows, now); work.commit()``
    """

    def __init__(self, connection: Connection, *, fleet_zone: str, readonly: bool) -> None:
        super().__init__(connection, fleet_zone=fleet_zone)
        self._readonly = readonly

    def commit(self) -> None:
        """Keep everything done so far; what follows in the block is a new transaction."""
        raise NotImplementedError

    def rollback(self) -> None:
        """Undo everything since the last commit."""
        raise NotImplementedError

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        raise NotImplementedError
