"""Times: RFC 3339 with an offset, leap seconds, and everything that is refused."""

from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ingest.errors import BadTime
from ingest.times import EPOCH, read_day, read_time, read_time_or_day, read_times, write_time


def test_published_examples() -> None:
    """The examples of RFC 3339 read as it says."""
    assert read_time("1985-04-12T23:20:50.52Z") == datetime(1985, 4, 12, 23, 20, 50, 520000, UTC)
    assert read_time("1996-12-19T16:39:57-08:00") == read_time("1996-12-20T00:39:57Z")


@pytest.mark.parametrize(
    "text", ["1990-12-31T23:59:60Z", "1990-12-31T15:59:60-08:00", "1990-12-31t23:59:60.5z"]
)
def test_leap_second_is_the_next_instant(text: str) -> None:
    """A leap second is legal: it is read as the instant that follows and counted."""
    times = read_times([text])

    assert write_time(int(times.us[0])) == "1991-01-01T00:00:00Z"
    assert times.leap_seconds == 1


@pytest.mark.parametrize("text", ["1990-12-31T12:00:60Z", "1990-12-31T23:59:60-08:00"])
def test_leap_second_elsewhere_refused(text: str) -> None:
    """A sixtieth second at any other time does not exist."""
    assert read_times([text]).faults[0].code == "bad-time"


@pytest.mark.parametrize(
    "text", ["2031-03-04T06:12:09", "2031-03-04 06:12", "2031-03-04", "2031-03-04T06:12:09-00:00"]
)
def test_no_offset_refused(text: str) -> None:
    """A time without offset, or with an unknown one, is refused by that name."""
    assert read_times([text]).faults[0].code == "time-without-offset"


@pytest.mark.parametrize(
    "text",
    [
        "yesterday",
        "2031-02-30T06:12:09Z",
        "2031-03-04T25:00:00Z",
        "2031-03-04T06:12:09+25:00",
        "20310304T061209Z",
        "2031-W10-2T06:12:09Z",
        "1930000000",
        "04.03.2031 06:12:09+01:00",
        "2031-03-04T06:12Z",
        "٢٠٣١-03-04T06:12:09Z",
    ],
)
def test_other_forms_refused(text: str) -> None:
    """Other forms of time, and times that do not exist, are refused as unreadable."""
    assert read_times([text]).faults[0].code == "bad-time"


def test_good_times_beside_bad_ones() -> None:
    """A bad time spoils no other row."""
    times = read_times(["x", "1970-01-01T00:00:01Z", ""])

    assert times.us.tolist() == [0, 1_000_000, 0]
    assert sorted(times.faults) == [0, 2]


def test_day_is_noon_utc() -> None:
    """A plain date of work is taken as noon UTC."""
    assert read_time_or_day("2031-03-04") == datetime(2031, 3, 4, 12, tzinfo=UTC)


@pytest.mark.parametrize("text", ["2031-2-3", "2031-02-30", "4.3.2031", ""])
def test_bad_days_refused(text: str) -> None:
    """A date that is none is refused."""
    with pytest.raises(BadTime) as caught:
        read_day(text)

    assert caught.value.code == "bad-date"


@given(
    st.datetimes(datetime(1900, 1, 1), datetime(2200, 1, 1)),  # noqa: DTZ001  (the zone is drawn beside it)
    st.integers(-23 * 60, 23 * 60).filter(lambda minutes: minutes != 0),
)
def test_any_time_comes_back(moment: datetime, minutes: int) -> None:
    """Every time with an offset is read exactly, to the microsecond."""
    aware = moment.replace(tzinfo=timezone(timedelta(minutes=minutes)))

    us = int(read_times([aware.isoformat()]).us[0])

    assert EPOCH + timedelta(microseconds=us) == aware
    assert read_time(write_time(us)) == aware


@given(st.text(max_size=40))
def test_any_text_is_read_or_refused(text: str) -> None:
    """No text breaks the reader."""
    times = read_times([text])

    assert len(times.us) == 1
