"""Retention: what is too old goes by whole months, holds keep it, and nothing comes back."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from sqlalchemy import func, select, update

from ingest.parameters import CODES, SWITCHES
from ingest.records import Vehicle, WorkRecord
from models.findings import Assessment, Trend
from models.summarise import summarise
from service.store import AlreadyThere, Lines, NotFound, Portion, Store, VehicleHeld
from service.store.retaining import NEIGHBOUR_DAYS
from service.store.tables import DAILY, PREFERENCE, REFUSAL, SNAPSHOT, TICKET, TICKET_EVENT, TICKET_VERSION
from service.tickets.ticket import Ticket, TicketEvent
from service.tickets.words import to_day
from tests.service.findings import make_reading
from tests.service.store.conftest import build_arrival

NOW = datetime(2031, 3, 4, 12, tzinfo=UTC)
LINE = to_day(date(2031, 2, 1))
FIRST = date(2030, 12, 20)
LINES = Lines(readings=LINE, trends=to_day(date(2031, 1, 1)), tickets=to_day(date(2031, 1, 1)))


def moments(first: date = FIRST, last: date = date(2031, 3, 3)) -> list[datetime]:
    """Give noon of each day of a span."""
    count = (last - first).days + 1
    noon = datetime(first.year, first.month, first.day, 12, tzinfo=UTC)
    return [noon + timedelta(days=number) for number in range(count)]


@pytest.fixture
def filled(store: Store) -> Iterator[Store]:
    """Give a store with two vehicles and a reading a day, folded."""
    with store.begin() as work:
        work.put_vehicles([Vehicle(vehicle="V-1"), Vehicle(vehicle="V-2")], NOW)
        for vehicle in ("V-1", "V-2"):
            arrival = build_arrival(moments(), vehicles=vehicle)
            work.add_arrival(arrival, received_at=NOW, source="L-1")
        work.commit()
    store.fold_all(summarise)
    yield store
    store.close()


def remove(store: Store, lines: Lines = LINES) -> list[Portion]:
    """Remove what lies before the lines, as the job does."""
    with store.begin() as work:
        assert lines.readings is not None
        work.draw_line(lines.readings)
        found = work.removable(lines)
        work.commit()
    done = []
    for portion in found:
        with store.begin() as work:
            removal = work.remove(portion, NOW, who="schedule")
            work.commit()
        if removal is not None:
            done.append(removal.portion)
    return done


def count(store: Store, table: object) -> int:
    """Count a table's rows."""
    with store._engine.connect() as connection:
        return int(connection.scalar(select(func.count()).select_from(table)) or 0)  # type: ignore[arg-type]


def days_of(store: Store, vehicle: str = "V-1") -> list[int]:
    """Give the days of a vehicle's readings."""
    with store.begin(readonly=True) as work:
        return sorted({int(day) for day in work.readings(vehicle, 0, 30_000).day})


def summaries(store: Store) -> list[tuple[object, ...]]:
    """Give every summary as it is kept."""
    with store._engine.connect() as connection:
        order = (DAILY.c.vehicle_no, DAILY.c.day, DAILY.c.state)
        return [tuple(row) for row in connection.execute(select(DAILY).order_by(*order))]


def test_counting_changes_nothing(filled: Store) -> None:
    """The dry run counts rows and vehicles by class, table and calendar month, and removes nothing."""
    with filled.begin(readonly=True) as work:
        found = work.removable(LINES)

    told = [(one.kind, one.part, one.from_day, one.to_day, one.vehicles, one.rows) for one in found]
    december, january, february = (to_day(date(2030, 12, 1)), to_day(date(2031, 1, 1)), LINE)
    assert told == [
        ("readings", "snapshot", december, january - 1, 2, 24),
        ("readings", "snapshot", january, february - NEIGHBOUR_DAYS - 1, 2, 60),
        ("trends", "daily", december, january - 1, 2, 24),
    ]
    assert count(filled, SNAPSHOT) == 2 * len(moments())


def test_readings_go_and_summaries_stay(filled: Store) -> None:
    """Readings before the line are gone but for the neighbour's; summaries are the same to the byte."""
    before = summaries(filled)

    done = remove(filled, Lines(readings=LINE))

    assert [one.rows for one in done] == [24, 60]
    assert days_of(filled)[0] == LINE - NEIGHBOUR_DAYS
    assert summaries(filled) == before


def test_twice_changes_nothing_more(filled: Store) -> None:
    """What was removed is removed once, and counted once."""
    remove(filled)

    assert remove(filled) == []
    with filled.begin(readonly=True) as work:
        assert sum(one.portion.rows for one in work.removals()) == 24 + 60 + 24


def test_a_resent_batch_stays_out(filled: Store) -> None:
    """An old batch that comes again is rejected reading by reading, kept nowhere, and changes no summary."""
    remove(filled)
    before, held = summaries(filled), count(filled, REFUSAL)
    again = build_arrival(moments(), vehicles="V-1")

    with filled.begin() as work:
        receipt = work.add_arrival(again, received_at=NOW, source="L-1")
        work.commit()
    filled.fold_all(summarise)

    gone = [at for at in moments() if to_day(at.date()) < LINE]
    assert receipt.accepted == 0
    assert receipt.duplicates == len(moments()) - len(gone)
    assert [one.code for one in receipt.rejected] == ["day-removed"] * len(gone)
    assert [one.index for one in receipt.rejected] == list(range(len(gone)))
    assert summaries(filled) == before
    assert days_of(filled)[0] == LINE - NEIGHBOUR_DAYS
    assert count(filled, REFUSAL) == held + len(gone)
    with filled.begin(readonly=True) as work:
        assert {one.payload for one in work.refusals(code="day-removed").rows} == {""}


def test_late_readings_of_kept_days_are_folded(filled: Store) -> None:
    """A late reading of the first day kept is taken, and its day folded as if nothing had been removed."""
    noon = datetime(2031, 2, 1, 15, tzinfo=UTC)
    late = build_arrival([noon], vehicles="V-1", trim=7.5)
    remove(filled)

    with filled.begin() as work:
        assert work.add_arrival(late, received_at=NOW, source="L-1").accepted == 1
        work.commit()
    filled.fold_all(summarise)

    with filled.begin(readonly=True) as work:
        found = work.daily(["V-1"], from_day=LINE, up_to_day=LINE)
    assert found.readings.tolist() == [2]
    assert found.values[0, CODES.index("LONGFT1")] == pytest.approx(5.0)


def test_a_mark_before_the_line_folds_nothing(filled: Store) -> None:
    """Marks on days without readings, left by whatever, leave their summaries alone."""
    remove(filled)
    before = summaries(filled)
    with filled.begin() as work:
        work._mark(np.array([[1, LINE - 10], [1, LINE - 9]], dtype=np.int64))
        work.commit()

    filled.fold_all(summarise)

    assert summaries(filled) == before
    with filled.begin(readonly=True) as work:
        assert work.touched_count() == 0


def test_summaries_outlive_a_new_layout(filled: Store) -> None:
    """A new parameter repacks summaries that cannot be folded again, and folds the others anew."""
    remove(filled)
    with filled.begin(readonly=True) as work:
        before = work.daily(up_to_day=LINE - 1)
    other = (*reversed(CODES), *reversed(SWITCHES))
    places = [(*CODES, *SWITCHES).index(name) for name in other]
    with filled.begin() as work:
        for row in work._connection.execute(select(DAILY)).all():
            body = np.frombuffer(row.body, "<f8")[places].tobytes()
            mine = (DAILY.c.vehicle_no == row.vehicle_no, DAILY.c.day == row.day, DAILY.c.state == row.state)
            work._connection.execute(update(DAILY).where(*mine).values(body=body))
        work._connection.execute(
            update(PREFERENCE).where(PREFERENCE.c.name == "_daily_layout").values(value=",".join(other))
        )
        work.commit()

    filled.migrate()
    filled.fold_all(summarise)

    with filled.begin(readonly=True) as work:
        after = work.daily(up_to_day=LINE - 1)
    np.testing.assert_array_equal(after.values, before.values)
    np.testing.assert_array_equal(after.switched_on, before.switched_on)
    np.testing.assert_array_equal(after.day, before.day)


def test_a_hold_keeps_everything(filled: Store) -> None:
    """A vehicle on hold loses nothing and takes old readings in; what it keeps is counted apart."""
    with filled.begin() as work:
        work.put_hold("V-1", "claim 17", NOW, who="ann")
        work.commit()
    with filled.begin(readonly=True) as work:
        kept = work.removable(LINES, held=True)
    before = days_of(filled)

    done = remove(filled)

    assert {(one.vehicles, one.rows) for one in done} == {(1, 12), (1, 30)}
    assert [(one.part, one.vehicles, one.rows) for one in kept] == [
        ("snapshot", 1, 12),
        ("snapshot", 1, 30),
        ("daily", 1, 12),
    ]
    assert days_of(filled) == before
    late = build_arrival([datetime(2030, 12, 25, 15, tzinfo=UTC)], vehicles="V-1")
    with filled.begin() as work:
        assert work.add_arrival(late, received_at=NOW, source="L-1").accepted == 1


def test_a_lifted_hold_lets_go(filled: Store) -> None:
    """Once the hold is lifted the next retention takes what is too old."""
    with filled.begin() as work:
        work.put_hold("V-1", "claim 17", NOW, who="ann")
        work.commit()
    remove(filled)
    with filled.begin() as work:
        work.lift_hold("V-1", NOW, who="bob")
        work.commit()

    remove(filled)

    assert days_of(filled)[0] == LINE - NEIGHBOUR_DAYS
    with filled.begin(readonly=True) as work:
        assert work.holds() == ()
        (past,) = work.holds(lifted=True)
    assert (past.vehicle, past.reason, past.put_by, past.lifted_by) == ("V-1", "claim 17", "ann", "bob")


def test_holds_need_a_vehicle_and_a_reason(filled: Store) -> None:
    """A hold is set once, on a vehicle that is there, with a reason; only one in force is lifted."""
    with filled.begin() as work:
        with pytest.raises(ValueError, match="reason"):
            work.put_hold("V-1", "  ", NOW, who="ann")
        with pytest.raises(NotFound):
            work.put_hold("V-9", "claim", NOW, who="ann")
        with pytest.raises(NotFound):
            work.lift_hold("V-1", NOW, who="ann")
        work.put_hold("V-1", "claim", NOW, who="ann")
        with pytest.raises(AlreadyThere):
            work.put_hold("V-1", "another", NOW, who="ann")


def test_a_held_vehicle_is_not_erased(filled: Store) -> None:
    """Erasing a vehicle on hold is refused, and tells why; after lifting it nothing of the hold is left."""
    with filled.begin() as work:
        work.put_hold("V-1", "claim of V-1", NOW, who="ann")
        work.commit()
    with filled.begin() as work, pytest.raises(VehicleHeld, match="claim of V-1"):
        work.erase_vehicle("V-1", NOW, who="ann")

    with filled.begin() as work:
        work.lift_hold("V-1", NOW, who="ann")
        work.erase_vehicle("V-1", NOW, who="ann")
        work.commit()
    with filled.begin(readonly=True) as work:
        assert work.holds(lifted=True) == ()


def test_a_new_vehicle_may_bring_its_history(filled: Store) -> None:
    """A vehicle that was registered after a retention is loaded with its whole past."""
    remove(filled)
    with filled.begin() as work:
        work.put_vehicles([Vehicle(vehicle="V-3")], NOW)
        receipt = work.add_arrival(build_arrival(moments(), vehicles="V-3"), received_at=NOW, source="file")
        work.commit()

    assert receipt.accepted == len(moments())


def test_trends_and_evaluations_go_by_their_own_line(filled: Store) -> None:
    """Summaries, trends and evaluations before their line go; those of later days stay."""
    old, new = to_day(date(2030, 12, 30)), to_day(date(2031, 1, 6))
    with filled.begin() as work:
        for day in (old, new):
            reading = make_reading(day)
            trends = [Trend(vehicle=name, reading=reading) for name in ("V-1", "V-2")]
            work.put_assessment(Assessment(day=day, method="test"), NOW, trends=trends)
        work.commit()

    remove(filled)

    with filled.begin(readonly=True) as work:
        assert work.assessed_days() == (new,)
        assert work.trend_day(old) is None
        assert work.day_range() == (to_day(date(2031, 1, 1)), to_day(date(2031, 3, 3)))
        assert work.lost_rows(["trend"], NOW - timedelta(days=1), up_to_day=old) == (0, 2)
        assert work.lost_rows(["trend"], NOW, up_to_day=old) == (0, 0)
        early = to_day(date(2030, 12, 25))
        assert work.lost_rows(["snapshot"], NOW - timedelta(days=1), up_to_day=early) == (0, 24)


def test_evaluations_stay_while_a_vehicle_is_on_hold(filled: Store) -> None:
    """An evaluation speaks of the whole fleet, so it stays as long as any vehicle is on hold."""
    old = to_day(date(2030, 12, 30))
    with filled.begin() as work:
        work.put_assessment(Assessment(day=old, method="test"), NOW)
        work.put_hold("V-2", "claim", NOW, who="ann")
        work.commit()

    remove(filled)

    with filled.begin(readonly=True) as work:
        assert work.assessed_days() == (old,)
        assert ("assessment", 1) in [(one.part, one.rows) for one in work.removable(LINES, held=True)]


def ticket(number: int, closed: date | None, vehicle: str = "V-1") -> Ticket:
    """Make a ticket."""
    at = datetime(2030, 12, 1, tzinfo=UTC)
    end = None if closed is None else datetime(closed.year, closed.month, closed.day, tzinfo=UTC)
    return Ticket(
        ticket=f"{vehicle}-T{number}",
        vehicle=vehicle,
        raised_at=at,
        updated_at=end or at,
        closed_at=end,
        status="raised" if closed is None else "verified",
        value=8.0,
        baseline=1.0,
        version=1,
    )


def put(store: Store, tickets: Sequence[Ticket]) -> None:
    """Keep tickets with one event each."""
    with store.begin() as work:
        for one in tickets:
            event = TicketEvent(
                ticket=one.ticket,
                version=1,
                at=one.raised_at,
                event="raise",
                role="system",
                by="system",
                status_before="",
                status_after="raised",
            )
            work.put_ticket(one, [event], read_version=0)
        work.commit()


def test_closed_tickets_go_whole(filled: Store) -> None:
    """Closed tickets before the line go with versions and events; open ones, and what they speak of, stay."""
    old, later = date(2030, 12, 20), date(2031, 1, 20)
    put(
        filled,
        [
            ticket(1, old),
            replace(ticket(2, old), comeback_by="V-1-T4"),
            ticket(3, later),
            replace(ticket(4, None), comeback_of="V-1-T2"),
            ticket(1, old, vehicle="V-2"),
        ],
    )

    remove(filled)

    with filled.begin(readonly=True) as work:
        left = {one.ticket for one in work.tickets()}
    # V-2-T1 is that vehicle's newest: without it its number would be given out again.
    assert left == {"V-1-T2", "V-1-T3", "V-1-T4", "V-2-T1"}
    assert count(filled, TICKET) == count(filled, TICKET_VERSION) == count(filled, TICKET_EVENT) == 4


def test_work_stays_as_long_as_summaries(filled: Store) -> None:
    """A repair begins a stretch of history, so its record outlives its own line while summaries stay."""
    records = [
        WorkRecord(vehicle="V-1", done_at=datetime(year, month, 10, tzinfo=UTC), kind="note")
        for year, month in ((2030, 11), (2030, 12), (2031, 1))
    ]
    with filled.begin() as work:
        work.put_work(records, NOW)
        work.commit()

    remove(filled, replace(LINES, trends=to_day(date(2030, 12, 1))))

    with filled.begin(readonly=True) as work:
        assert [one.done_at.month for one in work.work_records()] == [12, 1]


def test_held_back_items_go_with_the_readings(filled: Store) -> None:
    """What was held back or refused before the line goes with its payload."""
    early = datetime(2030, 12, 31, tzinfo=UTC)
    with filled.begin() as work:
        for at in (early, NOW):
            work.add_arrival(
                build_arrival([at - timedelta(hours=1)], vehicles="V-9"), received_at=at, source="L-9"
            )
        work.commit()

    remove(filled)

    with filled.begin(readonly=True) as work:
        assert [one.received_at for one in work.refusals().rows] == [NOW]
