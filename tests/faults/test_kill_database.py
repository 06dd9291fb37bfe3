"""Kill -9 of PostgreSQL under load: answers turn into 503, nothing answered is lost.

Repeat with more kills: FORELAMP_TEST_KILLS=20 python -m pytest -m slow -s tests/faults/test_kill_database.py
"""

import os
import random
from pathlib import Path

import pytest

from tests.faults.cluster import cluster
from tests.faults.keeping import found, prepare
from tests.faults.serving import Senders, ask, serving

_KILLS = int(os.environ.get("FORELAMP_TEST_KILLS", "2"))  # noqa: TID251 (tests have no settings)
_SENDERS = 3


@pytest.mark.slow
def test_database_killed_under_load(tmp_path: Path) -> None:
    """Meanwhile senders get 503 with Retry-After and /readyz says 503; then the same service goes on."""
    chance = random.Random(20310304)
    with cluster() as server:
        secret = prepare(server.url, _SENDERS)
        with serving(server.url, tmp_path) as served:
            senders = Senders(port=served.port, secret=secret, vehicles=_SENDERS)
            served.start()
            senders.start()
            told = []
            for _ in range(_KILLS):
                senders.wait_for_more(chance.randint(20, 200))
                server.kill()
                senders.wait_for_answer(503)
                told.append((ask(served.port, "/livez"), ask(served.port, "/readyz")))
                server.start()
                senders.wait_for_more(1)
                told.append((ask(served.port, "/livez"), ask(served.port, "/readyz")))
            senders.stop()
            served.kill()
        kept = found(server.url)

    print(  # noqa: T201 (counts for whoever runs it)
        f"\nPostgreSQL: {_KILLS} kills, answers {senders.answers}, {senders.repeats:,} batches sent again, "
        f"{len(senders.acknowledged):,} snapshots acknowledged, {len(kept):,} found"
    )
    assert sorted(kept) == sorted(senders.acknowledged)
    assert told == [(200, 503), (200, 200)] * _KILLS
    assert all(text.isdigit() for text in senders.retry_after)
