"""Repairs, batteries, cleared memory."""

from dataclasses import replace

import numpy as np
import pytest

from ingest.parameters import STATES
from models.compare import Replay, compare
from models.findings import Assessment
from models.learning.breaks import (
    RELEARN_DAYS,
    find_moves,
    find_resets,
    number_stretches,
    recorded_resets,
    relearning,
)
from models.panel import Wish
from models.series import PLACE, SERIES, observe
from tests.models.fleets import FEW, FIRST_DAY, Town

COUNTERS = (("CLR_DIST", "warm_idle", 0.0, 0.0), ("WARM_UPS", "warm_idle", 0.0, 0.0))
QUIET = (
    ("LONGFT1", "warm_idle", 4.0, 0.5),
    ("LONGFT1", "cruise", 4.0, 0.5),
    ("VPWR", "warm_idle", 14.0, 0.1),
)


EVERY = {"LONGFT1@warm_idle", "LONGFT1@cruise", "IAC@warm_idle", "RPM@warm_idle", "MAP@warm_idle",
         "VPWR@warm_idle", "VPWR@cruise", "ECT@warm_idle"}  # fmt: skip


def _resets(town: Town) -> list[tuple[int, int]]:
    daily = town.daily()
    found = find_resets(daily, observe(town.fleet(), daily))
    return [(int(vehicle), int(day) - FIRST_DAY) for vehicle, day in found]


@pytest.mark.parametrize(("code", "step"), [("CLR_DIST", 40.0), ("WARM_UPS", 2.0)])
def test_a_counter_that_falls_tells_of_cleared_memory(code: str, step: float) -> None:
    """A counter that runs since the last clearing starts again: memory was cleared, told by nobody."""
    town = Town(3, 60, channels=(*QUIET, *COUNTERS))
    town.at(code, "warm_idle")[:] = step * np.arange(60)
    town.at(code, "warm_idle")[1, 30:] = step * np.arange(30)

    assert _resets(town) == [(1, 30)]


def test_a_counter_seen_in_no_state_counts() -> None:
    """A reading that reached no state still shows that the counter fell."""
    town = Town(1, 40, channels=QUIET)
    town.at("CLR_DIST", "koeo")[:] = 500.0 + np.arange(40)
    town.at("CLR_DIST", "koeo")[0, 20:] = np.arange(20)
    daily = town.daily()
    daily.state[daily.state == STATES.index("koeo")] = -1
    order = np.lexsort((daily.state, daily.day))
    daily = replace(
        daily,
        **{
            name: getattr(daily, name)[order]
            for name in ("vehicle", "day", "state", "readings", "values", "switched_on")
        },
    )

    found = find_resets(daily, observe(town.fleet(), daily))

    assert found.tolist() == [[0, FIRST_DAY + 20]]


def test_a_counter_that_barely_ran_tells_nothing() -> None:
    """A fall from next to nothing, or by a little, is no clearing."""
    town = Town(2, 40, channels=(*QUIET, *COUNTERS))
    town.at("CLR_DIST", "warm_idle")[0] = np.where(np.arange(40) % 2, 4.0, 0.0)
    town.at("CLR_DIST", "warm_idle")[1] = 900.0 - 40.0 * (np.arange(40) > 20)

    assert _resets(town) == []


def test_trims_at_exactly_zero_tell_of_cleared_memory() -> None:
    """Every learned trim of a day reads exactly zero on a vehicle whose trims lately did not."""
    town = Town(2, 60, channels=QUIET)
    for state in ("warm_idle", "cruise"):
        town.at("LONGFT1", state)[1, 40] = 0.0

    assert _resets(town) == [(1, 40)]


def test_a_trim_that_is_always_near_zero_tells_nothing() -> None:
    """A zero proves nothing on a vehicle whose trims are near zero, nor when another trim is not zero."""
    town = Town(2, 60, channels=QUIET)
    town.at("LONGFT1", "warm_idle")[0] *= 0.1
    town.at("LONGFT1", "cruise")[0] *= 0.1
    town.at("LONGFT1", "warm_idle")[0, 40] = town.at("LONGFT1", "cruise")[0, 40] = 0.0
    town.at("LONGFT1", "warm_idle")[1, 40] = 0.0

    assert _resets(town) == []


def test_nothing_reported_tells_nothing() -> None:
    """Without counters and trims no clearing is found."""
    assert _resets(Town(2, 30, channels=QUIET[2:])) == []


def test_recorded_clearing_masks_learned_values_only() -> None:
    """Days of relearning are left out for learned series, and for no other, and for no other vehicle."""
    town = Town(2, 60)
    town.did(0, 30, "memory_cleared")
    seen = observe(town.fleet(), town.daily())

    masked = relearning(seen, recorded_resets(town.fleet()))

    learned = {PLACE["LONGFT1@warm_idle"], PLACE["LONGFT1@cruise"], PLACE["IAC@warm_idle"]}
    assert set(seen.series[masked].tolist()) == learned
    assert set((seen.day[masked] - FIRST_DAY).tolist()) == set(range(30, 31 + RELEARN_DAYS))
    assert set(seen.vehicle[masked].tolist()) == {0}


@pytest.mark.parametrize(
    ("kind", "cause", "counts"),
    [
        ("memory_cleared", "", True),
        ("battery_replaced", "", True),
        ("repair", "throttle_deposits", True),
        ("repair", "thermostat_open", False),
        ("repair", "", False),
        ("repair", "unknown", False),
        ("complaint", "", False),
        ("no_fault_found", "", False),
    ],
)
def test_what_makes_learned_values_be_learned_anew(kind: str, cause: str, *, counts: bool) -> None:
    """Cleared memory, a new battery and a told repair of something learned start relearning."""
    town = Town(1, 40)
    town.did(0, 20, kind, cause)

    assert recorded_resets(town.fleet()).tolist() == ([[0, FIRST_DAY + 20]] if counts else [])


@pytest.mark.parametrize(
    ("kind", "cause", "moved"),
    [
        ("repair", "thermostat_open", {"ECT@warm_idle"}),
        ("repair", "", EVERY),
        ("repair", "unknown", EVERY),
        ("battery_replaced", "", {"VPWR@warm_idle", "VPWR@cruise"}),
        ("memory_cleared", "", set()),
        ("note", "", set()),
    ],
)
def test_a_repair_parts_only_its_series(kind: str, cause: str, moved: set[str]) -> None:
    """A told repair and a new battery part their series from the next day on, an untold one all."""
    town = Town(2, 40, channels=(*FEW, ("VPWR", "cruise", 14.0, 0.1), ("ECT", "warm_idle", 90.0, 1.0)))
    town.did(0, 20, kind, cause)
    seen = observe(town.fleet(), town.daily())

    stretch = number_stretches(town.fleet(), seen)

    parted = set()
    for vehicle in range(2):
        for place in np.unique(seen.series):
            mine = (seen.vehicle == vehicle) & (seen.series == place)
            numbers = stretch[mine]
            if numbers[0] != numbers[-1]:
                assert seen.day[mine][np.flatnonzero(np.diff(numbers))[0]] == FIRST_DAY + 20
                parted.add((vehicle, SERIES[place].name))
    assert parted == {(0, name) for name in moved}
    assert (np.diff(stretch) >= 0).all()


def _cleared(*, told: bool, drifting: bool = True) -> Town:
    """Give a fleet in which the memory of one vehicle is cleared on day 120 and relearned over three days."""
    town = Town(16, 170, sheet=None)
    if drifting:
        town.drift("LONGFT1", "warm_idle", 3, onset=60, per_week=0.8)
    for state in ("warm_idle", "cruise"):
        trim = town.at("LONGFT1", state)[3]
        trim[120:124] *= (0.0, 0.3, 0.6, 0.9)
    if told:
        town.did(3, 120, "memory_cleared")
    return town


def _assess(town: Town, day: int) -> Assessment:
    return compare(town.fleet(), town.daily(), FIRST_DAY + day, Wish())


@pytest.mark.parametrize("told", [True, False])
def test_clearing_neither_hides_nor_doubles_a_drift(*, told: bool) -> None:
    """A drifted vehicle whose memory is cleared is still found, once, at the size of the drift."""
    said = _assess(_cleared(told=told), 169)

    assert [finding.vehicle for finding in said.findings] == ["V-0003"]
    lead = said.findings[0].lead
    assert lead.series == "LONGFT1@warm_idle"
    # 0.8 % a week since day 60 is 12.5 % on day 169; doubled it would be 25.
    assert lead.level - lead.baseline == pytest.approx(12.5, abs=3.5)


@pytest.mark.parametrize("told", [True, False])
def test_clearing_does_not_close_a_finding(*, told: bool) -> None:
    """In the days after clearing the finding stands: a trim near zero proves nothing."""
    replay = Replay(_cleared(told=told).fleet(), _cleared(told=told).daily(), Wish())

    for day in (119, 121, 124, 129):
        assert [item.vehicle for item in replay.at(FIRST_DAY + day).findings] == ["V-0003"]


def test_clearing_a_sound_vehicle_raises_nothing() -> None:
    """Clearing the memory of a sound vehicle is no fault."""
    said = _assess(_cleared(told=True, drifting=False), 169)

    assert said.findings == ()
    assert [(item.vehicle, item.reason) for item in said.breaks] == [("V-0003", "memory_cleared")]


def _altitude(*pressures: float) -> Town:
    """Give one vehicle with outside pressures on successive days [kPa]."""
    town = Town(1, len(pressures), channels=QUIET)
    town.at("BARO", "warm_idle")[0] = pressures
    return town


def _moves(town: Town) -> list[tuple[int, int, int]]:
    return [
        (int(vehicle), int(day) - FIRST_DAY, int(known) - FIRST_DAY)
        for vehicle, day, known in find_moves(town.daily())
    ]


def test_a_move_to_another_altitude_is_found_once() -> None:
    """Two days in a row at another outside pressure are a move, told once, known on the second."""
    assert _moves(_altitude(*[100.0] * 20, *[84.0] * 30)) == [(0, 20, 21)]


@pytest.mark.parametrize(
    "after",
    [
        (84.0, 100.0, 84.0, 100.0),
        (98.0, 98.0, 98.0, 98.0),
        (84.0, 116.0, 100.0, 100.0),
    ],
    ids=["a day trip", "weather", "a confused sensor"],
)
def test_what_is_no_move(after: tuple[float, ...]) -> None:
    """Day trips, weather and a sensor that reads now high now low are no moves."""
    assert _moves(_altitude(*[100.0] * 20, *after, *[100.0] * 10)) == []


def test_manifold_pressure_at_rest_stands_in_for_a_barometer() -> None:
    """Where no barometer is reported the manifold with the engine off tells the altitude."""
    town = Town(2, 40, channels=(*QUIET, ("MAP", "koeo", 100.0, 0.3), ("MAP", "warm_idle", 32.0, 0.3)))
    town.at("MAP", "koeo")[1, 25:] -= 16.0

    assert _moves(town) == [(1, 25, 26)]


@pytest.mark.parametrize("days", [1, 11])
def test_too_short_a_history_knows_no_move(days: int) -> None:
    """Ten days must have shown where the vehicle lived before."""
    assert _moves(_altitude(*[100.0] * (days - 1), 84.0)) == []
    assert _moves(Town(2, 30, channels=QUIET)) == []
