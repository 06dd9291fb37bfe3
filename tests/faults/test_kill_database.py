"""PostgreSQL killed, away or demoted under load: answers turn into 503, nothing answered is lost.

Repeat with more kills, each a minute away:

    export FORELAMP_TEST_KILLS=20 FORELAMP_TEST_AWAY_S=60
    python -m pytest -m slow -s tests/faults/test_kill_database.py
"""

import os
import random
import threading
import time
from pathlib import Path

import pytest

from tests.faults.cluster import cluster
from tests.faults.keeping import check_files, folded, found, prepare, sign_in
from tests.faults.nights import check_nights
from tests.faults.senders import Senders
from tests.faults.serving import Served, ask, ask_whole, serving

_KILLS = int(os.environ.get("FORELAMP_TEST_KILLS", "2"))  # noqa: TID251 (tests have no settings)
_AWAY_S = float(os.environ.get("FORELAMP_TEST_AWAY_S", "2"))  # noqa: TID251 (as above)
_SEED = int(os.environ.get("FORELAMP_TEST_SEED", "20310304"))  # noqa: TID251 (as above)
_SENDERS = 3
_PAGES = ("/week", "/vehicles", "/readyz")


@pytest.mark.slow
def test_database_killed_under_load(tmp_path: Path) -> None:
    """Meanwhile API, pages and /readyz say 503 and when to come again; then all goes on by itself."""
    chance = random.Random(_SEED)
    back_s, told = [], set()
    with cluster() as server:
        secret = prepare(server.url, _SENDERS)
        cookie = sign_in(server.url)
        with serving(server.url, tmp_path, schedule=True) as served:
            senders = Senders(port=served.port, secret=secret, vehicles=_SENDERS, seed=_SEED)
            served.start()
            senders.start()
            for _ in range(_KILLS):
                senders.wait_for_more(chance.randint(20, 200))
                server.kill()
                senders.wait_for_answer(503)
                told |= _look_for(served, cookie)
                assert ask(served.port, "/livez") == 200
                server.start()
                begun = time.perf_counter()
                senders.wait_for_more(1)
                back_s.append(time.perf_counter() - begun)
                assert [ask(served.port, page, cookie) for page in _PAGES] == [200] * len(_PAGES)
            senders.stop()
            served.kill()
        kept, nights = found(server.url), check_nights(server.url, 0)
        summed, how = folded(server.url), check_files(server.url)

    print(  # noqa: T201 (counts for whoever runs it)
        f"\nPostgreSQL: {_KILLS} kills (seed {_SEED}), {_AWAY_S:g} s away each, "
        f"answers {dict(senders.answers)}, {senders.repeats:,} sends repeated, "
        f"{len(senders.acknowledged):,} snapshots acknowledged, "
        f"{len(kept):,} found, {senders.duplicates:,} told to be duplicates; first kept again "
        f"{max(back_s):.2f} s after the server was back at most; {nights}; files checked by {how}"
    )
    assert sorted(kept) == sorted(senders.acknowledged)
    assert summed == len(kept)
    assert {status for _, status, _ in told} == {503}
    assert all(wait.isdigit() for _, _, wait in told)
    assert all(text.isdigit() for text in senders.retry_after)


def _look_for(served: Served, cookie: str) -> set[tuple[str, int, str]]:
    """Ask for pages all the while that the database is away."""
    until, told = time.perf_counter() + _AWAY_S, set()
    while time.perf_counter() < until:
        told |= {(page, *ask_whole(served.port, page, cookie)) for page in _PAGES}
        threading.Event().wait(0.2)
    return told


@pytest.mark.slow
def test_standby(tmp_path: Path) -> None:
    """A server that became a standby answers 503 to senders, and /readyz tells; promoted, all goes on."""
    with cluster() as server:
        secret = prepare(server.url, _SENDERS)
        with serving(server.url, tmp_path) as served:
            senders = Senders(port=served.port, secret=secret, vehicles=_SENDERS, seed=_SEED)
            served.start()
            senders.start()
            senders.wait_for_more(50)
            server.demote()
            senders.wait_for_answer(503)
            threading.Event().wait(_AWAY_S)
            before, ready = len(found(server.url)), ask(served.port, "/readyz")
            threading.Event().wait(1)
            after = len(found(server.url))
            server.promote()
            senders.wait_for_more(50)
            senders.stop()
            served.kill()
        kept = found(server.url)

    assert (before, ready) == (after, 503)
    assert sorted(kept) == sorted(senders.acknowledged)
