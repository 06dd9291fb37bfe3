"""From the owner's one number to evidence."""

from math import exp, log

import pytest

from models.levels import ANCHOR_NATS, ANCHOR_RATE, run_length_of, set_levels
from models.panel import Wish


def test_the_anchor_is_the_measured_pair() -> None:
    """Who asks for the measured rate gets the measured level."""
    assert set_levels(Wish(false_tickets=ANCHOR_RATE)).ticket == pytest.approx(ANCHOR_NATS)


@pytest.mark.parametrize("fewer", [2.0, 10.0])
def test_fewer_false_tickets_need_more_evidence(fewer: float) -> None:
    """A tenth of the false tickets costs log 10 nats."""
    usual, strict = set_levels(Wish()), set_levels(Wish(false_tickets=0.1 / fewer))

    assert strict.ticket - usual.ticket == pytest.approx(log(fewer))


def test_the_watch_tier_may_be_wrong_more_often() -> None:
    """The watch level lies below the ticket level by the logarithm of its factor."""
    levels = set_levels(Wish(watch_factor=10.0))

    assert exp(levels.ticket - levels.watch) == pytest.approx(10.0)


@pytest.mark.parametrize(("wish", "months"), [(0.1, 1000.0), (1.0, 100.0)])
def test_a_level_is_a_run_length(wish: float, months: float) -> None:
    """One false ticket per 1,000 vehicle-months is what 0.1 per 100 means; the watch tier runs a tenth."""
    levels = set_levels(Wish(false_tickets=wish))

    assert run_length_of(levels.ticket) == pytest.approx(months)
    assert run_length_of(levels.watch) == pytest.approx(months / 10.0)
