"""Kill -9 of the service at random moments while loggers send and nights are evaluated.

A few kills run by default. Repeat with a hundred on each database, or with more and another seed:

    python -m pytest -m slow -s tests/faults/test_kill_service.py
    FORELAMP_TEST_KILLS=500 FORELAMP_TEST_SEED=7 python -m pytest -m slow -s tests/faults/test_kill_service.py
"""

import os
import random
import threading
from pathlib import Path

import pytest

from tests.faults.keeping import check_files, folded, found, prepare
from tests.faults.nights import check_nights
from tests.faults.senders import Senders
from tests.faults.serving import serving

_KILLS = int(os.environ.get("FORELAMP_TEST_KILLS", "100"))  # noqa: TID251 (tests have no settings)
_SEED = int(os.environ.get("FORELAMP_TEST_SEED", "20310304"))  # noqa: TID251 (as above)
_SENDERS = 4
_SOON_S = 5.0


@pytest.mark.parametrize("kills", [3, pytest.param(_KILLS, marks=pytest.mark.slow, id="many")])
def test_kills_lose_nothing(store_url: str, tmp_path: Path, kills: int) -> None:
    """Every acknowledged snapshot is there once, none half; starts are clean; no night stays claimed."""
    chance = random.Random(_SEED)
    secret = prepare(store_url, _SENDERS)
    ready = []
    with serving(store_url, tmp_path, schedule=True) as served:
        senders = Senders(port=served.port, secret=secret, vehicles=_SENDERS, seed=_SEED)
        served.start()
        senders.start()
        for _ in range(kills):
            senders.wait_for_more(chance.randint(1, 200))
            threading.Event().wait(chance.uniform(0, 0.05))
            served.kill()
            served.start()
            ready.append(served.wait_until_ready())
        senders.stop()
        served.kill()

    kept = found(store_url)
    nights = check_nights(store_url, kills)
    print(  # noqa: T201 (counts for whoever runs it)
        f"\n{store_url.partition(':')[0]}: {kills} kills (seed {_SEED}), bodies {dict(senders.shapes)}, "
        f"{senders.repeats:,} sends repeated, {len(senders.acknowledged):,} snapshots acknowledged, "
        f"{len(kept):,} found, "
        f"{len(senders.acknowledged - set(kept))} lost, {len(kept) - len(set(kept))} twice, "
        f"{senders.duplicates:,} told to be duplicates; ready after {max(ready):.2f} s at most; "
        f"{nights}; files checked by {check_files(store_url)}"
    )
    assert sorted(kept) == sorted(senders.acknowledged)
    assert folded(store_url) == len(kept)
    assert max(ready) < _SOON_S
