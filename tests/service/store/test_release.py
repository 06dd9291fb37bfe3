"""What was held comes in whole once it may, read again by the door it first came through."""

from datetime import UTC, datetime

import pytest

from ingest.aliases import AliasTable
from ingest.batch import Arrival
from ingest.formats import read_snapshots
from ingest.records import Alias, Vehicle
from service.store import NotFound, Store
from service.store.columns import to_us

NOW = datetime(2031, 3, 4, 12, 0, tzinfo=UTC)
ALIASES = AliasTable.from_rows(
    [Alias(scope="fleet", scope_id="", name="Coolant", parameter="ECT", unit="degF")]
)
BODY = (
    b'{"vehicle": "V-9", "taken_at": "2031-03-04T06:12:09.123456-05:00", "state": "warm_idle", "id": "x-1",'
    b' "device": "L-9", "odometer_km": 48211.5, "trailer": "yes", "values": {"LONGFT1": 3.9, "RPM": 742,'
    b' "Coolant": 194, "IAT": {"value": 68, "unit": "degF"}, "FUELSYS1": "CL", "CAM_SYNC": true,'
    b' "Oil life": 33}, "switches": {"ac": false}}'
)


def read(body: bytes) -> Arrival:
    """Read a body as the service does."""
    return read_snapshots(body, kind="json", now_us=to_us(NOW), aliases=ALIASES)


def test_held_snapshot_comes_in_whole(store: Store) -> None:
    """A snapshot held for its vehicle is the same as one sent after registering: a resend is a duplicate."""
    with store.begin() as work:
        held = work.add_arrival(read(BODY), received_at=NOW, source="L-9")
        work.put_vehicles([Vehicle(vehicle="V-9")], NOW)
        (item,) = work.refusals().rows

        (released,) = work.release([item.number], now=NOW)
        again = work.add_arrival(read(released.payload.encode()), received_at=NOW, source="L-9")
        resent = work.add_arrival(read(BODY), received_at=NOW, source="L-9")

        (kept,) = work.snapshots().rows
    assert [refusal.code for refusal in held.quarantined] == ["unknown-vehicle"]
    assert (again.accepted, again.quarantined, again.rejected) == (1, (), ())
    assert (resent.accepted, resent.duplicates) == (0, 1)
    assert kept.values == {
        "LONGFT1": 3.9,
        "RPM": 742.0,
        "ECT": 90.0,
        "IAT": 20.0,
        "FUELSYS1": 1.0,
        "CAM_SYNC": 1.0,
    }


def test_order_of_keys_is_no_difference(store: Store) -> None:
    """The same snapshot with its keys in another order is a duplicate."""
    first = BODY.replace(b'"trailer": "yes", ', b'"b": 1, "a": 2, ')
    second = BODY.replace(b'"trailer": "yes", ', b'"a": 2, "b": 1, ')
    with store.begin() as work:
        work.put_vehicles([Vehicle(vehicle="V-9")], NOW)
        work.add_arrival(read(first), received_at=NOW, source="L-9")

        assert work.add_arrival(read(second), received_at=NOW, source="L-9").duplicates == 1


def test_said_twice_in_one_body_is_counted(store: Store) -> None:
    """A snapshot that stands twice in one body is kept once and counted as a duplicate."""
    with store.begin() as work:
        work.put_vehicles([Vehicle(vehicle="V-9")], NOW)

        receipt = work.add_arrival(read(b"[" + BODY + b"," + BODY + b"]"), received_at=NOW, source="L-9")

    assert (receipt.accepted, receipt.duplicates) == (1, 1)


@pytest.mark.parametrize("number", [0, -1, 2**31, 10**30])
def test_numbers_that_no_row_has(store: Store, number: int) -> None:
    """A number beyond what a table can have names nothing; the database is not asked for it."""
    with store.begin() as work:
        with pytest.raises(NotFound):
            work.release([number], now=NOW)
        with pytest.raises(NotFound):
            work.upload(number)
        with pytest.raises(NotFound):
            work.drop_off_road(number)
        with pytest.raises(NotFound):
            work.end_off_road(number, NOW.date())
        assert work.discard([number], now=NOW) == 0
