"""A service that can be killed and started again at once, and clients that keep sending.

The service is forked from a process that has everything imported, so that many kills fit into a minute.
"""

import http.client
import random
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import IO, Final

import orjson

TOP: Final = Path(__file__).parents[2]
PAUSE_S: Final = 0.02

_NURSERY: Final = """
import os, sys
from pathlib import Path
import uvicorn
from service.app import build
from service.clock import Clock
from service.settings import Settings
import models.summarise
url, home, port = sys.argv[1], Path(sys.argv[2]), int(sys.argv[3])
print("ready", flush=True)
for line in sys.stdin:
    child = os.fork()
    if not child:
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

    def kill(self) -> None:
        """Kill it with signal 9."""
        self._order("kill")
        assert self.answers.readline() == "gone\n"

    def _order(self, word: str) -> None:
        self.orders.write(word + "\n")
        self.orders.flush()


@contextmanager
def serving(url: str, home: Path) -> Iterator[Served]:
    """Give a service over a store, not started yet."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = int(probe.getsockname()[1])
    with subprocess.Popen(
        [sys.executable, "-c", _NURSERY, url, str(home), str(port)],
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


@dataclass
class Senders:
    """Loggers that send batches without end, each batch again until it is answered.

    Parameters
    ----------
    port : int
        Of the service.
    secret : str
        Their token.
    vehicles : int
        Each sends for one vehicle of its own, `V-1` and up.
    """

    port: int
    secret: str
    vehicles: int
    acknowledged: set[tuple[str, str]] = field(default_factory=set)
    answers: dict[int, int] = field(default_factory=dict)
    retry_after: set[str] = field(default_factory=set)
    repeats: int = 0
    _ended: threading.Event = field(default_factory=threading.Event)
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _threads: list[threading.Thread] = field(default_factory=list)

    def start(self) -> None:
        """Start all of them."""
        for number in range(1, self.vehicles + 1):
            self._threads.append(threading.Thread(target=self._send_on, args=(f"V-{number}",)))
            self._threads[-1].start()

    def stop(self) -> None:
        """Let each get its last batch answered, then end."""
        self._ended.set()
        for thread in self._threads:
            thread.join(120)
            assert not thread.is_alive(), "a batch was never answered"

    def wait_for_more(self, count: int) -> None:
        """Wait until so many more snapshots were acknowledged."""
        goal = len(self.acknowledged) + count
        for _ in range(int(120 / PAUSE_S)):
            if len(self.acknowledged) >= goal:
                return
            self._ended.wait(PAUSE_S)
        raise AssertionError(f"nothing was acknowledged any more; answers so far: {self.answers}")

    def wait_for_answer(self, status: int) -> None:
        """Wait until somebody was answered with a status once more."""
        before = self.answers.get(status, 0)
        for _ in range(int(120 / PAUSE_S)):
            if self.answers.get(status, 0) > before:
                return
            self._ended.wait(PAUSE_S)
        raise AssertionError(f"nobody was answered {status}; answers so far: {self.answers}")

    def _send_on(self, vehicle: str) -> None:
        chance = random.Random(vehicle)
        minute = 0
        while not self._ended.is_set():
            count = chance.randint(1, 8)
            moments = [_moment(minute + place) for place in range(count)]
            minute += count
            body = b"\n".join(orjson.dumps(_snapshot(vehicle, one)) for one in moments)
            while not self._send(body, count):
                self.repeats += 1
                threading.Event().wait(PAUSE_S)
            with self._lock:
                self.acknowledged.update((vehicle, one) for one in moments)

    def _send(self, body: bytes, count: int) -> bool:
        headers = {"Authorization": f"Bearer {self.secret}", "Content-Type": "application/x-ndjson"}
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        try:
            connection.request("POST", "/api/v1/snapshots", body, headers)
            answer = connection.getresponse()
            told = answer.read()
        except (OSError, http.client.HTTPException):
            return False
        finally:
            connection.close()
        with self._lock:
            self.answers[answer.status] = self.answers.get(answer.status, 0) + 1
            if answer.status == 503:
                self.retry_after.add(answer.headers.get("Retry-After", ""))
        if answer.status != 200:
            assert answer.status == 503, told
            return False
        receipt = orjson.loads(told)
        assert receipt["accepted"] + receipt["duplicates"] == count, receipt
        return True


def ask(port: int, path: str) -> int:
    """Give the status of a page; 0 where nobody listens."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    try:
        connection.request("GET", path)
        return connection.getresponse().status
    except OSError:
        return 0
    finally:
        connection.close()


def _moment(minute: int) -> str:
    return (datetime(2026, 1, 1, tzinfo=UTC) + timedelta(minutes=minute)).isoformat()


def _snapshot(vehicle: str, taken_at: str) -> dict[str, object]:
    values = {"LONGFT1": 2.3, "RPM": 740, "ECT": 90, "VPWR": 14.2, "FUELSYS1": "CL"}
    return {"vehicle": vehicle, "taken_at": taken_at, "state": "warm_idle", "device": "L-1", "values": values}
