"""Daily summaries are the same however and in whatever order the readings came."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import numpy as np

from ingest.batch import Arrival
from ingest.parameters import COLUMN, STATES
from ingest.records import SpecSheet, Vehicle
from models.panel import Daily
from models.summarise import summarise
from service.store import Store
from service.store.summaries import FIRST

NOW = datetime(2031, 6, 1, tzinfo=UTC)
MakeArrival = Callable[..., Arrival]


def send(store: Store, arrival: Arrival) -> None:
    """Keep an arrival in a unit of work of its own."""
    with store.begin() as work:
        work.add_arrival(arrival, received_at=NOW, source="L-1")
        work.commit()


def load(store: Store) -> Daily:
    """Load the whole panel."""
    with store.begin(readonly=True) as work:
        return work.daily()


def assert_same(first: Daily, second: Daily) -> None:
    """Compare two panels to the last bit."""
    for name in ("vehicle", "day", "state", "readings", "values", "switched_on"):
        np.testing.assert_array_equal(getattr(first, name), getattr(second, name))


def forty_days(make_arrival: MakeArrival) -> list[Arrival]:
    """Make arrivals of both vehicles over forty days around New York's clock change, weekends left out."""
    start = datetime(2031, 2, 20, 11, 0, tzinfo=UTC)
    arrivals = []
    for day in range(40):
        if day % 7 < 5:
            moments = [start + timedelta(days=day, hours=5 * hour, minutes=7 * day) for hour in range(5)]
            trim = [0.5 * hour + 0.1 * day for hour in range(5)]
            arrivals += [make_arrival(moments, vehicles=name, trim=trim) for name in ("V-1", "V-2")]
    return arrivals


def test_folds_medians_by_local_day(fleet: Store, make_arrival: MakeArrival) -> None:
    """Three readings of a local day give their median; the marks are gone afterwards."""
    noon = datetime(2031, 3, 4, 18, 0, tzinfo=UTC)
    moments = [
        noon,
        noon + timedelta(hours=8),
        noon + timedelta(hours=10),
    ]  # the last two are past midnight UTC
    send(fleet, make_arrival(moments, vehicles="V-2", trim=[1.0, 5.0, 2.0]))

    assert fleet.fold_all(summarise) == 2

    table = load(fleet)
    assert (table.vehicle.tolist(), table.readings.tolist()) == ([1], [3])
    assert table.state.tolist() == [STATES.index("warm_idle")]
    assert table.values[0, COLUMN["LONGFT1"]] == 2.0
    assert table.switched_on[0, 0] == 0.0
    assert np.isnan(table.switched_on[0, 1])
    with fleet.begin() as work:
        assert work.touched_count() == 0
        assert work.fold_touched(summarise).count == 0
        assert work.day_range() == (table.day[0], table.day[0])


def test_a_walk_ends_while_more_arrives(fleet: Store, make_arrival: MakeArrival) -> None:
    """Days touched behind a walk wait for the next one: readings without a pause hold up no night."""
    for arrival in forty_days(make_arrival):
        send(fleet, arrival)
    with fleet.begin() as work:
        waiting = work.touched_count()
    after, walked = FIRST, 0
    for second in range(60):
        with fleet.begin() as work:
            folded = work.fold_touched(summarise, after=after, limit=3)
            work.commit()
        if not folded.count:
            break
        after, walked = folded.last, walked + folded.count
        early = datetime(2031, 2, 19, 18, 0, second, tzinfo=UTC)
        send(fleet, make_arrival([early], vehicles="V-1", trim=[1.0]))

    assert walked == waiting
    assert fleet.fold_all(summarise) == 2  # that day, and the one whose first soak it may tell of


def test_order_does_not_matter(fleet: Store, make_arrival: MakeArrival) -> None:
    """Late and shuffled arrivals, folded in between in small steps, give the panel of one go in order."""
    arrivals = forty_days(make_arrival)
    for place in np.random.default_rng(5).permutation(len(arrivals)):
        send(fleet, arrivals[place])
        with fleet.begin() as work:
            work.fold_touched(summarise, limit=3)
            work.commit()
    fleet.fold_all(summarise)
    shuffled = load(fleet)

    with fleet.begin() as work:
        work.put_vehicles([Vehicle(vehicle="V-1", spec_sheet="OTHER", depot="North")], NOW)
        work.put_vehicles([Vehicle(vehicle="V-2", spec_sheet="OTHER", time_zone="America/New_York")], NOW)
        work.commit()
    fleet.fold_all(summarise)

    assert len(shuffled) > 50
    assert_same(shuffled, load(fleet))


def test_sheet_with_soak_folds_anew(fleet: Store, make_arrival: MakeArrival) -> None:
    """A sheet that asks for a longer soak turns yesterday's claimed soak into plain key-on."""
    drive = datetime(2031, 3, 4, 22, 0, tzinfo=UTC)
    soak = make_arrival([drive + timedelta(hours=4)], state=STATES.index("koeo_soak"))
    send(fleet, make_arrival([drive]))
    send(fleet, soak)
    fleet.fold_all(summarise)
    assert STATES.index("koeo_soak") in load(fleet).state

    with fleet.begin() as work:
        work.put_sheets([SpecSheet(sheet="HARROW-24", revision=1, source="x", soak_hours=5.0)], NOW)
        work.commit()
    fleet.fold_all(summarise)

    assert STATES.index("koeo_soak") not in load(fleet).state
    assert STATES.index("koeo") in load(fleet).state


def test_zone_change_moves_summaries(fleet: Store, make_arrival: MakeArrival) -> None:
    """After a change of time zone no summary stays on a day that has no readings any more."""
    send(fleet, make_arrival([datetime(2031, 3, 5, 3, 0, tzinfo=UTC)]))
    fleet.fold_all(summarise)
    before = load(fleet).day.tolist()

    with fleet.begin() as work:
        work.put_vehicles([Vehicle(vehicle="V-1", depot="North", time_zone="America/New_York")], NOW)
        work.commit()
    fleet.fold_all(summarise)

    assert load(fleet).day.tolist() == [before[0] - 1]


def test_fold_rolls_back(fleet: Store, make_arrival: MakeArrival) -> None:
    """A fold that is not committed leaves marks and summaries as they were."""
    send(fleet, make_arrival([datetime(2031, 3, 4, 12, 0, tzinfo=UTC)]))
    with fleet.begin() as work:
        assert work.fold_touched(summarise).count == 2

    with fleet.begin() as work:
        assert work.touched_count() == 2
        assert len(work.daily()) == 0


def test_places_follow_the_given_list(fleet: Store, make_arrival: MakeArrival) -> None:
    """Vehicles take the places of the caller's list, days are cut at both ends, strangers have no rows."""
    for arrival in forty_days(make_arrival):
        send(fleet, arrival)
    fleet.fold_all(summarise)
    every = load(fleet)
    last = int(every.day.max())

    with fleet.begin(readonly=True) as work:
        some = work.daily(["V-9", "V-2"], from_day=last - 3, up_to_day=last - 1)

    assert set(some.vehicle.tolist()) == {1}
    assert (some.day.min(), some.day.max()) == (last - 3, last - 1)


def test_other_layout_is_folded_anew(fleet: Store, make_arrival: MakeArrival) -> None:
    """Summaries packed in another order of parameters are thrown away and marked."""
    send(fleet, make_arrival([datetime(2031, 3, 4, 12, 0, tzinfo=UTC)]))
    fleet.fold_all(summarise)
    before = load(fleet)
    with fleet.begin() as work:
        work.put_preference("_daily_layout", "LONGFT2,LONGFT1")
        work.commit()

    fleet.migrate()

    assert len(load(fleet)) == 0
    assert fleet.fold_all(summarise) > 0
    assert_same(before, load(fleet))


def test_circumstances_follow_the_readings(fleet: Store, make_arrival: MakeArrival) -> None:
    """Odometer and time of arrival come row for row with the readings of the same days."""
    noon = datetime(2031, 3, 4, 18, 0, tzinfo=UTC)
    send(fleet, make_arrival([noon + timedelta(days=day) for day in (3, 0, 1)], vehicles="V-2"))
    day = (noon.date() - datetime(1970, 1, 1, tzinfo=UTC).date()).days

    with fleet.begin(readonly=True) as work:
        readings = work.readings("V-2", day, day + 1)
        found = work.circumstances("V-2", day, day + 1)
        kept = work.snapshots(vehicle="V-2").rows

    assert len(readings) == len(found.odometer_km) == 2
    by_time = {int(one.taken_at.timestamp() * 1e6): one.odometer_km for one in kept}
    assert found.odometer_km.tolist() == [by_time[taken] for taken in readings.taken_us.tolist()]
    assert set(found.received_us.tolist()) == {int(NOW.timestamp() * 1e6)}


def test_days_in_a_state(fleet: Store, make_arrival: MakeArrival) -> None:
    """Days count once however many readings they hold, only in the state, only up to the day."""
    for arrival in forty_days(make_arrival):
        send(fleet, arrival)
    fleet.fold_all(summarise)
    table = load(fleet)
    last = int(table.day.max())

    with fleet.begin(readonly=True) as work:
        found = work.days_in_state("warm_idle", ["V-1", "V-9"], up_to_day=last)
        earlier = work.days_in_state("warm_idle", ["V-1"], up_to_day=last - 10)
        none = work.days_in_state("cruise", ["V-1"], up_to_day=last)

    assert found == {"V-1": len(set(table.day[table.vehicle == 0].tolist())), "V-9": 0}
    assert earlier["V-1"] < found["V-1"]
    assert none == {"V-1": 0}
