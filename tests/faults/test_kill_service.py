"""Kill -9 of the service at random moments while loggers send.

Repeat with more kills: FORELAMP_TEST_KILLS=60 python -m pytest -m slow -s tests/faults/test_kill_service.py
"""

import os
import random
import threading
from pathlib import Path

import pytest

from tests.faults.keeping import found, prepare
from tests.faults.serving import Senders, serving

_KILLS = int(os.environ.get("FORELAMP_TEST_KILLS", "5"))  # noqa: TID251 (tests have no settings)
_SENDERS = 3


@pytest.mark.slow
def test_kills_lose_nothing(store_url: str, tmp_path: Path) -> None:
    """Every acknowledged snapshot is there, exactly once, after any number of kills; none is there unsent."""
    chance = random.Random(20310304)
    secret = prepare(store_url, _SENDERS)
    with serving(store_url, tmp_path) as served:
        senders = Senders(port=served.port, secret=secret, vehicles=_SENDERS)
        served.start()
        senders.start()
        for _ in range(_KILLS):
            senders.wait_for_more(chance.randint(1, 60))
            threading.Event().wait(chance.uniform(0, 0.02))
            served.kill()
            served.start()
        senders.stop()
        served.kill()

    kept = found(store_url)
    print(  # noqa: T201 (counts for whoever runs it)
        f"\n{store_url.partition(':')[0]}: {_KILLS} kills, {senders.repeats:,} batches sent again, "
        f"{len(senders.acknowledged):,} snapshots acknowledged, {len(kept):,} found, "
        f"{len(senders.acknowledged - set(kept))} lost, {len(kept) - len(set(kept))} twice"
    )
    assert sorted(kept) == sorted(senders.acknowledged)
