"""What mechanics found moves the order of causes, visibly, and only from the day it was found."""

import pytest

from ingest.parameters import CAUSES
from models.causes.beliefs import STRENGTH, believed_shares, learn_beliefs
from models.causes.table import priors
from models.compare import compare
from models.panel import Wish
from tests.models.fleets import FIRST_DAY, Town

CAUSE = "throttle_deposits"


def _town(repairs: int, cause: str = CAUSE) -> Town:
    town = Town(12, 150)
    for place in range(repairs):
        town.did(place % 12, 20 + place, "repair", cause)
    return town


def _share(town: Town, day: int) -> float:
    return float(believed_shares(town.fleet(), FIRST_DAY + day)[CAUSES.index(CAUSE)])


@pytest.mark.parametrize("cause", ["", "unknown"])
def test_without_a_named_cause_nothing_moves(cause: str) -> None:
    """No repairs, or repairs that name no cause, leave the table's shares as they are to the last bit."""
    for town in (_town(0), _town(6, cause)):
        assert believed_shares(town.fleet(), FIRST_DAY + 140).tolist() == priors().tolist()


def test_findings_raise_their_cause() -> None:
    """Twelve repairs of one cause count like twelve beside those that the table is worth."""
    before = float(priors()[CAUSES.index(CAUSE)])

    assert _share(_town(12), 140) == pytest.approx((STRENGTH * before + 12) / (STRENGTH + 12))
    assert believed_shares(_town(12).fleet(), FIRST_DAY + 140).sum() == pytest.approx(1.0)


def test_only_repairs_known_by_the_day_count() -> None:
    """Looked at from the past, later repairs do not exist; the repair of that very day does."""
    town = _town(12)

    assert _share(town, 19) == pytest.approx(float(priors()[CAUSES.index(CAUSE)]))
    assert [sum(one.found for one in learn_beliefs(town.fleet(), FIRST_DAY + day)) for day in (20, 25)] == [
        1,
        6,
    ]


def test_the_ranking_follows_and_says_so() -> None:
    """The same drift is taken more for what this fleet's mechanics find, and says what moved it."""
    town = _town(0)
    town.drift("IAC", "warm_idle", 11, onset=90, per_week=2.0)
    plain = compare(town.fleet(), town.daily(), town.last_day, Wish()).findings[0]
    for day in range(30, 50):
        town.did(day % 10, day, "repair", CAUSE)
    learned = next(
        one
        for one in compare(town.fleet(), town.daily(), town.last_day, Wish()).findings
        if one.vehicle == "V-0011"
    )

    assert dict(learned.causes)[CAUSE] > dict(plain.causes)[CAUSE]
    assert not any(note.startswith("belief:") for note in plain.notes)
    assert [note for note in learned.notes if note.startswith("belief:")] == [f"belief:{CAUSE}:5:13"]
