"""From the owner's one number to levels."""

from dataclasses import replace

import numpy as np
import pytest

from models.alarm.bootstrap import NOTHING, Chance
from models.alarm.levels import PRIOR_PASSAGES, level_for, rate_at, run_length_of, set_levels
from models.evidence.kinds import BEYOND, DRAWN, FAMILIES, KINDS, OFTEN, PLACE, SWITCH
from models.panel import Wish

MONTHS = 2000.0
TRIM = PLACE["trim"]


@pytest.mark.parametrize("rate", [0.001, 0.02, 0.1, 0.5, 2.0, 20.0])
def test_rate_and_level_are_inverse(rate: float) -> None:
    """The level for a rate is passed at that rate."""
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


def _drawn(times: float, *, further: float = 1.0) -> Chance:
    """Give histories that pass so many times as often as the table's, and reach so many times further."""
    passed = times * DRAWN * MONTHS / 100.0
    return Chance(passed=passed, beyond=further * passed * BEYOND, months=MONTHS)


def test_without_a_history_the_table_speaks() -> None:
    """A fleet too young to draw from is judged by the table."""
    levels = set_levels(Wish())

    np.testing.assert_array_equal(levels.ratio, np.ones(len(KINDS)))
    assert levels.months == 0


def test_a_fleet_like_the_tables_keeps_them() -> None:
    """Histories that pass as often and as far as those of the table's fleets change nothing."""
    levels = set_levels(Wish(), _drawn(1.0))

    np.testing.assert_allclose(levels.ratio, 1.0)
    np.testing.assert_allclose(levels.stretch, 1.0)


@pytest.mark.parametrize("times", [0.0, 0.3, 3.0])
def test_a_fleet_that_wanders_more_must_show_more(times: float) -> None:
    """Evidence of a kind that sound vehicles of this fleet show more often is worth less here."""
    plain, own = set_levels(Wish()), set_levels(Wish(), _drawn(times))
    nats, kind = np.array(15.0), np.array(TRIM)

    ratio = own.ratio[TRIM]
    assert min(1.0, times) <= ratio <= max(1.0, times)
    assert float(own.rarity(nats, kind)) == pytest.approx(float(plain.rarity(nats, kind)) - np.log(ratio))


@pytest.mark.parametrize("further", [0.0, 0.7, 1.0, 2.5])
def test_a_fleet_whose_chance_reaches_further_must_show_more(further: float) -> None:
    """The further beyond its usual level chance reaches in a fleet, the less much evidence is worth there."""
    levels = set_levels(Wish(), _drawn(1.0, further=further))
    kind, often = np.array(TRIM), OFTEN[TRIM]
    near, far = (float(levels.rarity(np.array(often + nats), kind)) for nats in (0.0, 10.0))
    plain_near, plain_far = (
        float(set_levels(Wish()).rarity(np.array(often + nats), kind)) for nats in (0.0, 10.0)
    )

    assert min(1.0, further) - 1e-9 <= levels.stretch[TRIM] <= max(1.0, further) + 1e-9
    assert near == pytest.approx(plain_near)
    assert far - near == pytest.approx((plain_far - plain_near) / levels.stretch[TRIM])


def test_families_are_told_apart() -> None:
    """A fleet whose idle air wanders keeps the table's word on its charging voltage."""
    passed = np.where(next(family for family in FAMILIES if family[PLACE["idle air"]]), 50.0, 0.0)
    chance = replace(_drawn(1.0), passed=_drawn(1.0).passed + passed)
    levels = set_levels(Wish(), chance)

    assert levels.ratio[PLACE["idle air"]] > 2.0
    assert levels.ratio[PLACE["charging"]] == pytest.approx(1.0)
    assert levels.ratio[TRIM] == pytest.approx(1.0)


@pytest.mark.parametrize("times", [0.0, 4.0])
def test_what_wanders_says_nothing_of_drivers(times: float) -> None:
    """No history draws switches: a fleet whose readings wander keeps the table's word on them."""
    levels = set_levels(Wish(), _drawn(times, further=times))

    assert levels.ratio[SWITCH] == 1.0
    assert levels.stretch[SWITCH] == 1.0


@pytest.mark.parametrize(("days", "times"), [(20, 4.0), (55, 4.0), (56, 2.0), (119, 2.0), (120, 1.0)])
def test_a_young_fleet_must_show_more(days: int, times: float) -> None:
    """Evidence of every kind is worth less while the history is short, in two steps."""
    plain, young = set_levels(Wish()), set_levels(Wish(), days=days)
    nats, kinds = np.full(len(KINDS), 15.0), np.arange(len(KINDS))

    np.testing.assert_allclose(plain.rarity(nats, kinds) - young.rarity(nats, kinds), np.log(times))


def test_few_passages_say_little() -> None:
    """The fleet's own word grows with the months drawn; the table counts as so many passages."""
    short = set_levels(Wish(), replace(NOTHING, months=50.0)).ratio[TRIM]
    long = set_levels(Wish(), replace(NOTHING, months=5000.0)).ratio[TRIM]

    assert long < short < 1.0
    expected = DRAWN[next(family for family in FAMILIES if family[TRIM])].sum() * 0.5
    assert short == pytest.approx(PRIOR_PASSAGES / (expected + PRIOR_PASSAGES))


def test_the_screen_follows_the_fleet() -> None:
    """The least evidence worth a look falls where sound vehicles show less."""
    plain, quiet = set_levels(Wish()), set_levels(Wish(), _drawn(0.0))

    assert quiet.least_nats < plain.least_nats
