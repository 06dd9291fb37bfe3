"""Which vehicles have something to say."""

import numpy as np
import pytest

from ingest.parameters import STATES
from models.compare import Replay, compare
from models.evidence.kinds import kinds_of
from models.evidence.scan import TEMPLATES, likelihood_ratios
from models.panel import Wish
from models.verdict.judge import Verdict
from tests.models.fleets import BARE, FIRST_DAY, Town


def _drifting(per_week: float = 1.0) -> Town:
    town = Town(16, 150, sheet=BARE)
    town.drift("LONGFT1", "warm_idle", 3, onset=90, per_week=per_week)
    return town


def _verdict(town: Town) -> Verdict:
    return Replay(town.fleet(), town.daily(), Wish()).verdict(town.last_day)


def test_the_drifting_vehicle_is_loudest() -> None:
    """The vehicle that drifts has the highest score, and sound ones stay below the watch level."""
    town = _drifting()
    replay = Replay(town.fleet(), town.daily(), Wish())
    verdict = replay.verdict(town.last_day)

    levels = replay.scene(town.last_day).levels
    assert int(verdict.score.argmax()) == 3
    assert (np.delete(verdict.score, 3) < levels.watch).all()
    assert verdict.score[3] > levels.ticket


def test_the_onset_is_near_the_true_one() -> None:
    """The best template's age is near the true age of the ramp."""
    verdict = _verdict(_drifting())

    lag, shape = TEMPLATES[int(verdict.template[3])]
    assert shape == "ramp"
    assert 35 <= lag <= 97


def test_the_screen_loses_nothing() -> None:
    """Vehicles and onsets that are not looked at closely could not have reached the watch level."""
    town = _drifting(0.3)
    replay = Replay(town.fleet(), town.daily(), Wish())
    verdict, scene = replay.verdict(town.last_day), replay.scene(town.last_day)
    table = scene.tables[0]
    rows = np.argwhere(np.ones(verdict.evidence.z.shape[:2], bool))

    ratio = likelihood_ratios(verdict.evidence, table, scene.fit.noise.correlation, rows)
    rare = scene.levels.rarity(ratio, kinds_of(table, rows[:, 1]))
    best = rare.max(axis=1).reshape(16, -1).max(axis=1)

    loud = best >= scene.levels.watch
    np.testing.assert_allclose(verdict.score[loud], best[loud])
    assert (verdict.score[~loud] < scene.levels.watch).all()


def test_a_week_of_bad_fuel_raises_no_ticket() -> None:
    """One vehicle two per cent leaner at every load for six days, then as before, is no ticket."""
    town = Town(16, 150, sheet=BARE)
    for state in ("warm_idle", "cruise"):
        town.at("LONGFT1", state)[3, 130:136] += 2.0
    replay = Replay(town.fleet(), town.daily(), Wish())

    for day in (133, 135, 140, 149):
        findings = replay.at(FIRST_DAY + day).findings
        assert all(finding.tier == "watch" for finding in findings)
    assert findings == ()


def _switched(share: float, stuck_since: int | None = None) -> Town:
    """Give a fleet that uses a load switch on a share of days, stuck on in one vehicle from a day on."""
    town = Town(16, 150, sheet=BARE)
    town.switch("power_steering")[:] = town.rng.random((16, 150)) < share
    if stuck_since is not None:
        town.switch("power_steering")[3, stuck_since:] = 1.0
    return town


def test_a_switch_that_never_reads_off_is_heard() -> None:
    """A load input that reads on for a month, where it was seldom on, is a stuck input."""
    town = _switched(0.2, 115)

    said = compare(town.fleet(), town.daily(), town.last_day, Wish())

    assert [(item.vehicle, item.group) for item in said.findings] == [("V-0003", "idle")]
    finding = said.findings[0]
    assert "load_switch_stuck" in [code for code, _ in finding.causes[:3]]
    assert abs(finding.onset_day - FIRST_DAY - 115) < 20
    assert finding.lead.parameter != ""


@pytest.mark.parametrize("share", [0.2, 0.7, 1.0])
def test_ordinary_use_of_a_switch_is_no_finding(share: float) -> None:
    """A switch used now and then, often, or always by everyone is no fault."""
    town = _switched(share)

    assert compare(town.fleet(), town.daily(), town.last_day, Wish()).findings == ()


@pytest.mark.parametrize(("every", "found"), [(20, True), (2, False)])
def test_a_switch_that_opens_now_and_then(every: int, *, found: bool) -> None:
    """An input that sticks nearly always is told; one that is off every other day may be a driver's doing."""
    town = _switched(0.2, 115)
    town.switch("power_steering")[3, 116::every] = 0.0

    said = compare(town.fleet(), town.daily(), town.last_day, Wish())

    assert [item.vehicle for item in said.findings] == ["V-0003"] * found


def test_a_repaired_switch_is_quiet() -> None:
    """A run from before the repair says nothing of after it."""
    town = _switched(0.2, 115)
    town.did(3, 140, "repair", "load_switch_stuck")

    said = compare(town.fleet(), town.daily(), FIRST_DAY + 145, Wish())

    assert said.findings == ()
    assert STATES.index("warm_idle") == 4
