"""Loggers that keep sending, each body again until it is answered, and remember what was acknowledged."""

import gzip
import http.client
import random
import threading
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Final

import orjson
import zstandard

PAUSE_S: Final = 0.02


def _single(items: list[dict[str, object]]) -> bytes:
    return orjson.dumps(items[0])


def _lines(items: list[dict[str, object]]) -> bytes:
    return b"\n".join(orjson.dumps(item) for item in items)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """One way to send: how many snapshots at most, and how they are written and packed."""

    most: int
    write: Callable[[list[dict[str, object]]], bytes]
    headers: Mapping[str, str]


_LINES: Final = {"Content-Type": "application/x-ndjson"}
SHAPES: Final[Mapping[str, Shape]] = {
    "single": Shape(most=1, write=_single, headers={"Content-Type": "application/json"}),
    "batch": Shape(most=40, write=_lines, headers=_LINES),
    "gzip": Shape(
        most=40,
        write=lambda items: gzip.compress(_lines(items)),
        headers=_LINES | {"Content-Encoding": "gzip"},
    ),
    "zstd": Shape(
        most=40,
        write=lambda items: zstandard.compress(_lines(items)),
        headers=_LINES | {"Content-Encoding": "zstd"},
    ),
}


@dataclass
class Senders:
    """Loggers that send without end.

    Parameters
    ----------
    port : int
        Of the service.
    secret : str
        Their token.
    vehicles : int
        Each sends for one vehicle of its own, `V-1` and up.
    seed : int
        Chooses shapes and sizes.
    """

    port: int
    secret: str
    vehicles: int
    seed: int = 1
    acknowledged: set[tuple[str, str]] = field(default_factory=set)
    answers: Counter[int] = field(default_factory=Counter)
    shapes: Counter[str] = field(default_factory=Counter)
    retry_after: set[str] = field(default_factory=set)
    faults: list[str] = field(default_factory=list)
    duplicates: int = 0
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
        """Let each get its last body answered, then end; an answer that should not be is told here."""
        self._ended.set()
        for thread in self._threads:
            thread.join(120)
            assert not thread.is_alive(), "a body was never answered"
        assert self.faults == []

    def wait_for_more(self, count: int) -> None:
        """Wait until so many more snapshots were acknowledged."""
        goal = len(self.acknowledged) + count
        self._wait(lambda: len(self.acknowledged) >= goal, "nothing was acknowledged any more")

    def wait_for_answer(self, status: int) -> None:
        """Wait until somebody was answered with a status once more."""
        before = self.answers[status]
        self._wait(lambda: self.answers[status] > before, f"nobody was answered {status}")

    def _wait(self, reached: Callable[[], bool], otherwise: str) -> None:
        for _ in range(int(120 / PAUSE_S)):
            if reached():
                return
            self._ended.wait(PAUSE_S)
        raise AssertionError(f"{otherwise}; answers so far: {self.answers}, faults: {self.faults}")

    def _send_on(self, vehicle: str) -> None:
        chance = random.Random(f"{vehicle} {self.seed}")
        minute, before = 0, (b"", 0, "single")
        while not self._ended.is_set():
            name = chance.choice(sorted(SHAPES))
            count = chance.randint(1, SHAPES[name].most)
            moments = [_moment(minute + place) for place in range(count)]
            minute += count
            body = SHAPES[name].write([_snapshot(vehicle, one) for one in moments])
            self._send_until_answered(body, count, name)
            with self._lock:
                self.acknowledged.update((vehicle, one) for one in moments)
                self.shapes[name] += 1
            if before[0] and chance.random() < 0.1:  # as a logger that lost its memory of an answer
                self._send_until_answered(*before)
            before = (body, count, name)

    def _send_until_answered(self, body: bytes, count: int, name: str) -> None:
        while not self._send(body, count, name):
            self.repeats += 1
            threading.Event().wait(PAUSE_S)

    def _send(self, body: bytes, count: int, name: str) -> bool:
        headers = {"Authorization": f"Bearer {self.secret}", **SHAPES[name].headers}
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
            self.answers[answer.status] += 1
            if answer.status == 503:
                self.retry_after.add(answer.headers.get("Retry-After", ""))
        if answer.status != 200:
            if answer.status != 503:
                self.faults.append(f"{answer.status}: {told.decode(errors='replace')[:300]}")
            return False
        receipt = orjson.loads(told)
        with self._lock:
            self.duplicates += receipt["duplicates"]
        # A body was kept whole the first time or not at all: half of it repeated would be half of it kept.
        if (receipt["accepted"], receipt["duplicates"]) not in {(count, 0), (0, count)}:
            self.faults.append(f"half a body of {count} was there before: {receipt}")
        return True


def _moment(minute: int) -> str:
    return (datetime(2026, 1, 1, tzinfo=UTC) + timedelta(minutes=minute)).isoformat()


def _snapshot(vehicle: str, taken_at: str) -> dict[str, object]:
    values = {"LONGFT1": 2.3, "RPM": 740, "ECT": 90, "VPWR": 14.2, "FUELSYS1": "CL"}
    return {"vehicle": vehicle, "taken_at": taken_at, "state": "warm_idle", "device": "L-1", "values": values}
