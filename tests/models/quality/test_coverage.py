"""How well each vehicle can be judged."""

import numpy as np
import pytest

from ingest.parameters import STATES
from models.compare import compare
from models.findings import VehicleState
from models.panel import Wish
from models.quality.coverage import (
    LEARNING_DAYS,
    SILENT_AT_LEAST_DAYS,
    WINDOW_DAYS,
    count_presence,
    vehicle_states,
)
from tests.models.fleets import FEW, FIRST_DAY, Town


def _states(town: Town, day: int | None = None) -> tuple[VehicleState, ...]:
    today = town.last_day if day is None else FIRST_DAY + day
    fleet = town.fleet()
    return vehicle_states(fleet, count_presence(town.daily(), len(fleet.vehicles)), today)


def test_a_vehicle_that_reports_is_steady() -> None:
    """Daily readings and no finding: steady, with the count of the last four weeks."""
    state = _states(Town(1, 60))[0]

    assert (state.word, state.reason, state.last_day) == ("steady", "", FIRST_DAY + 59)
    assert state.readings == 2 * WINDOW_DAYS


def test_nothing_ever_is_no_data() -> None:
    """A vehicle that never sent anything cannot be judged."""
    town = Town(2, 60)
    town.silence(1, 0)

    state = _states(town)[1]

    assert (state.word, state.reason, state.last_day, state.readings) == ("cannot_say", "no_data", None, 0)


@pytest.mark.parametrize("since", [1, SILENT_AT_LEAST_DAYS, SILENT_AT_LEAST_DAYS + 1, 20, 40, 100])
def test_a_silent_vehicle_is_never_steady(since: int) -> None:
    """After a week without a reading a daily reporter is silent, however quiet it was before."""
    town = Town(2, 150)
    town.silence(1, 150 - since)

    state = _states(town)[1]

    silent = since > SILENT_AT_LEAST_DAYS
    assert (state.word, state.reason) == (("cannot_say", "silent") if silent else ("steady", ""))


def test_a_weekly_reporter_is_silent_after_two_weeks() -> None:
    """How long a silence must be follows the vehicle's own habit."""
    town = Town(1, 200)
    weekday = np.arange(200) % 7 != 0
    town.at("LONGFT1", "warm_idle")[0, weekday] = np.nan
    town = _only_every(town, 7)

    assert _states(town, 196 + 13)[0].reason == ""
    assert _states(town, 196 + 15)[0].reason == "silent"


def _only_every(town: Town, days: int) -> Town:
    """Silence a town but for every so many days."""
    for code, state, _, _ in FEW:
        town.at(code, state)[:, np.arange(town.days) % days != 0] = np.nan
    return town


def test_silence_outranks_a_finding() -> None:
    """A vehicle with a finding that fell silent is not called steady or watched: nobody can say."""
    town = Town(12, 150)
    town.drift("LONGFT1", "warm_idle", 3, onset=60, per_week=1.5)
    town.silence(3, 135)

    said = compare(town.fleet(), town.daily(), town.last_day, Wish())

    assert said.vehicles[3].word == "cannot_say"


def test_a_finding_is_watched() -> None:
    """A vehicle with a finding is under watch."""
    town = Town(12, 150)
    town.drift("LONGFT1", "warm_idle", 3, onset=60, per_week=1.5)

    said = compare(town.fleet(), town.daily(), town.last_day, Wish())

    assert [(state.vehicle, state.reason) for state in said.vehicles if state.word == "watch"] == [
        ("V-0003", "finding")
    ]
    assert {state.word for state in said.vehicles} == {"watch", "steady"}


def test_readings_of_no_state_cannot_be_judged() -> None:
    """A vehicle whose readings reach no state is heard, but cannot be judged."""
    town = Town(1, 60, channels=())
    town.at("VPWR", "koeo")[:] = 12.4
    daily = town.daily()
    daily.state[:] = -1

    fleet = town.fleet()
    state = vehicle_states(fleet, count_presence(daily, len(fleet.vehicles)), town.last_day)[0]

    assert (state.word, state.reason, state.readings) == ("cannot_say", "no_usable_state", WINDOW_DAYS)


def test_without_warm_idle_most_cannot_be_judged() -> None:
    """A vehicle seen at cruise only says so."""
    town = Town(1, 60, channels=(("LONGFT1", "cruise", 0.0, 1.0),))

    assert _states(town)[0].reason == "no_warm_idle"


@pytest.mark.parametrize("days", [LEARNING_DAYS - 1, LEARNING_DAYS])
def test_a_newcomer_is_learning(days: int) -> None:
    """Until enough warm idles are at hand the vehicle's own normal is being learned."""
    assert _states(Town(1, days))[0].word == ("learning" if days < LEARNING_DAYS else "steady")


def test_later_rows_are_ignored() -> None:
    """What was sent after the evaluation day is not known on it."""
    state = _states(Town(1, 100), 40)[0]

    assert (state.last_day, state.readings) == (FIRST_DAY + 40, 2 * WINDOW_DAYS)


def test_every_vehicle_has_a_word() -> None:
    """One state for each vehicle, in the fleet's order, even without any reading at all."""
    town = Town(3, 0)

    states = _states(town)

    assert [state.vehicle for state in states] == ["V-0000", "V-0001", "V-0002"]
    assert {state.word for state in states} == {"cannot_say"}
    assert STATES.index("warm_idle") == 4
