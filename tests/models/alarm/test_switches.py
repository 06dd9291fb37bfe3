"""Load switches that never read off."""

import numpy as np
import pytest
from numpy.typing import NDArray

from models.alarm import switches
from models.alarm.switches import BEFORE, FRESH_DAYS, LEAST_RUN, find_runs, hear_switches, stuck_on
from models.causes.table import typical_shift
from models.evidence.scan import LAGS, TEMPLATES, Evidence
from models.learning.fit import Fit, Material, gather, learn
from models.series import PLACE, SERIES
from tests.models.fleets import BARE, FIRST_DAY, Town

AC = PLACE["ac@warm_idle"]
QUIET = (("RPM", "warm_idle", 720.0, 8.0),)


def _town(share: float, on: dict[int, int], *, days: int = 120) -> Town:
    """Give a fleet using the air conditioner on a share of days; those of `on` always from a day on."""
    town = Town(12, days, channels=QUIET, sheet=BARE)
    used = town.rng.random((12, days)) < share
    for vehicle, since in on.items():
        used[vehicle, since - 1 : since] = False
        used[vehicle, since:] = True
    town.switch("ac")[:] = used
    return town


def _seasons(vehicle_on: slice | None = None, *, share: float = 0.9) -> Town:
    """Give a year from cold over hot to cold; drivers cool above 25 degC, one on some days in any weather."""
    days = 300
    town = Town(16, days, channels=(*QUIET, ("IAT", "warm_idle", 0.0, 2.0)), sheet=BARE)
    air = town.at("IAT", "warm_idle")
    air += 15.0 - 17.0 * np.cos(2 * np.pi * np.arange(days) / days)
    used = (air > 25.0) & (town.rng.random(air.shape) < share)
    if vehicle_on is not None:
        used[3, vehicle_on] = True
    town.switch("ac")[:] = used
    return town


def _learned(town: Town) -> tuple[Material, Fit]:
    material = gather(town.fleet(), town.daily())
    return material, learn(material, town.last_day)


def _stuck(
    town: Town, *, day: int | None = None, start: int = 0
) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
    """Give the evidence of every vehicle's run and the day of the history on which it began."""
    material, fit = _learned(town)
    today = town.last_day if day is None else FIRST_DAY + day
    first = np.full((town.vehicles, len(SERIES)), FIRST_DAY + start, np.int32)
    nats, begun = stuck_on(material, fit.history, find_runs(material, fit), day=today, start=first)
    return nats, begun - FIRST_DAY


def test_a_long_run_of_on_is_evidence() -> None:
    """A month of on, where others are seldom on, says more the longer it lasts, and when it began."""
    nats, begun = _stuck(_town(0.2, {3: 90, 4: 105}))

    assert nats[3] > nats[4] > np.delete(nats, [3, 4]).max()
    assert begun[[3, 4]].tolist() == [90, 105]


def test_off_is_no_evidence() -> None:
    """A newest reading of off proves that the switch can open."""
    town = _town(0.2, {3: 90})
    town.switch("ac")[3, -1] = 0.0

    assert _stuck(town)[0][3] == 0


def test_half_a_day_of_on_is_not_always_on() -> None:
    """A day with readings of both on and off ends a run."""
    town = _town(0.2, {3: 60})
    town.switch("ac")[3, 110] = 0.5

    nats, begun = _stuck(town)

    assert begun[3] == 111
    assert nats[3] < _stuck(_town(0.2, {3: 60}))[0][3]


def test_what_everyone_does_is_no_evidence() -> None:
    """A run of on says less where like vehicles are mostly on."""
    assert _stuck(_town(0.95, {3: 100}))[0][3] < _stuck(_town(0.2, {3: 100}))[0][3] / 5


def test_a_vehicles_own_habit_counts() -> None:
    """A vehicle that always was mostly on is not called stuck for what others do."""
    town = _town(0.1, {3: 100})
    town.switch("ac")[3, :99] = np.arange(99) % 10 != 0

    assert _stuck(town)[0][3] < _stuck(_town(0.1, {3: 100}))[0][3] / 5


@pytest.mark.parametrize(("readings", "speaks"), [(LEAST_RUN - 1, False), (LEAST_RUN, True)])
def test_a_few_readings_say_nothing(readings: int, *, speaks: bool) -> None:
    """A cold spell of four idles with clear windows to keep is no run."""
    assert bool(_stuck(_town(0.05, {3: 120 - readings}))[0][3] > 0) == speaks


@pytest.mark.parametrize("before", [BEFORE - 1, BEFORE])
def test_an_unknown_habit_is_no_evidence(before: int) -> None:
    """On from the first days on, nobody knows what was usual."""
    assert bool(_stuck(_town(0.2, {3: before}))[0][3] > 0) == (before >= BEFORE)


def test_a_run_from_before_the_segment_says_nothing() -> None:
    """A run that began before the running segment is not judged."""
    town = _town(0.2, {3: 90})

    assert _stuck(town, start=80)[0][3] > 0
    assert _stuck(town, start=95)[0][3] == 0


@pytest.mark.parametrize(("days", "speaks"), [(FRESH_DAYS - 1, True), (FRESH_DAYS, False)])
def test_old_runs_say_nothing_of_today(days: int, *, speaks: bool) -> None:
    """A run whose newest reading is weeks old is not judged."""
    assert bool(_stuck(_town(0.2, {3: 90}), day=119 + days)[0][3] > 0) == speaks


def test_later_readings_do_not_count() -> None:
    """The evidence of a day is that of the readings up to it."""
    town, later = _town(0.2, {3: 60}), _town(0.2, {3: 60})
    later.switch("ac")[3, 110:] = 0.0

    assert _stuck(later, day=100)[1][3] == _stuck(town, day=100)[1][3] == 60
    assert _stuck(later, day=100)[0][3] > 0
    assert _stuck(later)[0][3] == 0


def test_runs_never_join_vehicles() -> None:
    """A vehicle's run does not go on in the next vehicle of the list."""
    town = _town(0.3, {3: 60})
    town.switch("ac")[4, : BEFORE + 5] = 1.0

    nats, begun = _stuck(town, day=BEFORE + 4)

    assert nats[4] == 0
    assert begun.shape == (12,)


@pytest.mark.parametrize("channels", [QUIET, ()])
def test_nobody_reports_a_switch(channels: tuple[tuple[str, str, float, float], ...]) -> None:
    """Without switches, or without any reading, nothing is stuck."""
    town = Town(3, 40, channels=channels)

    nats, _ = _stuck(town)

    assert nats.tolist() == [0.0, 0.0, 0.0]


def test_a_hot_spell_is_no_fault() -> None:
    """Weeks of on in the first heat of the year, as everybody has them, say nothing; in the cold they do."""
    hot, _ = _stuck(_seasons(slice(130, 170)), day=165)
    cold, begun = _stuck(_seasons(slice(260, 300)))

    assert cold[3] > 20 > 4 * hot.max()
    assert np.delete(cold, 3).max() < 3
    assert begun[3] == 260


def test_the_first_heat_of_a_history_is_no_fault() -> None:
    """Habits learned on cool days know nothing of heat: what like vehicles do in the same week tells."""
    town, alone = _seasons(), _seasons()
    alone.switch("ac")[:] = 0.0
    alone.switch("ac")[3] = town.switch("ac")[3]

    together, single = (_by_old_habits(one, 130, learned=100) for one in (town, alone))

    assert together.max() < 4
    assert single[3] > 2 * together[3]


def test_a_vehicle_does_not_speak_for_itself(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of two like vehicles one is on for a month: its own run makes nothing usual."""
    town = Town(2, 120, channels=QUIET, sheet=BARE)
    town.switch("ac")[:] = town.rng.random((2, 120)) < 0.1
    town.switch("ac")[0, 89], town.switch("ac")[:, 90:] = 0.0, [[1.0], [0.0]]
    heard = _stuck(town)[0][0]

    monkeypatch.setattr(switches, "TOGETHER_READINGS", 1e12)

    assert heard == pytest.approx(_stuck(town)[0][0], rel=1e-4)
    assert heard > 5


def _by_old_habits(town: Town, day: int, *, learned: int) -> NDArray[np.float64]:
    """Give the evidence of every vehicle's run on a day by habits learned up to an earlier one."""
    material = gather(town.fleet(), town.daily())
    fit = learn(material, FIRST_DAY + learned)
    first = np.full((town.vehicles, len(SERIES)), FIRST_DAY, np.int32)
    return stuck_on(material, fit.history, find_runs(material, fit), day=FIRST_DAY + day, start=first)[0]


def test_a_driver_unlike_the_others_needs_cold_to_be_stuck() -> None:
    """Who cools on every hot day where others do on few is less suspicious than who does so in the cold."""
    hot, _ = _stuck(_seasons(slice(130, 160), share=0.3), day=159)
    cold, _ = _stuck(_seasons(slice(270, 300), share=0.3))

    assert cold[3] > 2 * hot[3]


def test_one_wild_temperature_makes_no_cold_day() -> None:
    """A single reading of frost amid the heat is worth no more than a cool day."""
    town, cool = _seasons(slice(130, 170)), _seasons(slice(130, 170))
    town.at("IAT", "warm_idle")[3, 150] = -20.0
    cool.at("IAT", "warm_idle")[3, 150] = np.median(cool.at("IAT", "warm_idle")[3, 144:151]) - 15.0

    assert _stuck(town, day=165)[0][3] == pytest.approx(_stuck(cool, day=165)[0][3], abs=0.1)


def _heard(town: Town, day: int) -> Evidence:
    material, fit = _learned(town)
    first = np.full((town.vehicles, len(SERIES)), FIRST_DAY, np.int32)
    nothing = np.zeros((town.vehicles, len(TEMPLATES), len(SERIES)))
    return hear_switches(
        Evidence(z=nothing, root_information=nothing),
        fit.history,
        find_runs(material, fit),
        day=FIRST_DAY + day,
        start=first,
        rows=np.arange(town.vehicles),
    )


def test_switches_speak_in_directions() -> None:
    """Since the true onset a switch that is on at last shows its full size; others and heat show none."""
    heard = _heard(_seasons(slice(260, 300)), 299)
    since = 2 * LAGS.index(35)

    assert heard.z[3, since, AC] > 4
    assert heard.z[3, since, AC] / heard.root_information[3, since, AC] == pytest.approx(
        typical_shift()[AC], rel=0.05
    )
    assert np.delete(heard.z[:, since, AC], 3).max() < 2
    assert _heard(_seasons(), 175).z[:, :, AC].max() < 3


def test_some_offs_lessen_what_a_switch_says() -> None:
    """An input that reads on half of the time in the cold still speaks, more softly and of less."""
    town = _seasons(slice(265, 300))
    town.switch("ac")[3, 266:300:2] = 0.0
    since = 2 * LAGS.index(35)

    half, whole = _heard(town, 299), _heard(_seasons(slice(265, 300)), 299)

    assert 3 < half.z[3, since, AC] < whole.z[3, since, AC]
    assert 0.3 < half.z[3, since, AC] / half.root_information[3, since, AC] / typical_shift()[AC] < 0.8


def test_only_what_is_put_in_place_speaks() -> None:
    """Everything but switches is left as it was."""
    heard = _heard(_seasons(), 299)
    others = [place for place, series in enumerate(SERIES) if not series.bounded]

    assert not heard.z[:, :, others].any()
    assert not heard.root_information[:, :, others].any()
