"""One unit of work: everything in it is kept together, or not at all."""

from types import TracebackType
from typing import Self

from sqlalchemy import Connection
from sqlalchemy.exc import DBAPIError

from service.store.absences import Absences
from service.store.accounts import Accounts
from service.store.arrivals import Arrivals
from service.store.away import is_away
from service.store.departures import Departures
from service.store.erasing import Erasing
from service.store.errors import ReadOnlyWork, StoreUnavailable
from service.store.evaluations import Evaluations
from service.store.facts import Facts
from service.store.forms import Forms
from service.store.ledger import Ledger
from service.store.people import People
from service.store.registry import Registry
from service.store.retaining import Retaining
from service.store.uploads import Uploads
from service.store.values import Actor
from service.store.workshop import Workshop


class Work(
    Registry,
    Arrivals,
    Facts,
    Workshop,
    Evaluations,
    Ledger,
    People,
    Accounts,
    Departures,
    Forms,
    Absences,
    Uploads,
    Retaining,
    Erasing,
):
    """One unit of work on the store; leaving the block rolls back what was not committed.

    Parameters
    ----------
    connection : Connection
        Open; closed when the block is left.
    fleet_zone : str
        Time zone of vehicles that name none.
    readonly : bool
        Whether `commit` is refused.
    depot : str
        Only depot whose vehicles are in sight; empty for all.
    actor : Actor or None
        For whom it writes: a commit leaves a line in the event log, the work's own or a general one.
    """

    def __init__(
        self,
        connection: Connection,
        *,
        fleet_zone: str,
        readonly: bool,
        depot: str = "",
        actor: Actor | None = None,
    ) -> None:
        super().__init__(connection, fleet_zone=fleet_zone, depot=depot)
        self._readonly = readonly
        self._actor = actor

    def commit(self) -> None:
        """Keep everything done so far; what follows in the block is a new transaction.

        Raises
        ------
        ReadOnlyWork
            It was begun for reading only.
        StoreUnavailable
            The database did not take it.
        """
        if self._readonly:
            raise ReadOnlyWork
        if self._actor is not None:
            self.tell_for(self._actor)
        try:
            self._connection.commit()
            self._has_staged = False
        except DBAPIError as err:
            if is_away(err):
                raise StoreUnavailable(str(err.orig)) from err
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        try:
            self._connection.rollback()
        except DBAPIError as err:  # the server went away: there is nothing left to take back
            self._connection.invalidate()
            raise StoreUnavailable(str(err.orig)) from err
        finally:
            self._connection.close()
        if is_away(error):
            raise StoreUnavailable(str(getattr(error, "orig", error))) from error
