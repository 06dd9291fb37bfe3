"""Cost files: what is read, and what is refused with its row."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ingest.costs import COLUMN_ORDER, read_costs
from ingest.errors import IngestError
from ingest.parameters import CAUSES

PLAIN = {
    "cause": "throttle_deposits",
    "planned_hours": 0.8,
    "unplanned_hours": 2.0,
    "planned_parts": 15,
    "unplanned_parts": 30,
    "downtime": 300,
    "labour_rate": 92.5,
    "look_cost": 40,
    "currency": "EUR",
    "price_date": "2031-01-01",
    "source": "price list of spring",
}


def as_csv(*items: dict[str, object]) -> bytes:
    """Write items as a CSV file with every column."""
    lines = [",".join(COLUMN_ORDER)]
    lines += [",".join(str(item.get(name, "")) for name in COLUMN_ORDER) for item in items]
    return "\n".join(lines).encode()


def test_both_formats_say_the_same() -> None:
    """The same line comes out of CSV and JSON alike."""
    from_csv = read_costs(as_csv(PLAIN), "csv")
    from_json = read_costs(json.dumps({"costs": [PLAIN]}).encode(), "json")

    assert from_csv.rows == from_json.rows
    assert (from_csv.rows[0].labour_rate, from_csv.rows[0].look_cost) == (92.5, 40.0)


def test_optional_columns() -> None:
    """Downtime, labour rate, look cost and source may be left out: no downtime, and the table's prices."""
    kept = {
        name: PLAIN[name] for name in PLAIN if name not in ("downtime", "labour_rate", "look_cost", "source")
    }

    (row,) = read_costs(json.dumps([kept]).encode(), "json").rows

    assert (row.downtime, row.labour_rate, row.look_cost, row.source) == (0.0, None, None, "")


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"cause": "gremlins"}, "unknown-word"),
        ({"cause": ""}, "missing-column"),
        ({"planned_hours": ""}, "missing-column"),
        ({"planned_hours": -1}, "out-of-range"),
        ({"unplanned_parts": "dear"}, "wrong-type"),
        ({"currency": "euro"}, "unknown-word"),
        ({"price_date": "1.1.2031"}, "bad-date"),
    ],
)
def test_refused_with_row(change: dict[str, object], code: str) -> None:
    """A line that cannot be meant is refused with its place and a code; the others are read."""
    found = read_costs(as_csv({**PLAIN, "cause": "unknown"}, {**PLAIN, **change}), "csv")

    assert len(found.rows) == 1
    assert [(one.index, one.code) for one in found.rejected] == [(1, code)]


def test_a_cause_stands_once() -> None:
    """A second line for one cause in a file is refused: which of the two is meant cannot be told."""
    found = read_costs(as_csv(PLAIN, PLAIN), "csv")

    assert [one.code for one in found.rejected] == ["cost-repeated"]


@given(body=st.binary(max_size=300), kind=st.sampled_from(["csv", "json"]))
def test_anything_is_read_or_refused(body: bytes, kind: str) -> None:
    """Whatever comes in, there is an answer: rows of known causes, refusals, or one error of ours."""
    try:
        found = read_costs(body, kind)
    except IngestError:
        return
    assert all(row.cause in CAUSES for row in found.rows)
