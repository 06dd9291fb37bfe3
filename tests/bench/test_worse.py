"""Worse data is the same fleet: each change does what its line says, and nothing else."""

import numpy as np
import pytest

from ingest.parameters import CODES, COLUMN
from models.panel import Daily
from tests.bench.fleets import fleet_of
from tests.bench.worse import CHANGES


@pytest.fixture(scope="module")
def daily() -> Daily:
    """Give a small fleet's daily values."""
    return fleet_of("own", 1, vehicles=12, days=240, per_day=1.6, direct=True).stored.daily


@pytest.mark.parametrize("name", CHANGES)
def test_a_change_keeps_the_rest(daily: Daily, name: str) -> None:
    """Vehicles, days and states stay as they are, and the given values are not written to."""
    before = daily.values.copy()

    worse = CHANGES[name](daily, np.random.default_rng(5))

    np.testing.assert_array_equal(daily.values, before)
    if name == "a third of the readings":
        assert len(worse) == pytest.approx(len(daily) / 3, rel=0.1)
        return
    for column in ("vehicle", "day", "state", "readings"):
        np.testing.assert_array_equal(getattr(worse, column), getattr(daily, column))
    moved = {CODES[place] for place in range(len(CODES)) if not _same(worse.values, before, place)}
    switches = np.array_equal(worse.switched_on, daily.switched_on, equal_nan=True)
    assert bool(moved) != (name in ("as made", "no load switches"))
    assert switches != (name == "no load switches")


def _same(one: np.ndarray, other: np.ndarray, place: int) -> bool:
    return bool(np.array_equal(one[:, place], other[:, place], equal_nan=True))


def test_whole_volts_are_whole(daily: Daily) -> None:
    """Rounded values lie on their steps, within half a step of what they were."""
    worse = CHANGES["whole volts"](daily, np.random.default_rng(5)).values[:, COLUMN["VPWR"]]
    volts = daily.values[:, COLUMN["VPWR"]]
    read = np.isfinite(volts)

    np.testing.assert_array_equal(worse[read], np.round(worse[read]))
    assert np.abs(worse[read] - volts[read]).max() <= 0.5
