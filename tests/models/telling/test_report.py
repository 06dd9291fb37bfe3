"""From numbers to findings."""

import numpy as np
import pytest

from ingest.parameters import CAUSES
from models.compare import Replay, compare
from models.findings import GROUPS, Finding
from models.panel import Wish
from models.telling.report import METHOD
from tests.models.fleets import BARE, FEW, FIRST_DAY, SOUND, Town


def _findings(town: Town, wish: Wish | None = None) -> tuple[Finding, ...]:
    return compare(town.fleet(), town.daily(), town.last_day, wish or Wish()).findings


def _drifting(per_week: float = 1.0, *, vehicle: int = 3, bare: bool = True) -> Town:
    town = Town(16, 150, sheet=BARE) if bare else Town(16, 150)
    town.drift("LONGFT1", "warm_idle", vehicle, onset=90, per_week=per_week)
    return town


def test_a_finding_carries_what_produced_it() -> None:
    """Method, evidence and the levels it was held against stand on every finding."""
    finding = _findings(_drifting())[0]

    assert (finding.vehicle, finding.rule, finding.method) == ("V-0003", "drift", METHOD)
    assert finding.tier == "ticket"
    assert finding.score >= finding.ticket_level > finding.watch_level
    assert finding.group in GROUPS
    assert FIRST_DAY + 60 < finding.onset_day < FIRST_DAY + 130


def test_causes_are_ranked_and_sum_to_one() -> None:
    """All causes are named in falling order and their probabilities sum to one."""
    finding = _findings(_drifting())[0]

    shares = [share for _, share in finding.causes]
    assert {code for code, _ in finding.causes} == set(CAUSES)
    assert shares == sorted(shares, reverse=True)
    # Each of nineteen is rounded to four places.
    assert sum(shares) == pytest.approx(1.0, abs=19 * 5e-5)


def test_the_lead_speaks_loudest() -> None:
    """The lead is the first of the series, and quiet series are not among them."""
    finding = _findings(_drifting())[0]

    assert finding.lead is finding.series[0]
    named = {reading.series for reading in finding.series}
    assert not named & set(finding.quiet)
    assert "IAC@warm_idle" in finding.quiet


def test_probabilities_are_probabilities() -> None:
    """Every stated probability lies between 0 and 1, and none is certain without a crossing."""
    for town in (_drifting(), _drifting(0.4), _drifting(bare=False)):
        for finding in _findings(town):
            for value in (
                finding.probability_30d,
                finding.probability_crossing,
                finding.probability_fault,
            ):
                assert 0 <= value <= 1
            assert finding.probability_30d <= finding.probability_fault


def test_a_stronger_drift_is_likelier_to_be_complained_of() -> None:
    """The probability of trouble within the month grows with the drift."""
    slow, fast = (_findings(_drifting(per_week))[0] for per_week in (0.6, 2.0))

    assert fast.probability_30d > slow.probability_30d
    assert slow.probability_crossing == 0  # no band, nothing to cross


def test_a_longer_horizon_is_likelier() -> None:
    """Trouble within ninety days is likelier than within thirty."""
    month, season = (_findings(_drifting(0.6), Wish(horizon_days=days))[0] for days in (30, 90))

    assert season.probability_30d > month.probability_30d


def test_the_owners_number_moves_the_tiers() -> None:
    """An owner who stands fewer false tickets gets fewer tickets, never more."""
    town = Town(48, 150, sheet=BARE)
    for vehicle in range(20):
        town.drift("LONGFT1", "warm_idle", vehicle, onset=90, per_week=0.035 * vehicle)

    counts = [
        sum(finding.tier == "ticket" for finding in _findings(town, Wish(false_tickets=asked)))
        for asked in (10.0, 0.1, 0.001)
    ]

    assert counts == sorted(counts, reverse=True)
    assert counts[0] > counts[-1]


def test_below_the_ticket_level_is_watched() -> None:
    """Evidence between the levels is a watch; a huge watch factor shows more of them."""
    town = Town(48, 150, sheet=BARE)
    for vehicle in range(20):
        town.drift("LONGFT1", "warm_idle", vehicle, onset=90, per_week=0.035 * vehicle)

    findings = _findings(town, Wish(watch_factor=1000.0))

    watched = [finding for finding in findings if finding.tier == "watch"]
    assert watched
    assert all(item.watch_level <= item.score < item.ticket_level for item in watched)


def test_one_fault_in_three_series_is_one_finding() -> None:
    """A leak seen in two trims and the idle valve is one finding that lists all three."""
    town = Town(16, 150, sheet=BARE)
    growing = np.clip((np.arange(150) - 95) / 42, 0, 1)
    for code, state, size in (
        ("LONGFT1", "warm_idle", 11.0),
        ("LONGFT1", "cruise", 3.0),
        ("IAC", "warm_idle", -5.0),
    ):
        town.at(code, state)[3] += size * growing

    findings = _findings(town)

    assert [finding.vehicle for finding in findings] == ["V-0003"]
    assert len({reading.series for reading in findings[0].series}) >= 3
    assert findings[0].causes[0][0] == "unmetered_air"


@pytest.mark.parametrize("vehicle", [0, 7, 15])
def test_the_faulty_vehicle_is_named(vehicle: int) -> None:
    """Whichever vehicle drifts is the one that is named."""
    assert [finding.vehicle for finding in _findings(_drifting(vehicle=vehicle))] == [f"V-{vehicle:04d}"]


def test_sound_fleets_have_no_tickets() -> None:
    """Six sound fleets of twenty-four, each looked at on three days, have no ticket."""
    for seed in range(6):
        town = Town(24, 140, sheet=BARE, seed=seed)
        replay = Replay(town.fleet(), town.daily(), Wish())
        for day in (80, 110, 139):
            tickets = [item for item in replay.at(FIRST_DAY + day).findings if item.tier == "ticket"]
            assert tickets == []


def test_charging_commanded_low_at_cruise_is_normal() -> None:
    """A fleet whose engine computers hold 12.8 V at cruise, and more at idle, has no finding."""
    channels = tuple(row for row in SOUND if row[0] != "VPWR")
    town = Town(16, 150, channels=(*channels, ("VPWR", "warm_idle", 14.1, 0.1)), sheet=BARE)
    high = town.rng.random((16, 150)) < 0.25
    town.at("VPWR", "cruise")[:] = np.where(high, 14.4, 12.8) + town.rng.normal(0, 0.03, (16, 150))

    assert _findings(town) == ()


def test_a_crossing_without_a_change_is_explained_against_like_vehicles() -> None:
    """A vehicle always beyond its band is told from the first weeks on, with causes from its likes."""
    town = Town(16, 150)
    town.at("VPWR", "warm_idle")[:] += np.linspace(-0.3, 0.3, 16)[:, None]
    town.at("VPWR", "warm_idle")[3] -= 0.9

    finding = _findings(town)[0]

    assert (finding.rule, finding.tier, finding.group) == ("limit", "ticket", "charging")
    assert finding.lead.series == "VPWR@warm_idle"
    assert finding.lead.outside
    assert finding.probability_crossing >= 0.9
    assert finding.causes[0][0] in ("charging_low", "voltage_drop")


def test_a_crossing_of_too_few_like_vehicles_is_told_without_them() -> None:
    """With three vehicles nobody can be compared; the band still counts."""
    town = Town(3, 120, channels=FEW)
    town.at("VPWR", "warm_idle")[1] -= 1.4

    findings = _findings(town)

    assert [(item.vehicle, item.rule) for item in findings] == [("V-0001", "limit")]
    assert findings[0].group == "charging"


def test_a_short_run_of_a_switch_is_named() -> None:
    """Five idles on in a row raise a ticket; the onset at which causes are told apart lies among them."""
    town = Town(16, 150, sheet=BARE)
    town.switch("ac")[:] = town.rng.random((16, 150)) < 0.05
    town.switch("ac")[3, 138:] = np.nan
    town.switch("ac")[3, [139, 140, 147, 148, 149]] = 1.0

    found = {one.vehicle: one for one in _findings(town)}

    assert found["V-0003"].tier == "ticket"
    assert found["V-0003"].causes[0][0] == "load_switch_stuck"
