"""Clients that keep a service busy, each in a thread, and what they saw: seconds and status by kind."""

import http.client
import itertools
import random
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Final

import orjson

BATCH: Final = 1_000

_KEPT_OPEN_S: Final = 2.0


@dataclass
class Seen:
    """Requests of one kind."""

    seconds: list[float] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)

    def told(self, per_s: float) -> str:
        """Sum them up."""
        spent = sorted(self.seconds)
        at = [spent[min(len(spent) - 1, int(share * len(spent)))] * 1000 for share in (0.5, 0.95, 1)]
        return (
            f"{len(spent):6,} requests, {len(spent) / per_s:7.1f}/s, p50 {at[0]:6.0f} ms, "
            f"p95 {at[1]:6.0f} ms, longest {at[2]:6.0f} ms, {len(self.wrong)} not as wanted"
        )


@dataclass
class Crowd:
    """All clients of one phase; they begin together and end together."""

    port: int
    cookie: str
    secret: str
    seen: dict[str, Seen] = field(default_factory=dict)
    kept: int = 0
    _ended: threading.Event = field(default_factory=threading.Event)
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _threads: list[threading.Thread] = field(default_factory=list)

    def send(self, bodies: Iterator[bytes], kind: str, pause_s: float = 0.0) -> None:
        """Add a sender."""
        headers = {"Authorization": f"Bearer {self.secret}", "Content-Type": "application/x-ndjson"}

        def go() -> None:
            line = self._open()
            for body in bodies:
                if self._ended.wait(pause_s):
                    break
                answer = self._ask(line, kind, "POST", "/api/v1/snapshots", body, headers)
                with self._lock:
                    self.kept += int(orjson.loads(answer)["accepted"]) if answer else 0
            line.close()

        self._threads.append(threading.Thread(target=go))

    def read(self, pages: Sequence[tuple[str, Callable[[], str]]], pause_s: float) -> None:
        """Add a reader that goes round through pages: kind, and what gives the address."""

        def go() -> None:
            line = self._open()
            for kind, address in itertools.cycle(pages):
                if self._ended.wait(pause_s):
                    break
                self._ask(line, kind, "GET", address(), None, {"Cookie": self.cookie})
                if pause_s > _KEPT_OPEN_S:
                    line.close()  # the service would, before the next
            line.close()

        self._threads.append(threading.Thread(target=go))

    def run(self, seconds: float) -> float:
        """Let them all go on for a while, or until all is sent; gives how long it took [s]."""
        begun = time.perf_counter()
        for thread in self._threads:
            thread.start()
        while time.perf_counter() - begun < seconds and any(thread.is_alive() for thread in self._threads):
            self._ended.wait(0.05)
        self._ended.set()
        for thread in self._threads:
            thread.join()
        return time.perf_counter() - begun

    def _open(self) -> http.client.HTTPConnection:
        return http.client.HTTPConnection("127.0.0.1", self.port, timeout=120)

    def _ask(
        self,
        line: http.client.HTTPConnection,
        kind: str,
        method: str,
        address: str,
        body: bytes | None,
        headers: dict[str, str],
    ) -> bytes:
        """Ask once; gives the answer's body where its status is 200."""
        begun = time.perf_counter()
        try:
            line.request(method, address, body, headers)
            answer = line.getresponse()
            text = answer.read()
            wrong = "" if answer.status == 200 else f"{answer.status} {address} {text[:200]!r}"
        except (OSError, http.client.HTTPException) as error:
            line.close()
            text, wrong = b"", f"{type(error).__name__} {address}"
        with self._lock:
            seen = self.seen.setdefault(kind, Seen())
            seen.seconds.append(time.perf_counter() - begun)
            seen.wrong += [wrong] if wrong else []
        return b"" if wrong else text


def bodies_of(vehicles: Sequence[str], count: int, from_at: datetime, seed: int) -> Iterator[bytes]:
    """Give bodies of so many snapshots each without end, of random vehicles; no snapshot comes twice."""
    chance = random.Random(seed)
    for number in itertools.count():
        at = from_at + timedelta(seconds=number, microseconds=seed % 10**6)  # senders never meet
        yield b"\n".join(
            orjson.dumps(_snapshot(chance, vehicle, at))
            for vehicle in chance.sample(vehicles, min(count, len(vehicles)))
        )


def _snapshot(chance: random.Random, vehicle: str, at: datetime) -> dict[str, object]:
    values = {
        "LONGFT1": round(chance.gauss(2, 1.5), 2), "SHRTFT1": round(chance.gauss(0, 2), 2),
        "LONGFT2": round(chance.gauss(2, 1.5), 2), "RPM": chance.randint(680, 800), "ECT": 90,
        "IAT": chance.randint(5, 40), "AAT": chance.randint(0, 35), "BARO": 99, "MAP": chance.randint(30, 38),
        "MAF": round(chance.gauss(3.4, 0.2), 2), "VPWR": round(chance.gauss(14.1, 0.1), 2), "FUELSYS1": "CL",
        "TAC_PCT": round(chance.gauss(9, 1), 1), "RUNTM": chance.randint(300, 3000), "FLI": 60,
        "CLR_DIST": chance.randint(0, 60000), "WARM_UPS": 255, "VSS": 0, "SPARKADV": 9, "LOAD_PCT": 24,
    }  # fmt: skip
    return {
        "vehicle": vehicle,
        "taken_at": at.isoformat(),
        "state": "warm_idle",
        "device": f"B-{vehicle}",
        "odometer_km": chance.randint(10_000, 90_000),
        "values": values,
        "switches": {"ac": False, "power_steering": False, "in_gear": False},
    }
