"""A server that goes away in the middle of a unit of work."""

import pytest
from sqlalchemy import text

from service.store import Store, StoreUnavailable, open_store


def _write(store: Store, other: Store, *, broken: bool) -> None:
    with store.begin() as work:
        work.put_preference("hours", "20")
        mine = work._connection.scalar(text("SELECT pg_backend_pid()"))
        with other.begin() as killing:
            killing._connection.execute(text("SELECT pg_terminate_backend(:mine, 5000)"), {"mine": mine})
        if broken:
            work.put_preference("hours", "21")


@pytest.mark.parametrize("broken", [False, True])
def test_connection_dropped_inside_a_unit(postgresql_url: str, broken: bool) -> None:
    """The caller is told that the store is not there, whoever notices first; the next unit works."""
    store, other = open_store(postgresql_url), open_store(postgresql_url)
    with pytest.raises(StoreUnavailable):
        _write(store, other, broken=broken)

    with store.begin(readonly=True) as work:
        assert dict(work.preferences()) == {}
    store.close()
    other.close()
