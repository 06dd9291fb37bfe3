"""The store: one database, opened once per process."""

from collections.abc import Callable
from copy import copy
from datetime import datetime, timedelta
from typing import Final, Self

from sqlalchemy import Connection, delete, func, not_, or_, select
from sqlalchemy.dialects.sqlite import insert
from sqlalchemy.exc import DBAPIError, OperationalError, SQLAlchemyError
from sqlalchemy.exc import TimeoutError as PoolTimeout

from ingest.aliases import AliasTable
from service.store.away import is_away
from service.store.columns import to_us
from service.store.engine import READONLY, open_engine, read_url
from service.store.errors import SchemaMismatch, StoreUnavailable
from service.store.rereading import STEP
from service.store.schema import head_revision, kept_revision, upgrade
from service.store.summaries import FIRST, Summarise
from service.store.tables import POST
from service.store.values import Actor, Health
from service.store.work import Work

LEASE: Final = timedelta(minutes=2)
"""How long a post stays with a silent holder in SQLite; chosen by us: two missed one-minute beats."""


class Store:
    """One open database.

    Parameters
    ----------
    url : str
        `sqlite:///PATH` or `postgresql://...`.
    fleet_zone : str
        Time zone of vehicles that name none.

    Raises
    ------
    WrongDatabaseUrl
        The address names no database that Forelamp can use.
    """

    def __init__(self, url: str, *, fleet_zone: str = "UTC") -> None:
        parsed = read_url(url)
        self.url = parsed.render_as_string(hide_password=True)
        self.fleet_zone = fleet_zone
        self._engine = open_engine(parsed)
        self._posts: dict[str, tuple[str, Connection]] = {}
        self._depot = ""
        self._actor: Actor | None = None

    def on_behalf(self, *, depot: str = "", actor: Actor | None = None) -> Self:
        """Give the same store as somebody may see it, and with that somebody's name on what is written.

        Parameters
        ----------
        depot : str
            Only depot whose vehicles, tickets, work, readings and held items are there at all; reports of the
            whole fleet are then not there either. Empty for all.
        actor : Actor or None
            Who writes; every commit leaves a line in the event log.
        """
        other = copy(self)
        other._depot = depot
        other._actor = actor
        return other

    @property
    def kind(self) -> str:
        """`sqlite` or `postgresql`."""
        return self._engine.dialect.name

    def migrate(self) -> bool:
        """Bring the tables to this version's schema; one process does it, others wait.

        Returns
        -------
        bool
            False when they were already there.

        Raises
        ------
        SchemaMismatch
            The tables were written by a newer version.
        StoreUnavailable
            The database does not answer.
        """
        try:
            changed = upgrade(self._engine)
        except DBAPIError as err:
            if is_away(err):
                raise StoreUnavailable(str(err.orig)) from err
            raise
        with self.begin() as work:
            if work.settle_zones() + work.settle_layout():
                work.commit()
        return changed

    def schema_is_current(self) -> bool:
        """Tell whether the tables are as this version needs them."""
        with self._engine.connect() as connection:
            return kept_revision(connection) == head_revision()

    def check_schema(self) -> None:
        """Pass only when the tables are as this version needs them.

        Raises
        ------
        SchemaMismatch
            They are older or newer.
        """
        with self._engine.connect() as connection:
            found = kept_revision(connection)
        if found != head_revision():
            raise SchemaMismatch(found, head_revision())

    def begin(self, *, readonly: bool = False) -> Work:
        """Begin a unit of work: `with store.begin() as work:`.

        Parameters
        ----------
        readonly : bool
            Sees one state throughout, never waits for a writer, and cannot commit.

        Raises
        ------
        StoreUnavailable
            The database does not answer.
        """
        try:
            connection = self._engine.connect()
        except (DBAPIError, PoolTimeout) as err:
            if isinstance(err, PoolTimeout) or is_away(err):
                raise StoreUnavailable(str(getattr(err, "orig", err))) from err
            raise
        if readonly:
            connection = connection.execution_options(**{READONLY: True})
            if self.kind == "postgresql":
                connection = connection.execution_options(
                    isolation_level="REPEATABLE READ", postgresql_readonly=True
                )
        return Work(
            connection,
            fleet_zone=self.fleet_zone,
            readonly=readonly,
            depot=self._depot,
            actor=self._actor,
        )

    def fold_all(self, summarise: Summarise) -> int:
        """Fold every touched vehicle-day, a commit per chunk; gives their count.

        One walk over vehicles and days: what is touched behind it while it goes waits for the next, or a
        night would never end where readings come without a pause.
        """
        total, after = 0, FIRST
        with self.begin() as work:
            while (folded := work.fold_touched(summarise, after=after)).count:
                work.commit()
                total, after = total + folded.count, folded.last
        return total

    def reread_all(
        self, now: datetime, *, most: int | None = None, told: Callable[[int], None] | None = None
    ) -> int:
        """Read stored snapshots again where names have got a meaning since, a commit per step.

        Parameters
        ----------
        now : datetime
            Aware.
        most : int or None
            Stops after about so many snapshots; the next call goes on from there. None for all.
        told : callable or None
            Called with the snapshots looked at in all, for progress.

        Returns
        -------
        int
            Snapshots that gained a value. Their days are marked for folding.
        """
        with self.begin(readonly=True) as work:
            # The schedule asks every minute: no lock, no table of names for nothing.
            if not work.wants_reread():
                return 0
        changed = looked = 0
        while most is None or looked < most:
            with self.begin() as work:
                step = work.reread_step(AliasTable.from_rows(work.aliases(), work.sheets()), now)
                work.commit()
            if step is None:
                break
            changed += step
            looked += STEP
            if told is not None:
                told(looked)
        return changed

    def elect(self, name: str, owner: str, now: datetime, *, lease: timedelta = LEASE) -> bool:
        """Try to be, or go on being, the one process that holds a post such as `scheduler`.

        PostgreSQL: an advisory lock on a connection of its own, free as soon as the holder's process ends.
        SQLite: a row that the holder renews by calling this again within `lease`.

        Parameters
        ----------
        name : str
            The post.
        owner : str
            Who asks; unique to the process.
        now : datetime
            Aware.
        lease : timedelta
            How long a silent holder keeps the post in SQLite.
        """
        return self._lock(name, owner) if self.kind == "postgresql" else self._lease(name, owner, now, lease)

    def resign(self, name: str, owner: str) -> None:
        """Give up a post; one that is held by somebody else stays with them."""
        held = self._posts.get(name)
        if held is not None and held[0] == owner:
            _give_up(self._posts.pop(name)[1])
        elif self.kind == "sqlite":
            with self._engine.begin() as lease:
                lease.execute(delete(POST).where(POST.c.post == name, POST.c.owner == owner))

    def health(self) -> Health:
        """Tell whether the database answers and its tables fit; never raises for a database that does not."""
        try:
            with self._engine.connect() as connection:
                found = kept_revision(connection)
                standby = self.kind == "postgresql" and connection.scalar(select(func.pg_is_in_recovery()))
        except SQLAlchemyError as err:
            return self._not_reachable(str(err))
        if standby:
            return self._not_reachable("the database is a standby, which keeps nothing")
        return Health(database=self.kind, reachable=True, revision=found, wanted=head_revision())

    def _not_reachable(self, detail: str) -> Health:
        return Health(database=self.kind, reachable=False, revision="", wanted=head_revision(), detail=detail)

    def close(self) -> None:
        """Close all connections; posts are given up."""
        for _, connection in self._posts.values():
            _give_up(connection)
        self._posts.clear()
        self._engine.dispose()

    def _lock(self, name: str, owner: str) -> bool:
        if name in self._posts:
            holder, held = self._posts[name]
            try:
                held.execute(select(1))
            except OperationalError:  # the server or the network dropped it, and the lock with it
                held.invalidate()
                held.close()
                del self._posts[name]
            else:
                return holder == owner
        connection = self._engine.connect().execution_options(isolation_level="AUTOCOMMIT")
        if connection.scalar(select(func.pg_try_advisory_lock(func.hashtext(f"forelamp {name}")))):
            self._posts[name] = (owner, connection)
            return True
        connection.close()
        return False

    def _lease(self, name: str, owner: str, now: datetime, lease: timedelta) -> bool:
        values = {"owner": owner, "until_us": to_us(now + lease)}
        statement = insert(POST).values(post=name, **values)
        with self._engine.begin() as connection:
            held = connection.execute(
                statement.on_conflict_do_update(
                    index_elements=["post"],
                    set_=values,
                    # Further ahead than any lease: written by a clock that was put right since.
                    where=or_(
                        POST.c.owner == owner,
                        not_(POST.c.until_us.between(to_us(now), to_us(now + 2 * lease))),
                    ),
                ).returning(POST.c.owner)
            )
            return held.first() is not None


def _give_up(connection: Connection) -> None:
    """Free the advisory lock that a connection holds before it goes back to its pool."""
    try:
        connection.execute(select(func.pg_advisory_unlock_all()))
    except OperationalError:  # the server dropped the connection, and the lock with it
        connection.invalidate()
    connection.close()


def open_store(url: str, *, fleet_zone: str = "UTC") -> Store:
    """Open a store. Nothing is created before `migrate`.

    Raises
    ------
    WrongDatabaseUrl
        The address names no database that Forelamp can use.
    """
    return Store(url, fleet_zone=fleet_zone)
