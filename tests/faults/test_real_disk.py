"""A disk that is full, or mounted read-only, under a service with senders: refused or kept, nothing between.

Repeat: python -m pytest -m slow -s tests/faults/test_real_disk.py
"""

import os
import threading
from contextlib import ExitStack
from pathlib import Path

import pytest

from tests.faults.cluster import cluster
from tests.faults.disks import filled_up, read_only, small_disk
from tests.faults.keeping import check_files, folded, found, prepare, sign_in
from tests.faults.senders import Senders
from tests.faults.serving import ask, serving

_FULL_S = float(os.environ.get("FORELAMP_TEST_AWAY_S", "2"))  # noqa: TID251 (tests have no settings)
_SENDERS = 3


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_full_disk_under_load(tmp_path: Path, kind: str) -> None:
    """Senders get 503 while there is no room; with room again everything goes on, nothing is lost or half."""
    with ExitStack() as stack:
        disk = stack.enter_context(small_disk(24 if kind == "sqlite" else 200))
        server = stack.enter_context(cluster(disk)) if kind == "postgresql" else None
        url = f"sqlite:///{disk}/store/store.db" if server is None else server.url
        secret, cookie = prepare(url, _SENDERS), sign_in(url)
        served = stack.enter_context(serving(url, tmp_path))
        senders = Senders(port=served.port, secret=secret, vehicles=_SENDERS)
        served.start()
        senders.start()
        senders.wait_for_more(200)
        with filled_up(disk):
            senders.wait_for_answer(503)
            threading.Event().wait(_FULL_S)
            pages = {ask(served.port, page, cookie) for page in ("/week", "/vehicles", "/readyz")}
        if server is not None:
            server.start()  # where its log found no room PostgreSQL stops; its operator starts it again
        senders.wait_for_more(200)
        senders.stop()
        served.kill()
        kept, summed, how = found(url), folded(url), check_files(url)

    print(  # noqa: T201 (counts for whoever runs it)
        f"\n{kind}: full for {_FULL_S:g} s, answers {dict(senders.answers)}, "
        f"{len(senders.acknowledged):,} snapshots acknowledged, {len(kept):,} found; "
        f"pages meanwhile {sorted(pages)}; checked by {how}"
    )
    assert sorted(kept) == sorted(senders.acknowledged)
    assert summed == len(kept)
    assert pages <= {200, 503}
    assert all(text.isdigit() for text in senders.retry_after)


@pytest.mark.slow
def test_read_only_disk(tmp_path: Path) -> None:
    """A store on a disk mounted read-only: the service starts, answers 503, and goes on once it may."""
    with small_disk(24) as disk:
        url = f"sqlite:///{disk}/store/store.db"
        secret = prepare(url, _SENDERS)
        with serving(url, tmp_path) as served:
            senders = Senders(port=served.port, secret=secret, vehicles=_SENDERS)
            with read_only(disk):
                served.start()
                senders.start()
                senders.wait_for_answer(503)
                ready, alive = ask(served.port, "/readyz"), ask(served.port, "/livez")
                refused = dict(senders.answers)
            senders.wait_for_more(100)
            senders.stop()
            served.kill()
        kept = found(url)

    print(  # noqa: T201 (counts for whoever runs it)
        f"\nread-only: answers meanwhile {refused}, {len(senders.acknowledged)} acknowledged, "
        f"{len(kept)} found"
    )
    assert (ready, alive, set(refused)) == (503, 200, {503})
    assert sorted(kept) == sorted(senders.acknowledged)
