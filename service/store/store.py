"""The store: one database, opened once per process."""

from datetime import datetime, timedelta

from service.store.summaries import Summarise
from service.store.values import Health
from service.store.work import Work


class Store:
    """One open database.

    Parameters
    ----------
    url : str
        `sqlite:///PATH` or `postgresql://...`.
    fleet_zone : str
        Time zone of vehicles that name none.
    """

    def __init__(self, url: str, *, fleet_zone: str = "UTC") -> None:
        self.url = url
        self.fleet_zone = fleet_zone

    def migrate(self) -> bool:
        """Bring the tables to this version's schema under a lock; False when they were already there."""
        raise NotImplementedError

    def schema_is_current(self) -> bool:
        """Tell whether the tables are as this version needs them."""
        raise NotImplementedError

    def begin(self, *, readonly: bool = False) -> Work:
        """Begin a unit of work: `with store.begin() as work:`. A read-only one sees one state throughout."""
        raise NotImplementedError

    def fold_all(self, summarise: Summarise) -> int:
        """Fold every touched vehicle-day, a commit per chunk; gives their count."""
        raise NotImplementedError

    def elect(self, name: str, owner: str, now: datetime, *, lease: timedelta = timedelta(minutes=2)) -> bool:
        """Try to be, or go on being, the one process that holds a post such as `scheduler`."""
        raise NotImplementedError

    def resign(self, name: str, owner: str) -> None:
        """Give up a post."""
        raise NotImplementedError

    def health(self) -> Health:
        """Tell whether the database answers and its tables fit; never raises."""
        raise NotImplementedError

    def close(self) -> None:
        """Close all connections."""
        raise NotImplementedError


def open_store(url: str, *, fleet_zone: str = "UTC") -> Store:
    """Open a store. Nothing is created before `migrate`; raises WrongDatabaseUrl."""
    return Store(url, fleet_zone=fleet_zone)
