"""Whatever is too large, too much or too slow is answered as documented, and the service goes on.

Repeat: python -m pytest -m '' -s tests/faults/test_limits.py
"""

import gzip
import http.client
import os
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack, closing, contextmanager
from pathlib import Path
from typing import Any

import orjson
import pytest
import uvicorn
import zstandard

from ingest.records import Vehicle
from service.cli import connections
from tests.bench.load.memory import resident_mb
from tests.bench.rates import free_port, wait_for
from tests.service.web.conftest import Service, open_service
from tests.service.web.fleet import NOW, ndjson, snapshot

_LINES = "application/x-ndjson"
_ONE = snapshot()


@pytest.fixture(scope="module")
def service(sqlite_template: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    """Give a service that takes one million bytes at once."""
    folder = tmp_path_factory.mktemp("limits")
    (folder / "store.db").write_bytes(sqlite_template.read_bytes())
    opened = open_service(f"sqlite:///{folder}/store.db", folder, max_body_mb=1, sends_per_minute=0)
    with opened.store.begin() as work:
        work.put_vehicles([Vehicle(vehicle="V-0001")], NOW)
        work.commit()
    yield opened
    opened.store.close()


@pytest.fixture(scope="module")
def token(service: Service) -> dict[str, str]:
    """Give a token that may send."""
    return service.token("send")


def _item(**values: Any) -> bytes:
    return ndjson([snapshot(values=values)])


@pytest.mark.parametrize(
    ("body", "headers", "status", "code"),
    [
        (b"x" * 1_000_001, {}, 413, "body-too-large"),
        (gzip.compress(b" " * 1_000_001), {"content-encoding": "gzip"}, 413, "body-too-large"),
        (_item(RPM=1).replace(b'"RPM":1', b'"RPM":' + b"[" * 400_000), {}, 200, "bad-json"),
        (_item(RPM=0).replace(b'"RPM":0', b'"RPM":' + b"7" * 400_000), {}, 200, "not-finite"),
        (_item(**{f"n{place}": 1 for place in range(501)}), {}, 200, "too-many-values"),
        (ndjson([snapshot(id="long-name", values={"n" * 100_000: 1})]), {}, 200, ""),
        (ndjson([snapshot(vehicle="V" * 300)]), {}, 200, "bad-name"),
    ],
    ids=["size", "unpacked", "nesting", "number", "values", "long name", "vehicle"],
)
def test_too_much(
    service: Service, token: dict[str, str], body: bytes, headers: dict[str, str], status: int, code: str
) -> None:
    """Each limit has its own answer; nothing over one is an error of the service."""
    answer = service.send(body, token, _LINES, **headers)
    told = answer.json()

    assert answer.status_code == status, answer.text[:300]
    refused = [one["code"] for one in (*told.get("rejected", ()), *told.get("quarantined", ()))]
    assert (told.get("code") or (refused[0] if refused else "")) == code


def test_too_many_items(service: Service, token: dict[str, str]) -> None:
    """More items than one body may have are refused as a whole, before any is read."""
    answer = service.send(gzip.compress(b"\n" * 999_999), token, _LINES, **{"content-encoding": "gzip"})

    assert (answer.status_code, answer.json()["reason"]) == (400, "too-large")


@pytest.mark.parametrize("encoding", ["gzip", "zstd"])
def test_too_dense(sqlite_template: Path, tmp_path: Path, encoding: str) -> None:
    """A body far under every limit of size that unpacks to more than 250 times its own is refused."""
    (tmp_path / "store.db").write_bytes(sqlite_template.read_bytes())
    roomy = open_service(f"sqlite:///{tmp_path}/store.db", tmp_path, max_body_mb=64, sends_per_minute=0)
    blank = b" " * 32_000_000
    body = gzip.compress(blank) if encoding == "gzip" else zstandard.compress(blank)

    answer = roomy.send(body, roomy.token("send"), _LINES, **{"content-encoding": encoding})

    assert (answer.status_code, answer.json()["code"]) == (413, "body-too-large")
    assert "250 times its size" in answer.json()["detail"]
    roomy.store.close()


@contextmanager
def _served(service: Service) -> Iterator[int]:
    """Serve it for real, as the command does, with bounds on connections."""
    port = free_port()
    config = uvicorn.Config(
        service.app, host="127.0.0.1", port=port, log_config=None, lifespan="off", **connections.bounds()
    )
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run)
    thread.start()
    wait_for(port)
    try:
        yield port
    finally:
        server.should_exit = True
        thread.join(30)


def _talk(port: int, text: bytes, wait_s: float = 20) -> bytes:
    """Say something and listen until the service hangs up."""
    with closing(socket.create_connection(("127.0.0.1", port), timeout=wait_s)) as line:
        line.sendall(text)
        heard = b""
        try:
            while piece := line.recv(65536):
                heard += piece
        except ConnectionError:
            pass
        return heard


def test_connections(service: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    """Large heads, slow heads, slow bodies and too many connections are ended; the service goes on."""
    monkeypatch.setattr(connections, "HEAD_S", 0.5)
    monkeypatch.setattr(connections, "REQUEST_S", 1.0)
    monkeypatch.setattr(connections, "LOOK_S", 0.1)
    monkeypatch.setattr(connections, "MOST_CONNECTIONS", 20)
    secret = service.token("send")["Authorization"].encode()
    with _served(service) as port:
        large = _talk(port, b"GET /livez HTTP/1.1\r\nHost: x\r\nX: " + b"x" * 100_000)
        begun = time.perf_counter()
        slow_head = _talk(port, b"GET /livez HTTP/1.1\r\nHost: x\r\nX-Slow: ")
        slow_body = _talk(
            port,
            b"POST /api/v1/snapshots HTTP/1.1\r\nHost: x\r\nAuthorization: " + secret
            + b"\r\nContent-Type: application/x-ndjson\r\nContent-Length: 100\r\n\r\n{",
        )  # fmt: skip
        spent = time.perf_counter() - begun
        with ExitStack() as stack:
            for _ in range(25):
                stack.enter_context(closing(socket.create_connection(("127.0.0.1", port), timeout=5)))
            crowded = _talk(port, b"GET /livez HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n")
        for _ in range(50):
            after = _talk(port, b"GET /livez HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n")
            if b" 200 " in after:
                break
            time.sleep(0.1)

    assert large.startswith(b"HTTP/1.1 400")
    assert (slow_head, slow_body) == (b"", b"")
    assert spent < 10
    assert crowded.startswith(b"HTTP/1.1 503")
    assert after.startswith(b"HTTP/1.1 200")


def test_idle_between_requests(service: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    """A client that asks again on the same connection later than a head may take is answered."""
    monkeypatch.setattr(connections, "HEAD_S", 0.5)
    monkeypatch.setattr(connections, "LOOK_S", 0.1)
    heard = []
    with _served(service) as port, closing(http.client.HTTPConnection("127.0.0.1", port, timeout=20)) as line:
        line.connect()
        kept = line.sock
        for _ in range(3):
            line.request("GET", "/livez")
            heard.append(line.getresponse().read())
            time.sleep(0.8)
            assert line.sock is kept

    assert heard == [b'{"status":"alive"}'] * 3


@pytest.mark.slow
def test_memory_stays(service: Service, token: dict[str, str]) -> None:
    """A hundred bodies, good and hostile, leave no more memory behind than a few."""
    many = ndjson([_ONE | {"id": f"m-{place}"} for place in range(1_000)])
    bodies = [many, b"[" + b"{}," * 3_000 + b"{}]", b'{"a":' * 150_000, orjson.dumps([0] * 3_000)]
    for body in bodies:
        service.send(body, token, _LINES if body is many else "application/json")
    before = resident_mb(os.getpid())
    for _ in range(24):
        for body in bodies:
            service.send(body, token, _LINES if body is many else "application/json")
    grown = resident_mb(os.getpid()) - before

    print(f"\nmemory after 4 bodies {before:.0f} MB, after 100 {before + grown:.0f} MB")  # noqa: T201
    assert grown < 150
