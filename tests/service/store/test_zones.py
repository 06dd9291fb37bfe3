"""Local days at the edges of the calendar."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from service.store.columns import from_day, from_us, to_us
from service.store.zones import is_zone, local_days


def day_of(moment: datetime, zone: str) -> date:
    """Give the local day by the code under test."""
    return from_day(int(local_days(np.array([to_us(moment)]), zone)[0]))


@pytest.mark.parametrize("night", [datetime(2031, 3, 9, tzinfo=UTC), datetime(2031, 11, 2, tzinfo=UTC)])
@pytest.mark.parametrize("zone", ["America/New_York", "Europe/London", "Pacific/Apia", "Australia/Lord_Howe"])
def test_agrees_with_the_calendar_around_clock_changes(night: datetime, zone: str) -> None:
    """Every quarter of an hour around a clock change falls on the day that a wall calendar shows."""
    moments = [night + timedelta(minutes=15 * step) for step in range(-200, 400)]

    days = local_days(np.array([to_us(moment) for moment in moments]), zone).tolist()

    assert [from_day(day) for day in days] == [moment.astimezone(ZoneInfo(zone)).date() for moment in moments]


def test_half_past_one_twice() -> None:
    """Both half past ones of the autumn night are on that Sunday, in order."""
    first = datetime(2031, 11, 2, 5, 30, tzinfo=UTC)
    assert [day_of(first + timedelta(hours=hour), "America/New_York") for hour in (0, 1)] == [
        date(2031, 11, 2)
    ] * 2


def test_microseconds_survive() -> None:
    """A time survives storing to the microsecond, before 1970 too; one without zone is refused."""
    for moment in (
        datetime(1965, 1, 1, 0, 0, 0, 1, tzinfo=UTC),
        datetime(2099, 12, 31, 23, 59, 59, 999_999, tzinfo=UTC),
    ):
        assert from_us(to_us(moment)) == moment
    with pytest.raises(ValueError, match="needs its zone"):
        to_us(datetime(2031, 1, 1))  # noqa: DTZ001 (that is the fault under test)


def test_only_known_zones() -> None:
    """Only names of the time zone database pass."""
    assert is_zone("America/Chicago")
    assert not is_zone("Mars/Olympus")
    assert not is_zone("../etc/passwd")
