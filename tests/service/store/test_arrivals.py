"""What arrives is kept once, judged against what is there, and marked."""

import json
import threading
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from ingest.batch import Arrival, Batch, Refusal
from ingest.parameters import COLUMN
from ingest.records import Vehicle
from service.store import NotFound, Receipt, Store

NOW = datetime(2031, 3, 4, 12, 0, tzinfo=UTC)
MORNING = datetime(2031, 3, 4, 6, 12, 9, 123_456, tzinfo=UTC)
MakeArrival = Callable[..., Arrival]


def send(store: Store, arrival: Arrival, *, at: datetime = NOW) -> Receipt:
    """Keep an arrival in a unit of work of its own."""
    with store.begin() as work:
        receipt = work.add_arrival(arrival, received_at=at, source="L-1")
        work.commit()
    return receipt


def count(store: Store) -> int:
    """Count kept snapshots."""
    with store.begin(readonly=True) as work:
        return work.snapshot_count()


def test_keeps_every_field(fleet: Store, make_arrival: MakeArrival) -> None:
    """A kept snapshot reads back as it was sent, to the microsecond and the last digit."""
    trim = 0.1 + 0.2
    send(fleet, make_arrival([MORNING], trim=trim, given_id=["own-1"], extra='{"odd": 1}'))

    with fleet.begin(readonly=True) as work:
        (kept,) = work.snapshots().rows

    assert (kept.taken_at, kept.received_at, kept.given_id) == (MORNING, NOW, "own-1")
    assert kept.values == {"LONGFT1": trim, "RPM": 700.25, "VPWR": 14.1}
    assert kept.switches == {"ac": False, "in_gear": True}
    assert (kept.claim, kept.state, kept.extra, kept.odometer_km) == (
        "warm_idle",
        "warm_idle",
        '{"odd": 1}',
        1000.0,
    )


def test_repeat_changes_nothing(fleet: Store, make_arrival: MakeArrival) -> None:
    """Three sends of one snapshot keep one and count two duplicates."""
    receipts = [send(fleet, make_arrival([MORNING])) for _ in range(3)]

    assert [receipt.accepted for receipt in receipts] == [1, 0, 0]
    assert [receipt.duplicates for receipt in receipts] == [0, 1, 1]
    assert count(fleet) == 1


def test_repeat_within_arrival(fleet: Store, make_arrival: MakeArrival) -> None:
    """The same snapshot twice in one body is kept once."""
    receipt = send(fleet, replace(make_arrival([MORNING] * 3), batch=make_equal(make_arrival([MORNING] * 3))))

    assert (receipt.accepted, receipt.duplicates) == (1, 2)


def make_equal(arrival: Arrival) -> Batch:
    """Give all rows the same odometer, so that they are the same snapshot."""
    return replace(arrival.batch, odometer_km=np.full(len(arrival.batch), 1000.0))


@pytest.mark.parametrize("given_id", [None, ["own-1"]])
def test_conflict_keeps_the_first(
    fleet: Store, make_arrival: MakeArrival, given_id: list[str] | None
) -> None:
    """The same identity with other content is quarantined, and the kept one stays."""
    send(fleet, make_arrival([MORNING], trim=1.0, given_id=given_id))

    receipt = send(fleet, make_arrival([MORNING], trim=9.0, given_id=given_id))

    assert [refusal.code for refusal in receipt.quarantined] == ["conflicting-repeat"]
    with fleet.begin(readonly=True) as work:
        (kept,) = work.snapshots().rows
    assert kept.values["LONGFT1"] == 1.0


def test_unknown_vehicle_is_held(fleet: Store, make_arrival: MakeArrival) -> None:
    """A vehicle nobody registered is quarantined with a payload that says everything again."""
    receipt = send(fleet, make_arrival([MORNING, MORNING], vehicles=["V-1", "V-9"]))

    assert receipt.accepted == 1
    (refusal,) = receipt.quarantined
    assert (refusal.code, refusal.index, refusal.vehicle) == ("unknown-vehicle", 1, "V-9")
    assert json.loads(refusal.payload) == {
        "vehicle": "V-9",
        "taken_at": "2031-03-04T06:12:09.123456+00:00",
        "state": "warm_idle",
        "device": "L-1",
        "odometer_km": 1001.0,
        "values": {"LONGFT1": 2.5, "RPM": 700.25, "VPWR": 14.1},
        "switches": {"ac": False, "in_gear": True},
    }


def test_release_gives_back_once(fleet: Store, make_arrival: MakeArrival) -> None:
    """A held item is released once, with its payload; a second release is told so."""
    send(fleet, make_arrival([MORNING], vehicles="V-9"))
    with fleet.begin() as work:
        (held,) = work.refusals().rows

        released = work.release([held.number], now=NOW)

        assert [item.payload for item in released] == [held.payload]
        assert work.refusals().rows == ()
        with pytest.raises(NotFound, match="held item"):
            work.release([held.number], now=NOW)


def test_keeps_refusals_of_ingest(fleet: Store, make_arrival: MakeArrival) -> None:
    """What ingest refused, and the names it did not know, are kept with their source."""
    bad = Refusal(index=1, code="not-a-number", detail="x", payload='{"a": "\\u0000\0"}')
    arrival = replace(make_arrival([MORNING]), rejected=(bad,), unknown_names={"Oil": 2}, personal_fields=3)

    for _ in range(2):
        send(fleet, arrival)

    with fleet.begin(readonly=True) as work:
        assert work.refusal_counts() == {("rejected", "not-a-number"): 2}
        assert [(name.name, name.count) for name in work.unknown_names()] == [("", 6), ("Oil", 4)]


def test_marks_day_and_day_after(fleet: Store, make_arrival: MakeArrival) -> None:
    """A reading touches its local day and the next; a repeat touches nothing."""
    late_evening = datetime(2031, 3, 5, 3, 0, tzinfo=UTC)  # still 4 March in New York
    send(fleet, make_arrival([late_evening], vehicles="V-2"))
    with fleet.begin() as work:
        assert work.touched_count() == 2
        (kept,) = work.snapshots().rows
        assert kept.day == (datetime(2031, 3, 4) - datetime(1970, 1, 1)).days  # noqa: DTZ001 (calendar days)


def test_rolls_back_without_commit(fleet: Store, make_arrival: MakeArrival) -> None:
    """Nothing is kept, and nothing marked, when the block is left without a commit."""
    with fleet.begin() as work:
        work.add_arrival(make_arrival([MORNING]), received_at=NOW, source="L-1")

    with fleet.begin() as work:
        assert (work.snapshot_count(), work.touched_count()) == (0, 0)


def test_missing_stays_missing(fleet: Store, make_arrival: MakeArrival) -> None:
    """A missing reading is missing when loaded as columns, and minus zero equals zero."""
    send(fleet, make_arrival([MORNING], trim=-0.0))
    receipt = send(fleet, make_arrival([MORNING], trim=0.0))

    assert receipt.duplicates == 1
    with fleet.begin(readonly=True) as work:
        day = work.snapshots().rows[0].day
        loaded = work.readings("V-1", day, day)
    assert np.isnan(loaded.values[0, COLUMN["ECT"]])
    assert loaded.values[0, COLUMN["RPM"]] == 700.25
    assert loaded.switches.tolist() == [[0, -1, 1]]


def test_writers_at_the_same_time(fleet: Store, make_arrival: MakeArrival) -> None:
    """Four writers with overlapping snapshots keep each once; accepted ones add up."""
    moments = [MORNING + timedelta(minutes=minute) for minute in range(60)]
    receipts: list[Receipt] = []

    def write(offset: int) -> None:
        batch = make_arrival(moments)
        order = np.roll(np.arange(60), offset)
        shuffled = replace(
            batch.batch,
            taken_us=batch.batch.taken_us[order],
            odometer_km=batch.batch.odometer_km[order],
        )
        receipts.append(send(fleet, Arrival(batch=shuffled), at=NOW + timedelta(seconds=offset)))

    threads = [threading.Thread(target=write, args=(offset,)) for offset in range(0, 40, 10)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert count(fleet) == 60
    assert sum(receipt.accepted for receipt in receipts) == 60
    assert sum(receipt.duplicates for receipt in receipts) == 180


def test_pages_without_repeat_or_gap(fleet: Store, make_arrival: MakeArrival) -> None:
    """Snapshots that come while somebody pages cause no repeat and no gap among the others."""
    moments = [MORNING + timedelta(minutes=2 * minute) for minute in range(25)]
    send(fleet, make_arrival(moments))
    seen: list[datetime] = []
    cursor, turn = "", 0

    while cursor or not seen:
        with fleet.begin(readonly=True) as work:
            page = work.snapshots(vehicle="V-1", limit=10, cursor=cursor)
        seen += [row.taken_at for row in page.rows]
        cursor = page.cursor
        send(fleet, make_arrival([MORNING + timedelta(minutes=1 + 20 * turn)], device="L-2"))
        turn += 1

    assert len(seen) == len(set(seen))
    assert set(moments) <= set(seen)


def test_as_known_then(fleet: Store, make_arrival: MakeArrival) -> None:
    """A list as known at a time leaves out what came later, whenever it was taken."""
    send(fleet, make_arrival([MORNING]))
    send(fleet, make_arrival([MORNING - timedelta(days=3)]), at=NOW + timedelta(days=1))

    with fleet.begin(readonly=True) as work:
        assert len(work.snapshots(known_at=NOW).rows) == 1
        assert len(work.snapshots().rows) == 2


def test_newest_reading_and_devices(fleet: Store, make_arrival: MakeArrival) -> None:
    """The newest reading, the devices in order of time and the exposure come from what was taken."""
    send(fleet, make_arrival([MORNING, MORNING + timedelta(days=1)]))
    send(fleet, make_arrival([MORNING - timedelta(days=5)], device="L-0"))

    with fleet.begin(readonly=True) as work:
        seen = {row.vehicle: row for row in work.last_seen()}
        day = work.snapshots().rows[-1].day
        assert seen["V-1"].taken_at == MORNING + timedelta(days=1)
        assert seen["V-1"].odometer_km == 1001.0
        assert seen["V-2"].taken_at is None
        assert work.device_starts() == {"V-1": ((day - 6, "L-0"), (day - 1, "L-1"))}
        assert [(row.days, row.distance_km) for row in work.exposures(day - 1, day)] == [(2, 1.0), (0, None)]


def test_zone_change_counts_days_anew(fleet: Store, make_arrival: MakeArrival) -> None:
    """A vehicle that moves to another time zone has its days counted there, and marked."""
    night = datetime(2031, 3, 5, 3, 0, tzinfo=UTC)
    send(fleet, make_arrival([night]))
    with fleet.begin() as work:
        before = work.snapshots().rows[0].day
        work.put_vehicles([Vehicle(vehicle="V-1", time_zone="America/New_York")], NOW)
        assert work.snapshots().rows[0].day == before - 1
        assert work.touched_count() >= 2
