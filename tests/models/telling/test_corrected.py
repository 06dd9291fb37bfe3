"""Corrected days lie on the scale on which baselines are told, and end with the evaluation day."""

import numpy as np

from models.compare import Replay
from models.panel import Wish
from models.telling.corrected import KEPT_DAYS
from tests.models.fleets import FEW, FIRST_DAY, Town

LAST = 189


def _town() -> Town:
    town = Town(18, LAST + 1, channels=(*FEW, ("MAF", "warm_idle", 3.0, 0.05)), depots=2)
    town.drift("LONGFT1", "warm_idle", 3, onset=120, per_week=0.7)
    return town


def test_corrected_days_stand_around_the_baseline() -> None:
    """Between the baseline's days the corrected values' mean is the baseline, in each series' own unit."""
    town = _town()
    replay = Replay(town.fleet(), town.daily(), Wish())
    day = FIRST_DAY + LAST

    kept = {(one.vehicle, one.series): one for one in replay.corrected(day)}

    looked_at = 0
    for trend in replay.trends(day):
        reading = trend.reading
        one = kept[trend.vehicle, reading.series]
        behind = (one.day >= max(reading.baseline_from, day - KEPT_DAYS)) & (one.day <= reading.baseline_to)
        if behind.sum() >= 20:
            looked_at += 1
            middle = float(np.median(one.value[behind]))
            assert abs(middle - reading.baseline) < 1.5 * reading.noise, (trend.vehicle, reading.series)
    assert looked_at > 20


def test_no_later_day_is_kept() -> None:
    """As of an earlier day nothing later is given, and nothing older than what pictures show."""
    town = _town()
    day = FIRST_DAY + 150

    found = Replay(town.fleet(), town.daily(), Wish()).corrected(day)

    assert found
    assert all(one.day.max() <= day for one in found)
    assert all(one.day.min() > day - KEPT_DAYS for one in found)


def test_nothing_from_nothing() -> None:
    """Before the first reading there is nothing to give."""
    town = _town()

    assert Replay(town.fleet(), town.daily(), Wish()).corrected(FIRST_DAY - 1) == ()
