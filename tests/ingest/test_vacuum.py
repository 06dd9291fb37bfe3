"""Manifold vacuum as absolute pressure, by the barometer of the same snapshot and by nothing else."""

import json
from typing import Any

import numpy as np
import pytest

from ingest.aliases import AliasTable
from ingest.batch import Arrival
from ingest.formats import read_snapshots
from ingest.parameters import COLUMN
from ingest.records import Alias
from ingest.reread import reread

MAP = COLUMN["MAP"]
KPA_PER_INHG = 3.386389  # NIST Special Publication 811, appendix B
TABLE = AliasTable.from_rows(
    [
        Alias(scope="fleet", scope_id="", name="Manifold vacuum", parameter="MAP", unit="inHg"),
        Alias(scope="fleet", scope_id="", name="Barometer", parameter="BARO", unit="inHg"),
    ]
)


def _read(**values: Any) -> Arrival:
    item = {"vehicle": "V-1", "taken_at": "2031-03-04T06:12:09-05:00", "values": values}
    body = json.dumps(item).encode()
    return read_snapshots(body, kind="json", now_us=10**16, aliases=TABLE)


@pytest.mark.parametrize(
    ("values", "map_kpa"),
    [
        ({"Manifold vacuum": 18.5, "BARO": 99.0}, 99.0 - 18.5 * KPA_PER_INHG),
        ({"Manifold vacuum": 18.5, "Barometer": 29.0}, 10.5 * KPA_PER_INHG),
        ({"Manifold vacuum": {"value": 60, "unit": "kPa"}, "BARO": 99.0}, 39.0),
        ({"Manifold vacuum": 0, "BARO": 99.0}, 99.0),
        ({"Manifold vacuum": 18.5, "BARO": 99.0, "MAP": 35.0}, 35.0),
    ],
)
def test_absolute_is_barometer_less_vacuum(values: dict[str, Any], map_kpa: float) -> None:
    """In any unit of pressure; the pressure that came as an absolute one is left alone."""
    arrival = _read(**values)

    assert arrival.batch.values[0, MAP] == pytest.approx(map_kpa)
    assert json.loads(arrival.batch.extra[0] or "")["Manifold vacuum"] == values["Manifold vacuum"]
    assert "vacuum-without-barometer" not in arrival.notes


@pytest.mark.parametrize(
    ("values", "note"),
    [
        ({"Manifold vacuum": 18.5, "RPM": 700}, "vacuum-without-barometer"),
        ({"Manifold vacuum": -18.5, "BARO": 99.0}, "vacuum-below-zero"),
    ],
)
def test_what_cannot_be_converted_is_kept_as_it_came(values: dict[str, Any], note: str) -> None:
    """No barometer, or a sign that nobody can tell: counted, kept, in no column; the snapshot is accepted."""
    arrival = _read(**values)

    assert len(arrival.batch) == 1
    assert np.isnan(arrival.batch.values[0, MAP])
    assert json.loads(arrival.batch.extra[0] or "")["Manifold vacuum"] == values["Manifold vacuum"]
    assert arrival.notes[note] == 1


def test_more_vacuum_than_air_is_not_believed() -> None:
    """A vacuum beyond the barometer gives a pressure below nothing: quarantined as any impossible value."""
    (refusal,) = _read(**{"Manifold vacuum": 35.0, "BARO": 99.0}).quarantined

    assert (refusal.code, refusal.field) == ("out-of-range", "MAP")


def test_stored_vacuums_are_read_by_the_stored_barometer() -> None:
    """Each by its own snapshot's; without one it stays, and is counted."""
    extras = ['{"Manifold vacuum":18.5}', '{"Manifold vacuum":18.5}', '{"Manifold vacuum":18.5}']
    kept = np.full((3, len(COLUMN)), np.nan)
    kept[0, COLUMN["BARO"]], kept[2, COLUMN["BARO"]] = 99.0, 84.0

    again = reread(extras, [""] * 3, [""] * 3, TABLE, kept)

    vacuum_kpa = 18.5 * KPA_PER_INHG
    np.testing.assert_allclose(again.values[:, MAP], [99 - vacuum_kpa, np.nan, 84 - vacuum_kpa])
    assert again.extra == extras
    assert again.unconverted == 1
