"""What a store holds, to be held against what was acknowledged."""

from datetime import UTC, datetime

from sqlalchemy import NullPool, create_engine, text

from ingest.records import Vehicle
from service.auth import issue
from service.store import open_store
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


def found(url: str) -> list[tuple[str, str]]:
    """List vehicle and time of every stored snapshot; a day that is not marked for folding is a fault."""
    query = (
        "SELECT v.vehicle, s.taken_us, s.day FROM snapshot s JOIN vehicle v ON v.vehicle_no = s.vehicle_no"
    )
    with create_engine(read_url(url), poolclass=NullPool).connect() as connection:
        rows = connection.execute(text(query)).all()
        marks = connection.execute(
            text("SELECT v.vehicle, t.day FROM touched t JOIN vehicle v ON v.vehicle_no = t.vehicle_no")
        )
        marked = {(vehicle, day) for vehicle, day in marks}
    assert {(vehicle, day) for vehicle, _, day in rows} <= marked
    return [
        (vehicle, datetime.fromtimestamp(taken_us / 1e6, UTC).isoformat()) for vehicle, taken_us, _ in rows
    ]
