"""What a store holds, to be held against what was acknowledged."""

from datetime import UTC, datetime, timedelta

from sqlalchemy import Connection, NullPool, create_engine, text

from ingest.records import Vehicle
from models.summarise import summarise
from service.auth import digest_of, issue
from service.auth.sessions import COOKIE, new_cookie
from service.clock import Clock
from service.store import Person, SignIn, open_store
from service.store.engine import read_url


def prepare(url: str, vehicles: int) -> str:
    """Register vehicles `V-1` and up, and give a token that may send."""
    now = datetime(2026, 1, 1, tzinfo=UTC)
    secret, token = issue("senders", ["send"], now=now)
    store = open_store(url)
    store.migrate()
    with store.begin() as work:
        work.put_vehicles([Vehicle(vehicle=f"V-{number}") for number in range(1, vehicles + 1)], now)
        work.put_token(token)
        work.commit()
    store.close()
    return secret


def sign_in(url: str) -> str:
    """Sign an administrator in for a day; gives the header that a browser sends."""
    now, cookie = Clock().now(), new_cookie()
    store = open_store(url)
    with store.begin() as work:
        work.put_person(Person(login="watcher", role="admin", password="", created_at=now))
        work.put_sign_in(
            SignIn(
                digest=digest_of(cookie),
                login="watcher",
                created_at=now,
                expires_at=now + timedelta(days=1),
                seen_at=now + timedelta(hours=2),
            )
        )
        work.commit()
    store.close()
    return f"{COOKIE}={cookie}"


def found(url: str) -> list[tuple[str, str]]:
    """List vehicle and time of every stored snapshot."""
    query = "SELECT v.vehicle, s.taken_us FROM snapshot s JOIN vehicle v ON v.vehicle_no = s.vehicle_no"
    with _connected(url) as connection:
        return [
            (vehicle, datetime.fromtimestamp(taken_us / 1e6, UTC).isoformat())
            for vehicle, taken_us in connection.execute(text(query))
        ]


def folded(url: str) -> int:
    """Fold what is marked and count the readings in the summaries: a lost mark would show as too few."""
    store = open_store(url)
    store.fold_all(summarise)
    store.close()
    with _connected(url) as connection:
        return int(connection.scalar(text("SELECT coalesce(sum(readings), 0) FROM daily")) or 0)


def check_files(url: str) -> str:
    """Let the database check its own pages and indexes; gives how."""
    with _connected(url) as connection:
        if connection.dialect.name == "sqlite":
            assert connection.scalars(text("PRAGMA integrity_check")).all() == ["ok"]
            return "integrity_check"
        connection.execute(text("CREATE EXTENSION IF NOT EXISTS amcheck"))
        connection.execute(
            text(
                "SELECT bt_index_check(c.oid, true) FROM pg_index i JOIN pg_class c ON c.oid = i.indexrelid"
                " JOIN pg_namespace n ON n.oid = c.relnamespace AND n.nspname = 'public'"
                " JOIN pg_am a ON a.oid = c.relam AND a.amname = 'btree'"
            )
        ).all()
        return "amcheck"


def _connected(url: str) -> Connection:
    return create_engine(read_url(url), poolclass=NullPool).connect()
