"""Days off the road, days out of service, devices that move."""

from datetime import UTC, date, datetime

import pytest

from service.store import NotFound, Store

NOW = datetime(2031, 3, 4, 12, 0, tzinfo=UTC)
MARCH = [date(2031, 3, day) for day in range(1, 31)]


def test_off_road_days_are_kept_and_ended(fleet: Store) -> None:
    """A period covers both its days; an open one covers every later day until it is ended."""
    with fleet.begin() as work:
        work.put_off_road("V-1", since=MARCH[2], until=None, reason="waits for a gearbox", now=NOW, who="ann")
        work.put_off_road("V-2", since=MARCH[0], until=MARCH[1], reason="", now=NOW, who="ann")
        assert [one.vehicle for one in work.off_road(on=MARCH[1])] == ["V-2"]
        (entry,) = work.off_road(on=MARCH[20])

        work.end_off_road(entry.number, MARCH[3])

        assert work.off_road(on=MARCH[20]) == ()
        assert work.off_road(vehicle="V-1")[0].until == MARCH[3]
        work.drop_off_road(entry.number)
        assert work.off_road(vehicle="V-1") == ()


def test_wrong_periods_are_refused(fleet: Store) -> None:
    """A period of nobody's vehicle, one that ends before it begins, or one that is not there."""
    with fleet.begin() as work:
        with pytest.raises(NotFound):
            work.put_off_road("V-9", since=MARCH[0], until=None, reason="", now=NOW, who="ann")
        with pytest.raises(ValueError, match="before the first"):
            work.put_off_road("V-1", since=MARCH[2], until=MARCH[1], reason="", now=NOW, who="ann")
        with pytest.raises(NotFound):
            work.end_off_road(7, MARCH[0])
        with pytest.raises(NotFound):
            work.drop_off_road(7)


def test_out_of_service_is_a_date_that_can_be_taken_back(fleet: Store) -> None:
    """The date is kept beside the exchanged row: loading the row again does not lose it."""
    with fleet.begin() as work:
        work.put_out_of_service("V-1", MARCH[4], NOW)
        work.put_vehicles(work.vehicles(["V-1"]), NOW)
        assert work.gone() == {"V-1": MARCH[4]}
        work.put_out_of_service("V-1", None, NOW)
        assert work.gone() == {}
        with pytest.raises(NotFound):
            work.put_out_of_service("V-9", MARCH[4], NOW)


def test_a_device_is_in_one_vehicle_at_a_time(fleet: Store) -> None:
    """Moving a device ends where it was the day before; the same day again puts the entry right."""
    with fleet.begin() as work:
        work.put_device("L-1", "V-1", since=MARCH[0], now=NOW, who="ann")
        work.put_device("L-1", "V-2", since=MARCH[9], now=NOW, who="ann")
        work.put_device("L-1", "V-2", since=MARCH[9], now=NOW, who="ann")

        found = [(one.vehicle, one.since, one.until) for one in work.device_links()]

    assert found == [("V-1", MARCH[0], MARCH[8]), ("V-2", MARCH[9], None)]
