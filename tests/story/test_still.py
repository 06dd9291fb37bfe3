"""Sensors that stand still from the first reading on, planted into sound fleets of the generator."""

from dataclasses import replace

import numpy as np
import pytest

from ingest.parameters import COLUMN
from models.quality.stuck import find_stuck
from service.demo.fleet import healthy_fleet
from tests.bench.direct import fold

PLANTED = {"IAT": 15.0, "ECT": 60.0, "AAT": 12.0, "VPWR": 13.2, "MAP": 55.0, "MAF": 4.0}


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(1, 6))
def test_planted_ones_are_told_and_no_other(seed: int) -> None:
    """Coarse loggers, swaps and gaps of a sound fleet look stuck to nobody; what is planted is told."""
    daily = fold(healthy_fleet(seed, vehicles=200, weeks=26))
    assert len(find_stuck(daily).vehicle) == 0

    for code, value in PLANTED.items():
        values = daily.values.copy()
        reported = np.isfinite(values[:, COLUMN[code]])
        chosen = np.unique(daily.vehicle[reported])[:20]
        values[reported & np.isin(daily.vehicle, chosen), COLUMN[code]] = value

        told = find_stuck(replace(daily, values=values))

        assert set(told.vehicle[told.column == COLUMN[code]].tolist()) == set(chosen.tolist()), code
