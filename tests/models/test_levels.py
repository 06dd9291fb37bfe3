"""From the owner's one number to evidence."""

import numpy as np
import pytest

from models.levels import MEASURED, level_for, rate_at, run_length_of, set_levels
from models.panel import Wish


@pytest.mark.parametrize(("level", "rate"), MEASURED)
def test_a_measured_rate_gets_its_measured_level(level: float, rate: float) -> None:
    """Who asks for a measured rate gets the level it was measured at."""
    assert set_levels(Wish(false_tickets=rate)).ticket == pytest.approx(level)


@pytest.mark.parametrize("rate", [0.001, 0.02, 0.1, 0.5, 2.0, 20.0])
def test_rate_and_level_are_inverse(rate: float) -> None:
    """Within the table and beyond it, the level for a rate is passed at that rate."""
    assert float(rate_at(np.array(level_for(rate)))) == pytest.approx(rate)


def test_fewer_false_tickets_need_more_evidence() -> None:
    """The level rises as the wish falls, over the whole range."""
    levels = [level_for(rate) for rate in np.geomspace(50.0, 0.001, 60)]

    assert all(np.diff(levels) > 0)


def test_the_watch_tier_may_be_wrong_more_often() -> None:
    """The watch level is what a ticket would need at so many times the wish."""
    levels = set_levels(Wish(false_tickets=0.1, watch_factor=10.0))

    assert levels.watch == pytest.approx(level_for(1.0))
    assert levels.watch < levels.ticket


@pytest.mark.parametrize(("wish", "months"), [(0.1, 1000.0), (1.0, 100.0)])
def test_a_level_is_a_run_length(wish: float, months: float) -> None:
    """One false ticket per 1,000 vehicle-months is what 0.1 per 100 means; the watch tier runs a tenth."""
    levels = set_levels(Wish(false_tickets=wish))

    assert run_length_of(levels.ticket) == pytest.approx(months)
    assert run_length_of(levels.watch) == pytest.approx(months / 10.0)
