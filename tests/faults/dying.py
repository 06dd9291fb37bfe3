"""Run as a program: does one thing in many children, each killed at another point.

Arguments: what to do (`night` or `migrate`), then one store for each child; the child of the n-th store is
killed at its n-th step, before the step is done.
"""

import os
import signal
import sys
from datetime import UTC, date, datetime
from typing import Any, Final

from sqlalchemy import event

from service.schedule.engine import Terms
from service.schedule.runner import Runner
from service.store import open_store
from service.store.work import Work
from service.tickets.words import to_day
from tests.service.schedule.made_up import MadeUp

NIGHT: Final = datetime(2031, 3, 12, 5, tzinfo=UTC)
_FAULT_SINCE: Final = to_day(date(2031, 3, 10))


class Countdown:
    """Kills this very process when it has been called so many times."""

    def __init__(self, steps: int) -> None:
        self.steps = steps

    def __call__(self, *_arguments: Any, **_more: Any) -> None:
        """Count one step."""
        self.steps -= 1
        if self.steps == 0:
            os.kill(os.getpid(), signal.SIGKILL)


def night(url: str, now: datetime, owner: str) -> None:
    """Run what is due, with made-up models that find one fault."""
    store = open_store(url)
    models = MadeUp(since={"V-2": _FAULT_SINCE})
    Runner(store=store, now=lambda: now, terms=Terms(), engine=models.engine(), owner=owner).tick()
    store.close()


def _die_at_a_commit(url: str, steps: int) -> None:
    countdown, plain = Countdown(steps), Work.commit

    def commit(work: Work) -> None:
        countdown()
        plain(work)

    Work.commit = commit  # type: ignore[assignment, method-assign]
    night(url, NIGHT, "killed")


def _die_at_a_statement(url: str, steps: int) -> None:
    store = open_store(url)
    event.listen(store._engine, "before_cursor_execute", Countdown(steps))
    store.migrate()


if __name__ == "__main__":
    do = {"night": _die_at_a_commit, "migrate": _die_at_a_statement}[sys.argv[1]]
    for place, address in enumerate(sys.argv[2:], 1):
        child = os.fork()
        if not child:
            do(address, place * (1 if do is _die_at_a_commit else 9))
            os._exit(0)
        _, status = os.waitpid(child, 0)
        print("killed" if os.WIFSIGNALED(status) else "done", flush=True)  # noqa: T201 (read by the test)
