"""The second opinion watches what no single direction explains."""

import numpy as np

from models.compare import Replay, compare
from models.findings import Finding
from models.panel import Wish
from models.telling.opinion import FEATURES, SCREEN, is_asked, second_opinions, shifts
from models.telling.report import report
from tests.models.fleets import BARE, FIRST_DAY, SOUND, Town

DEAF = Wish(false_tickets=1e-40, watch_factor=1.0)
"""So strict a wish that no drift is found and only the second opinion speaks."""

MONDAY = next(day for day in range(FIRST_DAY + 170, FIRST_DAY + 180) if is_asked(day))


def _odd_town() -> Town:
    """Give a fleet with one vehicle that shifts in three unrelated series at once; its sheet has no bands."""
    town = Town(40, 185, channels=SOUND)
    town.sheets = (BARE,)
    for code, state, size in (("IAC", "warm_idle", 1.6), ("VPWR", "cruise", -0.12), ("ECT", "cruise", -1.4)):
        town.at(code, state)[5, 140:] += size
    return town


def _opinions(town: Town, day: int = MONDAY) -> list[Finding]:
    said = compare(town.fleet(), town.daily(), day, DEAF).findings
    return [one for one in said if one.rule == "outlier"]


def test_mondays_are_mondays() -> None:
    """1970-01-05 was a Monday."""
    assert [day for day in range(15) if is_asked(day)] == [4, 11]


def test_an_odd_mixture_is_watched() -> None:
    """The odd vehicle alone is watched: no ticket, no cause, but the features that make it odd."""
    found = _opinions(_odd_town())

    assert [(one.vehicle, one.tier, one.held_back) for one in found] == [
        ("V-0005", "watch", "second_opinion_only")
    ]
    assert found[0].causes[0] == ("unknown", 1.0)
    assert found[0].method.startswith("second opinion 1 (isolation forest")
    assert {note.split(":")[1] for note in found[0].notes if note.startswith("odd:")} <= set(FEATURES)
    assert {one.series for one in found[0].series} <= set(FEATURES)


def test_sound_vehicles_are_left_alone() -> None:
    """Among forty sound vehicles nobody is odd enough to be asked about, on any Monday."""
    town = Town(40, 185, channels=SOUND)
    replay = Replay(town.fleet(), town.daily(), DEAF)

    assert [one for day in range(MONDAY - 63, MONDAY + 1, 7) for one in replay.at(day).findings] == []


def test_other_days_are_not_asked() -> None:
    """The opinion is given once a week."""
    assert _opinions(_odd_town(), MONDAY + 1) == []


def test_a_vehicle_with_a_finding_is_not_asked_about() -> None:
    """What a direction explains needs no second opinion."""
    town = _odd_town()
    town.at("LONGFT1", "warm_idle")[5, 120:] += 9.0
    found = compare(town.fleet(), town.daily(), MONDAY, Wish()).findings

    assert [one.rule for one in found if one.vehicle == "V-0005"] == ["drift"]


def test_few_vehicles_have_no_opinion() -> None:
    """A sheet of nine vehicles cannot say what is odd."""
    town = _odd_town()
    town.sheet[9:] = -1

    assert _opinions(town) == []


def test_a_replay_gives_the_same_opinion() -> None:
    """Walked day by day, the Monday's opinion is the one of that day alone."""
    town = _odd_town()
    replay = Replay(town.fleet(), town.daily(), DEAF)
    for day in range(MONDAY - 20, MONDAY):
        replay.at(day)

    assert replay.at(MONDAY) == compare(town.fleet(), town.daily(), MONDAY, DEAF)


def test_shifts_are_standard_errors() -> None:
    """Sound vehicles' features are of order one and the odd vehicle's are far out."""
    town = _odd_town()
    replay = Replay(town.fleet(), town.daily(), DEAF)
    scene, verdict = replay.scene(MONDAY), replay.verdict(MONDAY)
    features = shifts(scene, verdict, 0)
    sound = abs(features[10:, [0, 4, 6]])

    assert sound.mean() < 1.5
    assert np.nanmax(abs(features[5])) > SCREEN / 2
    assert second_opinions(scene, verdict, report(scene, verdict))
