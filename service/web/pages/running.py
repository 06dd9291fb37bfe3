"""How long an engine has run, from the times since its starts."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import COLUMN
from models.panel import Readings

SAME_START_S: Final = 120.0
"""Two snapshots belong to one run where their starts agree within this [s]; chosen by us: loggers round, and
send a snapshot some seconds after its values were read."""


def engine_hours(readings: Readings) -> NDArray[np.float64]:
    """Add up the running time seen since the first of the readings, at least.

    What an engine runs after a run's last snapshot nobody sees, so that the sum is a lower end.

    Parameters
    ----------
    readings : Readings
        Of one vehicle, sorted by time.

    Returns
    -------
    float array of shape (n,)
        Hours; NaN where a reading does not say how long its engine has run (`RUNTM`).
    """
    run_s = readings.values[:, COLUMN["RUNTM"]]
    told = np.flatnonzero(np.isfinite(run_s))
    hours = np.full(len(run_s), np.nan)
    if not len(told):
        return hours
    lasted = run_s[told]
    started = readings.taken_us[told] / 1e6 - lasted
    new = np.r_[True, np.abs(np.diff(started)) > SAME_START_S]
    # A run has lasted as long as its last snapshot says; earlier runs are done when the next one starts.
    ended = np.where(np.r_[new[1:], True], lasted, 0.0)
    before = np.cumsum(ended) - ended
    hours[told] = (before + lasted) / 3600.0
    return hours
