"""How much of the watch list is chance."""

import numpy as np
import pytest

from models.alarm.chance import chance_of, say_chances, sum_up
from models.alarm.levels import set_levels
from models.panel import Wish
from models.verdict.judge import SILENT
from tests.models.findings import drift

WISH = Wish()
LEVELS = set_levels(WISH)


def test_the_watch_level_is_passed_at_its_own_rate() -> None:
    """At the watch level the chance is the watch rate a month, ten times less at the ticket level."""
    chance = chance_of(np.array([LEVELS.watch, LEVELS.ticket, SILENT]))

    assert chance == pytest.approx([0.01, 0.001, 1.0])


def test_of_four_shown_in_two_hundred_two_are_chance() -> None:
    """With 200 vehicles and one in a hundred passing by chance, two of four shown are to be expected."""
    score = np.full(200, SILENT)
    score[:4] = LEVELS.watch + 1.0
    chance = chance_of(score)
    shown = tuple(drift(f"V-{place}") for place in range(4))

    assert sum_up(shown, chance, WISH) == "chance:4:2"


def test_nothing_shown_says_nothing() -> None:
    """Without a drift there is no sentence."""
    assert sum_up((), chance_of(np.full(9, SILENT)), WISH) == ""


def test_every_drift_carries_its_own_share() -> None:
    """One far beyond the level is hardly chance; a limit that is left is a fact and carries none."""
    score = np.full(100, SILENT)
    score[0], score[1] = LEVELS.watch + 30.0, LEVELS.watch
    chance = chance_of(score)
    names = tuple(f"V-{place}" for place in range(100))

    said = say_chances((drift("V-0"), drift("V-1"), drift("V-2", rule="limit")), names, chance)

    assert [one.notes for one in said] == [("chance:0",), ("chance:50",), ()]
