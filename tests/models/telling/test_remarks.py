"""What findings say beside their numbers."""

import numpy as np
import pytest

from models.compare import Replay, compare
from models.findings import Finding
from models.learning.fit import gather
from models.panel import Wish
from models.telling.remarks import charging_slopes
from tests.models.fleets import FEW, SOUND, Town


def _finding(town: Town, vehicle: str = "V-0000") -> Finding:
    found = compare(town.fleet(), town.daily(), town.last_day, Wish()).findings
    return next(one for one in found if one.vehicle == vehicle)


def _codes(finding: Finding) -> set[str]:
    return {note.partition(":")[0] for note in finding.notes}


def test_a_clear_ramp_is_seen_by_ranks_too() -> None:
    """A steady rise over ten weeks passes a rank test on weekly medians."""
    town = Town(14, 150)
    town.drift("LONGFT1", "warm_idle", 0, onset=75, per_week=1.0)

    assert "rank_agrees" in _codes(_finding(town))


def test_a_fresh_step_is_undecided_by_ranks() -> None:
    """A step two weeks ago is plain to the model and not yet to a test for steady trends."""
    town = Town(14, 150)
    town.at("LONGFT1", "warm_idle")[0, 136:] += 12.0

    assert "rank_undecided" in _codes(_finding(town))


def test_resting_voltage_is_a_band_of_charge() -> None:
    """A battery that rests at 12.2 V is between a quarter and three quarters charged, never a point."""
    town = Town(14, 150, channels=SOUND)
    town.at("VPWR", "koeo_soak")[0, 100:] -= 0.4
    finding = _finding(town)
    note = next(note for note in finding.notes if note.startswith("resting_charge:"))
    low, high = (float(part) for part in note.split(":")[1:])
    level = next(one.level for one in finding.series if one.series == "VPWR@koeo_soak")

    assert level == pytest.approx(12.2, abs=0.15)
    assert 15.0 < low < 50.0 < high < 80.0


@pytest.mark.parametrize("slope", [-10.0, -25.0])
def test_the_charging_slope_is_found(slope: float) -> None:
    """The slope of charging voltage on air temperature [mV/degC] comes out, pooled over the sheet."""
    town = Town(14, 120, channels=(*FEW, ("IAT", "warm_idle", 15.0, 6.0)))
    town.at("VPWR", "warm_idle")[:] += slope / 1000.0 * (town.at("IAT", "warm_idle") - 15.0)

    found = charging_slopes(gather(town.fleet(), town.daily()), town.last_day)

    assert found[0] == pytest.approx(slope, abs=1.5)
    assert np.isnan(found[1])


def test_a_doubtful_reading_is_named_on_its_finding() -> None:
    """A finding on air flow that cannot be right says so, and stays."""
    channels = (*FEW, ("MAF", "warm_idle", 30.0, 0.3), ("IAT", "warm_idle", 20.0, 0.5))
    town = Town(14, 150, channels=channels)
    town.at("MAF", "warm_idle")[0, 90:] *= 0.6

    assert "implausible:MAF@warm_idle:flow_against_pressure" in _finding(town).notes


def test_a_replay_says_the_same() -> None:
    """Walked day by day or asked once, every note is the same."""
    town = Town(14, 150)
    town.drift("LONGFT1", "warm_idle", 0, onset=75, per_week=1.0)
    town.did(3, 60, "repair", "unmetered_air")
    replay = Replay(town.fleet(), town.daily(), Wish())

    for day in range(town.last_day - 16, town.last_day + 1, 4):
        assert replay.at(day) == compare(town.fleet(), town.daily(), day, Wish())
