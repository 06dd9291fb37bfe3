"""A name that gets a meaning: what was stored before says it too."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import orjson
import pytest

from ingest.aliases import AliasTable
from ingest.formats import read_snapshots
from ingest.records import Alias, SpecSheet, Vehicle
from models.summarise import summarise
from service.store import Store
from service.store.columns import to_us

NOW = datetime(2031, 3, 4, 12, 0, tzinfo=UTC)
COOLANT = Alias(scope="fleet", scope_id="", name="Coolant", parameter="ECT", unit="degF")
REVS = Alias(scope="sheet", scope_id="HARROW-24", name="Revs", parameter="RPM")


def _body(number: int) -> bytes:
    taken = NOW - timedelta(days=number, hours=2)
    values = {"LONGFT1": 2.0 + number, "Coolant": 194, "Revs": 740, "FUELSYS1": "CL", "Oil": 3}
    return orjson.dumps(
        {
            "vehicle": "V-1",
            "taken_at": taken.isoformat(),
            "state": "warm_idle",
            "device": "L-1",
            "values": values,
        }
    )


def _send(store: Store, body: bytes) -> tuple[int, int]:
    with store.begin() as work:
        table = AliasTable.from_rows(work.aliases(), work.sheets())
        arrival = read_snapshots(
            body, kind="ndjson", now_us=to_us(NOW), aliases=table, sheet_of=work.sheet_of()
        )
        receipt = work.add_arrival(arrival, received_at=NOW, source="L-1")
        work.commit()
    return receipt.accepted, receipt.duplicates


@pytest.fixture
def stored(store: Store) -> Store:
    """Give a store with five snapshots that hold names nobody knows."""
    with store.begin() as work:
        work.put_vehicles([Vehicle(vehicle="V-1", spec_sheet="HARROW-24")], NOW)
        work.commit()
    assert _send(store, b"\n".join(_body(number) for number in range(5))) == (5, 0)
    store.fold_all(summarise)
    return store


def _map(store: Store, *rows: Alias) -> None:
    with store.begin() as work:
        work.put_aliases(rows, NOW, who="ann")
        work.commit()


def test_an_unknown_name_never_drops_the_snapshot(stored: Store) -> None:
    """The snapshot is kept with the unknown value beside it, and the name is listed with a sample."""
    with stored.begin(readonly=True) as work:
        assert work.snapshot_count() == 5
        assert {one.name for one in work.unknown_names()} == {"Coolant", "Revs", "Oil"}
        assert [one.sample for one in work.name_samples("Coolant")] == ["194.0"]


def test_mapping_reads_stored_snapshots_again(stored: Store) -> None:
    """Mapped names become values in their units, states are judged anew, days wait to be folded."""
    with stored.begin(readonly=True) as work:
        assert {one.state for one in work.snapshots().rows} == {"warm_idle"}

    _map(stored, COOLANT, REVS)
    changed = stored.reread_all(NOW)

    with stored.begin(readonly=True) as work:
        rows = work.snapshots().rows
        last = work.last_reread()
        assert work.touched_count() == 6  # five days, and the day after the newest
    assert changed == 5
    assert {(round(one.values["ECT"], 6), one.values["RPM"]) for one in rows} == {(90.0, 740.0)}
    assert orjson.loads(rows[0].extra) == {"Coolant": 194.0, "Oil": 3.0}
    assert last is not None
    assert (last.seen, last.changed, last.finished_at, last.put_by) == (5, 5, NOW, "ann")


def test_a_state_that_hung_on_the_name_is_found(store: Store) -> None:
    """A snapshot without a state for want of engine speed has one once the name is mapped."""
    with store.begin() as work:
        work.put_vehicles([Vehicle(vehicle="V-1", spec_sheet="HARROW-24")], NOW)
        work.commit()
    plain = orjson.loads(_body(1))
    del plain["state"]
    plain["values"] = {"Coolant": 194, "Revs": 740, "FUELSYS1": "CL", "VSS": 0, "RUNTM": 900}
    _send(store, orjson.dumps(plain))

    _map(store, COOLANT, REVS)
    store.reread_all(NOW)

    with store.begin(readonly=True) as work:
        (row,) = work.snapshots().rows
    assert (row.state, row.state_note) == ("warm_idle", "")


def test_sent_again_is_still_a_duplicate(stored: Store) -> None:
    """The same snapshot, read under the new names, is the one that was read again."""
    _map(stored, COOLANT, REVS)
    stored.reread_all(NOW)

    assert _send(stored, _body(1)) == (0, 1)


VACUUM = Alias(scope="device", scope_id="L-1", name="Vac", parameter="MAP", unit="inHg")


def _with_vacuum(number: int, **values: object) -> bytes:
    item = orjson.loads(_body(number))
    item["values"] |= values
    return orjson.dumps(item)


def test_a_vacuum_waits_for_the_barometer(stored: Store) -> None:
    """Refused while no snapshot of the device has BARO beside it; taken once one has, and read by it."""
    _send(stored, _with_vacuum(6, Vac=18))
    _send(stored, _with_vacuum(7, BARO=99, Vacant=18))
    with stored.begin() as work:
        first = work.put_aliases([VACUUM], NOW)
        work.commit()
    _send(stored, _with_vacuum(8, BARO={"value": 29.0, "unit": "inHg"}, **{"Vac [inHg]": 18}))

    with stored.begin() as work:
        second = work.put_aliases([VACUUM], NOW)
        work.commit()
    stored.reread_all(NOW)

    assert [(one.index, one.code) for one in first.refused] == [(0, "alias-not-absolute")]
    assert (first.added, second.added, second.refused) == (0, 1, ())
    with stored.begin(readonly=True) as work:
        found = [one.values["MAP"] for one in work.snapshots(limit=100).rows if "MAP" in one.values]
        last = work.last_reread()
    assert found == [pytest.approx(11 * 3.386389)]
    assert last is not None
    assert (last.changed, last.unconverted) == (1, 1)


@pytest.mark.parametrize("scope", [("device", "L-2"), ("sheet", "OTHER")])
def test_another_ones_barometer_does_not_count(stored: Store, scope: tuple[str, str]) -> None:
    """BARO beside the vacuum of another device or sheet lets no alias of this one in."""
    _send(stored, _with_vacuum(6, BARO=99, Vac=18))
    row = Alias(scope=scope[0], scope_id=scope[1], name="Vac", parameter="MAP", unit="inHg")  # type: ignore[arg-type]

    with stored.begin() as work:
        loads = work.put_aliases([row], NOW)

    assert [one.code for one in loads.refused] == ["alias-not-absolute"]


def test_a_vacuum_read_again_is_still_a_duplicate(stored: Store) -> None:
    """The same snapshot sent again under the alias is the one that was read again, and reads no other."""
    body = _with_vacuum(6, BARO=99, Vac=18)
    _send(stored, body)
    _map(stored, VACUUM)
    stored.reread_all(NOW)

    assert _send(stored, body) == (0, 1)
    _map(stored, REVS)
    stored.reread_all(NOW)
    assert _send(stored, body) == (0, 1)


def test_it_stops_and_goes_on(stored: Store) -> None:
    """Stopped after any step it goes on where it was, and ends with the same counts."""
    _map(stored, COOLANT)
    steps = []
    while True:
        with stored.begin() as work:
            step = work.reread_step(AliasTable.from_rows(work.aliases()), NOW, limit=2)
            work.commit()
        if step is None:
            break
        steps.append(step)

    with stored.begin(readonly=True) as work:
        last = work.last_reread()
    assert sum(steps) == 5
    assert max(steps) == 2
    assert last is not None
    assert (last.seen, last.changed) == (5, 5)


def test_another_name_meanwhile_begins_anew(stored: Store) -> None:
    """A name mapped while stored snapshots are read again is heard in all of them."""
    _map(stored, COOLANT)
    with stored.begin() as work:
        work.reread_step(AliasTable.from_rows(work.aliases()), NOW, limit=2)
        work.commit()

    _map(stored, REVS)
    stored.reread_all(NOW)

    with stored.begin(readonly=True) as work:
        assert {one.values.get("RPM") for one in work.snapshots().rows} == {740.0}


def test_a_value_of_its_own_stays(store: Store) -> None:
    """A name that contradicts what the snapshot says itself changes nothing in it."""
    with store.begin() as work:
        work.put_vehicles([Vehicle(vehicle="V-1")], NOW)
        work.commit()
    plain = orjson.loads(_body(1))
    plain["values"] |= {"ECT": 50}
    _send(store, orjson.dumps(plain))

    _map(store, COOLANT)

    assert store.reread_all(NOW) == 0
    with store.begin(readonly=True) as work:
        assert work.snapshots().rows[0].values["ECT"] == 50.0


def test_nothing_asked_nothing_done(stored: Store) -> None:
    """Without a new name nothing is read, and the same names again ask for nothing."""
    assert stored.reread_all(NOW) == 0
    _map(stored, COOLANT)
    stored.reread_all(NOW)
    _map(stored, COOLANT)

    with stored.begin(readonly=True) as work:
        last = work.last_reread()
    assert last is not None
    assert last.finished_at == NOW


def test_a_sheets_own_names_are_heard(stored: Store) -> None:
    """Aliases that a sheet brings when it comes into force are heard in what was stored."""
    sheet = SpecSheet(sheet="HARROW-24", revision=1, source="card 7", aliases={"Revs": "RPM"})
    with stored.begin() as work:
        work.put_sheets([sheet, replace(sheet, revision=2, aliases={})], NOW)
        work.put_sheets([replace(sheet, revision=3)], NOW, draft=True)
        work.commit()
    assert stored.reread_all(NOW) == 0

    with stored.begin() as work:
        work.enforce_sheet("HARROW-24", 3, in_force_from=None, now=NOW, who="ben")
        work.commit()

    assert stored.reread_all(NOW) == 5
