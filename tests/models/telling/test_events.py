"""What a crowd does at once."""

import numpy as np
import pytest

from models.compare import Replay, compare
from models.findings import FleetEvent
from models.panel import Wish
from models.telling.events import fuel_hint
from tests.models.fleets import FIRST_DAY, Town


def _events(town: Town, day: int | None = None) -> tuple[FleetEvent, ...]:
    today = town.last_day if day is None else FIRST_DAY + day
    return compare(town.fleet(), town.daily(), today, Wish()).events


def _shifted(*, depots: int, who: int | None = None, size: float = 4.0) -> Town:
    """Shift idle trims of one depot, or of all, for the last ten days."""
    town = Town(20, 100, depots=depots)
    mine = np.ones(20, bool) if who is None else town.depot == who
    town.at("LONGFT1", "warm_idle")[mine, 90:] += size
    return town


def test_a_depot_is_named() -> None:
    """A shift of one of two depots names that depot, its size and how many vehicles it has."""
    events = _events(_shifted(depots=2, who=1))

    assert [(event.scope, event.series, event.unit, event.vehicles) for event in events] == [
        ("Depot 1", "LONGFT1@warm_idle", "%", 10)
    ]
    assert events[0].shift == pytest.approx(4.0, abs=1.2)


def test_small_depots_together_are_the_fleet() -> None:
    """Depots too small to be crowds are one crowd, called the fleet."""
    assert [event.scope for event in _events(_shifted(depots=5))] == ["fleet"]


def test_vehicles_of_no_depot_are_the_fleet() -> None:
    """Vehicles without a depot are one crowd, called the fleet."""
    town = _shifted(depots=1)
    town.depot[:] = -1

    assert [event.scope for event in _events(town)] == ["fleet"]


def test_downward_shifts_keep_their_sign() -> None:
    """A fleet that turns rich has a negative shift."""
    assert _events(_shifted(depots=1, size=-4.0))[0].shift < -2.5


def test_a_quiet_fleet_has_no_events() -> None:
    """Sound vehicles do nothing at once."""
    assert _events(_shifted(depots=2, size=0.0)) == ()


def test_a_small_shift_is_not_worth_a_notice() -> None:
    """A shift well inside one vehicle's day-to-day noise is taken out without a word."""
    assert _events(_shifted(depots=1, size=0.4)) == ()


def test_a_handful_of_readings_is_no_event() -> None:
    """Eight vehicles that report once a week have too few readings to tell of a week."""
    town = Town(8, 140)
    town.at("LONGFT1", "warm_idle")[:, 126:] += 6.0
    for code, state in (("LONGFT1", "warm_idle"), ("LONGFT1", "cruise")):
        town.at(code, state)[:, np.arange(140) % 7 != 6] = np.nan

    assert _events(town) == ()


def test_a_young_history_says_nothing() -> None:
    """Five weeks are needed to know what was usual."""
    town = _shifted(depots=1)
    town.at("LONGFT1", "warm_idle")[:, 20:] += 4.0

    assert _events(town, 24) == ()


def test_a_day_without_any_data_says_nothing() -> None:
    """A day after the newest reading has no events of its own."""
    assert _events(_shifted(depots=1), 140) == ()


def test_the_notice_passes() -> None:
    """Once the shift is five weeks old it is the usual, and no news."""
    town = Town(12, 160)
    town.at("LONGFT1", "warm_idle")[:, 90:] += 4.0
    replay = Replay(town.fleet(), town.daily(), Wish())

    told = [
        day
        for day in range(85, 160, 5)
        if "LONGFT1@warm_idle" in {event.series for event in replay.at(FIRST_DAY + day).events}
    ]

    assert told
    assert 90 <= told[0] <= 100
    assert told[-1] <= 130


@pytest.mark.parametrize(
    ("shift", "hint"),
    [(3.9, "blend:0:10"), (-3.8, "blend:10:0"), (7.9, "blend:0:20"), (40.0, "blend:10:85"), (11.0, "")],
)
def test_a_change_of_fuel_is_hinted_at_by_its_size(shift: float, hint: str) -> None:
    """Shifts inside the band that a mass balance gives for a change of blend carry it; others none."""
    assert fuel_hint("LONGFT1@warm_idle", shift, 0.05) == hint


def test_only_trims_answer_to_fuel() -> None:
    """Idle air of the same size is no fuel."""
    assert fuel_hint("IAC@warm_idle", 3.9, 0.05) == ""


def test_the_event_carries_the_hint() -> None:
    """A depot that turns lean by four per cent may have a new fuel."""
    assert _events(_shifted(depots=2, who=1))[0].hint.startswith("blend:")
