"""A service that can be killed and started again at once, with its schedule beside it.

The service is forked from a process that has everything imported, so that many kills fit into a minute.
"""

import http.client
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Final

TOP: Final = Path(__file__).parents[2]
FIRST_NIGHT: Final = datetime(2026, 11, 26, 5, tzinfo=UTC)
"""Where the schedule's clock begins: later than every snapshot sent; each start is a day further on."""

_NURSERY: Final = """
import os, sys, threading
from datetime import datetime, timedelta
from pathlib import Path
import uvicorn
from service.app import build
from service.clock import Clock
from service.schedule.engine import Terms
from service.schedule.runner import Runner
from service.settings import Settings
from service.store import open_store
from tests.service.schedule.made_up import MadeUp

url, home, port, first = sys.argv[1], Path(sys.argv[2]), int(sys.argv[3]), sys.argv[4]

def run_schedule(started):
    models = MadeUp(hook=lambda day: threading.Event().wait(0.15))  # long enough to be killed in
    store, now = open_store(url), datetime.fromisoformat(first) + timedelta(days=started)
    runner = Runner(store=store, now=lambda: now, terms=Terms(), engine=models.engine(), owner=str(started))
    while True:
        try:
            runner.tick()
        except Exception:  # as the timetable's library does: the next beat tries again
            pass
        threading.Event().wait(0.05)

print("ready", flush=True)
for started, line in enumerate(sys.stdin):
    child = os.fork()
    if not child:
        if first:
            threading.Thread(target=run_schedule, args=(started,), daemon=True).start()
        settings = Settings(home=home, database_url=url, sends_per_minute=0)
        uvicorn.run(build(settings, Clock()), host="127.0.0.1", port=port, log_level="critical")
        os._exit(0)
    print(child, flush=True)
    if sys.stdin.readline().strip() == "kill":
        os.kill(child, 9)
    os.waitpid(child, 0)
    print("gone", flush=True)
"""


@dataclass
class Served:
    """One service on one port; killed without warning."""

    port: int
    orders: IO[str]
    answers: IO[str]

    def start(self) -> None:
        """Start it; clients wait until it answers by themselves."""
        self._order("start")
        assert self.answers.readline().strip().isdigit()

    def wait_until_ready(self) -> float:
        """Wait until /readyz says so; gives how long that took since now [s]."""
        begun = time.perf_counter()
        while (waited := time.perf_counter() - begun) < 30:
            if ask(self.port, "/readyz") == 200:
                return waited
            threading.Event().wait(0.02)
        raise AssertionError("the service was not ready within 30 s")

    def kill(self) -> None:
        """Kill it with signal 9."""
        self._order("kill")
        assert self.answers.readline() == "gone\n"

    def _order(self, word: str) -> None:
        self.orders.write(word + "\n")
        self.orders.flush()


@contextmanager
def serving(url: str, home: Path, *, schedule: bool = False) -> Iterator[Served]:
    """Give a service, not started yet; with a schedule, each start is a day later by its clock."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    with subprocess.Popen(
        [
            sys.executable,
            "-c",
            _NURSERY,
            url,
            str(home),
            str(port),
            FIRST_NIGHT.isoformat() if schedule else "",
        ],
        cwd=TOP,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as nursery:
        assert nursery.stdin is not None
        assert nursery.stdout is not None
        assert nursery.stdout.readline() == "ready\n"
        try:
            yield Served(port=port, orders=nursery.stdin, answers=nursery.stdout)
        finally:
            nursery.stdin.close()


def ask(port: int, path: str, cookie: str = "") -> int:
    """Give the status of an address; 0 where nobody listens."""
    return ask_whole(port, path, cookie)[0]


def ask_whole(port: int, path: str, cookie: str = "") -> tuple[int, str]:
    """Give status and Retry-After of an address; 0 where nobody listens."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    try:
        connection.request("GET", path, headers={"Cookie": cookie})
        answer = connection.getresponse()
        answer.read()
        return answer.status, answer.headers.get("Retry-After", "")
    except OSError:
        return 0, ""
    finally:
        connection.close()
