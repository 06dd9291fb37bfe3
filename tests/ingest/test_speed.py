"""Decoding, belief checks and state judging keep up with a fleet."""

import json
import time

import pytest

from ingest.aliases import AliasTable
from ingest.formats import read_snapshots

SLOWEST = 20_000
"""Snapshots a second that any machine must reach; two ordinary cores under load reached over 60,000."""


@pytest.mark.slow
@pytest.mark.parametrize("rows", [1_000, 20_000])
def test_rows_a_second(rows: int) -> None:
    """NDJSON of fifteen values a snapshot is read faster than any network delivers it."""
    values = {
        "LONGFT1": 1.56,
        "LONGFT2": -0.78,
        "SHRTFT1": 0.78,
        "SHRTFT2": 0.0,
        "RPM": 742,
        "VSS": 0,
        "ECT": 90,
        "IAT": 25,
        "MAP": 35,
        "BARO": 99,
        "MAF": 3.14,
        "IAC": 34.5,
        "VPWR": 14.2,
        "RUNTM": 700,
        "FUELSYS1": "CL",
    }
    item = {"state": "warm_idle", "device": "L-220", "values": values, "switches": {"ac": False}}
    body = "\n".join(
        json.dumps({"vehicle": f"V-{row}", "taken_at": "2031-03-04T06:12:09-05:00", **item})
        for row in range(rows)
    ).encode()

    start = time.perf_counter()
    arrival = read_snapshots(body, kind="ndjson", now_us=10**15 * 3, aliases=AliasTable())
    elapsed = time.perf_counter() - start

    assert len(arrival.batch) == rows
    assert rows / elapsed > SLOWEST
