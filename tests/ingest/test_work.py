"""Work files: kinds and causes checked, dates taken as noon UTC."""

from contextlib import suppress
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ingest.errors import IngestError
from ingest.records import WORK_KINDS
from ingest.work import read_work

HEADER = "vehicle,done_at,kind,cause,ticket,parts_cost,labour_hours,notes\n"


def test_csv() -> None:
    """Every column arrives."""
    body = HEADER + "V-1,2031-03-04T06:12:09-05:00,repair,throttle_deposits,T-7,12.5,0.5,cleaned\n"

    (record,) = read_work(body.encode(), "csv").rows

    assert record.done_at == datetime(2031, 3, 4, 11, 12, 9, tzinfo=UTC)
    assert (record.kind, record.cause, record.ticket) == ("repair", "throttle_deposits", "T-7")
    assert (record.parts_cost, record.labour_hours, record.notes) == (12.5, 0.5, "cleaned")


@pytest.mark.parametrize("kind", WORK_KINDS)
def test_every_kind(kind: str) -> None:
    """Every kind of the list is read, with a plain date as noon UTC."""
    loaded = read_work((HEADER + f"V-1,2031-03-04,{kind},,,,,\n").encode(), "csv")

    assert loaded.rows[0].done_at == datetime(2031, 3, 4, 12, tzinfo=UTC)


@pytest.mark.parametrize(
    ("row", "code"),
    [
        ("V-1,2031-03-04T06:12:09,repair,,,,,", "time-without-offset"),
        ("V-1,soon,repair,,,,,", "bad-time"),
        ("V-1,2031-02-30,repair,,,,,", "bad-date"),
        ("V-1,,repair,,,,,", "missing-column"),
        (",2031-03-04,repair,,,,,", "missing-column"),
        ("V-1,2031-03-04,wash,,,,,", "unknown-word"),
        ("V-1,2031-03-04,repair,gremlins,,,,", "unknown-word"),
        ("V-1,2031-03-04,repair,,,-1,,", "out-of-range"),
        ("V-1,2031-03-04,repair,,,,1e9,", "out-of-range"),
        ('V-1,2031-03-04,repair,,,"12,50",,', "wrong-type"),
    ],
)
def test_wrong_rows(row: str, code: str) -> None:
    """Each kind of wrong row has its own code and carries the row."""
    loaded = read_work((HEADER + row + "\n").encode(), "csv")

    assert [refusal.code for refusal in loaded.rejected] == [code]
    assert loaded.rejected[0].payload


def test_last_second_of_the_calendar() -> None:
    """A time that leaves the calendar when brought to UTC is refused, not a crash."""
    body = b'{"vehicle": "V-1", "done_at": "9999-12-31T23:59:59-05:00", "kind": "note"}'

    assert [refusal.code for refusal in read_work(body, "json").rejected] == ["bad-time"]


@given(st.binary(max_size=300), st.sampled_from(["csv", "json"]))
def test_any_bytes_are_read_or_refused(body: bytes, kind: str) -> None:
    """No file breaks the reader."""
    with suppress(IngestError):  # anything else fails the test
        read_work(body, kind)
