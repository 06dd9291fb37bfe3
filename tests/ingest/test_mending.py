"""Refused rows come back as a file that the same reader takes once they are mended."""

import csv
import io

from hypothesis import given
from hypothesis import strategies as st

from ingest.aliases import AliasTable
from ingest.batch import Refusal
from ingest.formats import read_snapshots
from ingest.mending import REASON, without_reasons, write_mendable
from ingest.vehicles import read_vehicles


def test_a_mended_file_is_read_as_if_new() -> None:
    """The refused row has its own columns and the reason; mended, the reader takes it without the reason."""
    loaded = read_vehicles(b"vehicle,depot,in_service_on\nV-1,North,tomorrow\nV-2,South,2031-01-02\n", "csv")

    text = write_mendable(loaded.rejected)
    mended = without_reasons(text.replace("tomorrow", "2031-01-01").encode(), "csv")
    again = read_vehicles(mended, "csv")

    assert text.splitlines()[0] == f"vehicle,depot,in_service_on,{REASON}"
    assert "tomorrow" in text
    assert [row.vehicle for row in again.rows] == ["V-1"]
    assert again.unknown_columns == {}


def test_a_refused_snapshot_comes_back_as_cells() -> None:
    """A snapshot's values, units and switches stand in columns, and are read again as they were."""
    body = (
        b'{"vehicle": "V-1", "taken_at": "2031-03-04T06:00:00Z", "values": {"LONGFT1": 140, "RPM": 740, '
        b'"ECT": {"value": 194, "unit": "degF"}}, "switches": {"ac": false}}'
    )
    now_us = 1_931_000_000_000_000
    arrival = read_snapshots(body, kind="json", now_us=now_us, aliases=AliasTable())

    mended = without_reasons(write_mendable(arrival.quarantined).replace("140", "4").encode(), "csv")
    again = read_snapshots(mended, kind="csv", now_us=now_us, aliases=AliasTable())

    assert len(arrival.quarantined) == 1
    assert (len(again.batch), again.unknown_names) == (1, {})
    assert "ECT [degF]" in mended.decode()


@given(st.lists(st.text(max_size=20), max_size=5), st.text(min_size=1, max_size=20))
def test_any_payload_is_written(payloads: list[str], detail: str) -> None:
    """Whatever was refused, the file has a row for it under one header."""
    refused = [
        Refusal(index=place, code="bad-row", detail=detail, payload=payload)
        for place, payload in enumerate(payloads)
    ]

    rows = list(csv.reader(io.StringIO(write_mendable(refused), newline="")))

    assert len(rows) == len(payloads) + 1
    assert all(len(row) == len(rows[0]) for row in rows)


def test_other_files_are_left_alone() -> None:
    """Without the column of reasons a file comes out byte for byte."""
    for body, kind in ((b'{"vehicle": "V-1"}', "json"), (b"vehicle\r\nV-1\r\n", "csv"), (b"", "csv")):
        assert without_reasons(body, kind) == body
