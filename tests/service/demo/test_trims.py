"""Planted faults move the learned trim as the physics says."""

import numpy as np
import pytest
from numpy.typing import NDArray

from service.demo.faults import Effects
from service.demo.nuisances import Circumstances
from service.demo.roster import Roster, make_roster
from service.demo.sheets import TYPES
from service.demo.strengths import draw_strengths
from service.demo.town import Climate
from service.demo.trims import leak_flow, make_trims, needed_trim

DAYS = 100
VEHICLES = 10

Grid = NDArray[np.float64]


def _roster() -> Roster:
    rng = np.random.default_rng(5)
    return make_roster(rng, VEHICLES, DAYS, draw_strengths(rng))


def _needed(roster: Roster, effects: Effects) -> Grid:
    """Give the correction beyond that of the same fleet without any effect, as a ratio in per cent."""
    still = np.zeros((VEHICLES, DAYS))
    calm = Circumstances(
        fuel_pct=still,
        alcohol_pct=still,
        rest_v=still,
        resets=(),
        new_batteries=(),
        blend_changes=(),
        bad_tanks=0,
    )
    sea = Climate(mean_c=np.full((4, DAYS), 12.0), pressure_kpa=np.full((4, DAYS), 101.325), cold_snaps=0)
    with_fault = needed_trim(roster, effects, calm, sea, 1.0)[:, -1]
    without = needed_trim(roster, Effects.none(VEHICLES, DAYS), calm, sea, 1.0)[:, -1]
    return np.asarray(((1 + with_fault / 100) / (1 + without / 100) - 1) * 100)


def _kinds(roster: Roster, air_metering: str) -> NDArray[np.bool_]:
    return np.asarray(np.array([kind.air_metering == air_metering for kind in TYPES])[roster.kind])


def test_unmetered_air_is_the_leak_over_the_metered_air() -> None:
    """0.40 g/s beside 3.0 g/s metered asks for +13.33 % at idle; more air at cruise makes it small."""
    roster, effects = _roster(), Effects.none(VEHICLES, DAYS)
    effects.leak[:] = 0.40 / 3.40

    needed = _needed(roster, effects)[_kinds(roster, "maf")]

    assert needed[:, 0, 0] == pytest.approx(13.333, abs=0.15)
    assert np.all(needed[:, 1, 0] < needed[:, 0, 0] / 3.5)
    assert np.all(needed[:, 1, 0] > 2)


def test_a_leak_hardly_moves_trim_where_pressure_is_sensed() -> None:
    """A speed-density engine measures the extra air: its trims stay near normal."""
    roster, effects = _roster(), Effects.none(VEHICLES, DAYS)
    effects.leak[:] = 0.24

    needed = _needed(roster, effects)[_kinds(roster, "speed_density")]

    assert np.all(np.abs(needed[:, :, 0]) < 2)


def test_an_air_meter_that_reads_low_asks_the_same_everywhere() -> None:
    """Gain 0.90 asks for +11.11 % at idle and at cruise."""
    roster, effects = _roster(), Effects.none(VEHICLES, DAYS)
    effects.meter[:] = 0.90

    needed = _needed(roster, effects)[_kinds(roster, "maf")]

    assert needed[:, :, 0] == pytest.approx(11.111, abs=0.15)


def test_weak_fuel_pressure_asks_by_its_square_root() -> None:
    """Pressure ratio 0.95 at idle and 0.81 at cruise asks for +2.60 % and +11.11 %."""
    roster, effects = _roster(), Effects.none(VEHICLES, DAYS)
    effects.pressure[:] = np.array([0.95, 0.81])

    needed = _needed(roster, effects)

    assert needed[:, 0, 0] == pytest.approx(2.598, abs=0.02)
    assert needed[:, 1, 0] == pytest.approx(11.111, abs=0.02)


def test_a_fault_on_one_bank_leaves_the_other_alone() -> None:
    """A lean bank 2 asks for fuel on bank 2 only."""
    roster, effects = _roster(), Effects.none(VEHICLES, DAYS)
    effects.lean[:, :, :, 1] = 0.12

    needed = _needed(roster, effects)

    assert needed[:, :, 0] == pytest.approx(0, abs=1e-9)
    assert needed[:, :, 1] == pytest.approx(12, abs=0.3)


def test_leak_flow_chokes_at_idle_and_fades_near_outside_pressure() -> None:
    """Below a pressure ratio of 0.528 the flow is full; at 0.9 it is 0.6171 of it."""
    outside = np.array([100.0])

    idle, nearly_open = leak_flow(np.ones(1), outside, 35.0), leak_flow(np.ones(1), outside, 90.0)

    assert nearly_open / idle == pytest.approx(0.6171, abs=1e-4)


def test_a_reset_empties_the_memory_and_it_fills_again() -> None:
    """On the day of a reset nothing is learned; a week later nearly everything is."""
    roster = _roster()
    rng = np.random.default_rng(3)
    needed = np.full((VEHICLES, DAYS, 2, 2), 10.0)
    reset = np.zeros((VEHICLES, DAYS), dtype=bool)
    reset[:, 50] = True

    trims = make_trims(rng, roster, needed, reset, draw_strengths(rng))

    assert np.all(trims.learned[:, 50] == 0)
    assert np.all(trims.trust[:, 50] == 0)
    assert trims.learned[:, 57].mean() == pytest.approx(10, abs=1.5)
