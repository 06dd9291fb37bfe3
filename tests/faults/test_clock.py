"""A clock that jumps back and forth: no run is lost, none is done twice.

Repeat: python -m pytest -s tests/faults/test_clock.py
"""

import random
from datetime import UTC, datetime, timedelta

import pytest

from service.schedule.engine import Terms
from service.schedule.runner import Runner
from service.store import open_store
from service.tickets.words import to_day
from tests.service.schedule.made_up import MadeUp

START = datetime(2031, 3, 3, 5, tzinfo=UTC)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_jumping_clock(main_url: str, seed: int) -> None:
    """Over 80 jumps of up to two days either way each night is evaluated once, each week frozen once."""
    chance, models, store = random.Random(seed), MadeUp(), open_store(main_url)
    now, latest, runs, back = START, START, [], 0
    runner = Runner(store=store, now=lambda: now, terms=Terms(), engine=models.engine(), owner="one")
    for _ in range(80):
        runs += [(one.due.entry.job, one.due.at) for one in runner.tick()]
        jump = timedelta(minutes=chance.randint(-2880, 2880))
        back += jump < timedelta(0)
        now = max(now + jump, START)
        latest = max(latest, now)
    now = latest
    runs += [(one.due.entry.job, one.due.at) for one in runner.tick()]
    store.close()

    nights = [at.date() for job, at in runs if job == "nightly"]
    print(f"\nclock: 80 jumps, {back} of them back, {len(nights)} nights")  # noqa: T201
    assert len(runs) == len(set(runs))
    assert nights == [START.date() + timedelta(days=n) for n in range(len(nights))]
    assert nights[-1] == (latest - timedelta(hours=2, minutes=10)).date()
    assert models.asked == [to_day(night) - 1 for night in nights]


def test_killed_under_a_wrong_clock(store_url: str) -> None:
    """A process killed while its clock was days ahead holds up nobody once the clock is right again."""
    models, store = MadeUp(), open_store(store_url)
    ahead = START + timedelta(days=9)
    assert store.elect("scheduler", "killed", ahead)
    store.resign("scheduler", "another")  # not theirs to give up
    with store.begin() as work:
        assert work.claim_run("nightly", START - timedelta(hours=2, minutes=50), ahead, "killed")
        work.commit()
    store.close()  # PostgreSQL frees the post with the connection; SQLite's row stays

    again = open_store(store_url)
    runner = Runner(store=again, now=lambda: START, terms=Terms(), engine=models.engine(), owner="one")
    nights = [one.due.at for one in runner.tick() if one.due.entry.job == "nightly"]
    again.close()

    assert nights == [START - timedelta(hours=2, minutes=50)]
