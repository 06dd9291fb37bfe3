"""Learned and total trim around cleared memory."""

import numpy as np
import pytest

from models.compare import Replay
from models.panel import Wish
from models.telling.totals import read_totals
from tests.models.fleets import BARE, FEW, FIRST_DAY, Town

SHORT = (("SHRTFT1", "warm_idle", 0.0, 0.3), ("SHRTFT1", "cruise", 0.0, 0.3))
CLEARED, TODAY = 130, 149


def _town(*, cured: bool) -> Town:
    """Give a fleet in which one vehicle's leak is learned, its memory cleared, and the leak mended or not."""
    town = Town(16, 150, sheet=BARE, channels=(*FEW, *SHORT))
    long_, short = town.at("LONGFT1", "warm_idle"), town.at("SHRTFT1", "warm_idle")
    long_[3, 90:] += 9.0
    relearned = np.minimum((np.arange(150 - CLEARED) + 1) / 8.0, 1.0) * (0.0 if cured else 10.0)
    long_[3, CLEARED:] = relearned
    short[3, CLEARED:] += (0.0 if cured else 10.0) - relearned
    town.did(3, CLEARED, "memory_cleared")
    return town


def _notes(town: Town, day: int) -> list[list[float]]:
    said = Replay(town.fleet(), town.daily(), Wish()).at(FIRST_DAY + day)
    return [
        [float(value) for value in note.split(":")[1:]]
        for one in said.findings
        if one.vehicle == "V-0003"
        for note in one.notes
        if note.startswith("total_trim:")
    ]


def test_a_reset_moves_the_learned_trim_and_not_the_total() -> None:
    """With the leak still there the total stays near ten per cent while the learned part starts anew."""
    ((cleared, learned, relearned, total, after),) = _notes(_town(cured=False), TODAY)

    assert cleared == FIRST_DAY + CLEARED
    assert learned > 7.0
    assert relearned < learned - 2.0
    assert total == pytest.approx(learned, abs=0.5)
    assert after > 0.9 * total


def test_before_enough_readings_nothing_is_told() -> None:
    """On the day after the clearing nobody can say what the total does."""
    assert _notes(_town(cured=False), CLEARED + 1) == []


def test_without_a_clearing_nothing_is_told() -> None:
    """A drift alone has no such remark."""
    town = Town(16, 150, sheet=BARE, channels=(*FEW, *SHORT))
    town.drift("LONGFT1", "warm_idle", 3, onset=90, per_week=1.5)

    assert _notes(town, TODAY) == []


def test_totals_need_both_trims() -> None:
    """A day without short-term trim has no total."""
    town = Town(9, 20, sheet=BARE, channels=FEW)

    assert len(read_totals(town.daily()).day) == 0
