"""What became of the nights that were due while a service was killed again and again."""

from datetime import timedelta

from service.schedule.engine import Terms
from service.schedule.runner import Runner
from service.store import open_store
from tests.faults.serving import FIRST_NIGHT
from tests.service.schedule.made_up import MadeUp


def check_nights(url: str, starts: int) -> str:
    """Run what is due a day later and sum the nights up: each was done, or failed after three tries."""
    store, models = open_store(url), MadeUp()
    later = FIRST_NIGHT + timedelta(days=starts + 1)
    Runner(store=store, now=lambda: later, terms=Terms(), engine=models.engine(), owner="after").tick()
    with store.begin(readonly=True) as work:
        runs = work.runs(job="nightly", limit=10_000)
    store.close()
    dues = sorted(run.due_at for run in runs)
    assert dues == [dues[0] + timedelta(days=day) for day in range(len(dues))]
    assert dues[-1] == later.replace(hour=2, minute=10)
    assert [
        run for run in runs if run.outcome != "done" and (run.outcome, run.attempt) != ("failed", 3)
    ] == []
    done = [run for run in runs if run.outcome == "done"]
    again = sum(run.attempt > 1 for run in done)
    return (
        f"{len(done)} nights done, {again} of them after a kill; {len(runs) - len(done)} given up after three"
    )
