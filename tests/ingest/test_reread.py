"""Stored extras read again under a newer alias table."""

import json

import numpy as np
import pytest

from ingest.aliases import AliasTable
from ingest.parameters import COLUMN
from ingest.records import Alias
from ingest.reread import reread

TABLE = AliasTable.from_rows(
    [
        Alias(scope="fleet", scope_id="", name="Coolant", parameter="ECT", unit="degF"),
        Alias(scope="sheet", scope_id="S", name="Volts", parameter="VPWR"),
        Alias(scope="device", scope_id="L-1", name="Volts", parameter="CRANK_VMIN"),
    ]
)


def test_mapped_names_become_values() -> None:
    """A mapped name's value moves to its column by the row's own scope; the rest stays."""
    extras = ['{"Coolant":194.0,"Oil":3.5}', '{"Volts":12.5}', '{"Volts":9.5}', '{"Volts":1.5}']

    again = reread(extras, ["", "", "L-1", ""], ["", "S", "S", ""], TABLE)

    assert again.values[0, COLUMN["ECT"]] == pytest.approx(90)
    assert again.values[1, COLUMN["VPWR"]] == 12.5
    assert again.values[2, COLUMN["CRANK_VMIN"]] == 9.5
    assert np.isnan(again.values[3]).all()
    assert json.loads(again.extra[0] or "") == {"Coolant": 194.0, "Oil": 3.5}
    assert again.extra[1:] == [None, None, '{"Volts":1.5}']


@pytest.mark.parametrize(
    "extra", ['{"Coolant":"hot"}', '{"Coolant":{"value":3.0,"unit":"V"}}', '{"Coolant":9000.0}']
)
def test_impossible_values_stay(extra: str) -> None:
    """A value that its parameter cannot have stays in the extra."""
    again = reread([extra], [""], [""], TABLE)

    assert np.isnan(again.values).all()
    assert json.loads(again.extra[0] or "") == json.loads(extra)


def test_nothing_to_read() -> None:
    """No rows give no rows."""
    again = reread([], [], [], TABLE)

    assert again.values.shape == (0, len(COLUMN))
