"""Engine hours from the time since each start."""

import numpy as np
import pytest

from service.web.pages.running import engine_hours
from tests.models.fleets import snapshots


def test_runs_add_up() -> None:
    """Two snapshots of a run count its longer time; the next start adds to it; silence has no place."""
    readings = snapshots(
        [
            (0, 8.0, "warm_idle", {"RUNTM": 600.0}),
            (0, 8.5, "cruise", {"RUNTM": 2400.0}),
            (0, 9.0, "cruise", {"VSS": 80.0}),
            (0, 17.0, "koeo_soak", {"RUNTM": 0.0}),
            (0, 17.5, "cruise", {"RUNTM": 1200.0}),
        ]
    )

    hours = engine_hours(readings)

    assert hours[[0, 1, 3, 4]] == pytest.approx([600 / 3600, 2400 / 3600, 2400 / 3600, 3600 / 3600])
    assert np.isnan(hours[2])


def test_loggers_round() -> None:
    """A minute between reading and stamp starts no new run."""
    readings = snapshots(
        [(0, 8.0, "warm_idle", {"RUNTM": 600.0}), (0, 8.0 + 1 / 6, "cruise", {"RUNTM": 1140.0})]
    )

    assert engine_hours(readings)[1] == pytest.approx(1140 / 3600)


def test_nothing_told() -> None:
    """Without a time since start, or without readings, there are no hours."""
    assert np.isnan(engine_hours(snapshots([(0, 8.0, "cruise", {"VSS": 80.0})]))).all()
    assert engine_hours(snapshots([])).shape == (0,)
