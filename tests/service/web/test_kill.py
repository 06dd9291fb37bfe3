"""What was answered survives a kill of the service."""

import http.client
import os
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import orjson
import pytest

from ingest.records import Vehicle
from service.auth import issue
from service.store import open_store
from tests.service.web.fleet import NOW, snapshot

_CHILD = """
import sys
from pathlib import Path
import uvicorn
from service.app import build
from service.clock import Clock
from service.settings import Settings
settings = Settings(home=Path("."), database_url=sys.argv[1])
uvicorn.run(build(settings, Clock()), host="127.0.0.1", port=int(sys.argv[2]), log_level="critical")
"""


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _post(port: int, secret: str) -> bytes:
    for _ in range(200):
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
        try:
            headers = {"Authorization": f"Bearer {secret}", "Content-Type": "application/json"}
            body = orjson.dumps(snapshot(taken_at="2026-03-04T06:12:09-05:00"))
            connection.request("POST", "/api/v1/snapshots", body, headers)
            return connection.getresponse().read()
        except ConnectionRefusedError:
            time.sleep(0.05)
        finally:
            connection.close()
    raise AssertionError("the service did not start")


@pytest.mark.slow
def test_kill_after_answer(store_url: str) -> None:
    """A snapshot that was answered is there after the service was killed without warning."""
    secret, token = issue("device", ["send"], now=NOW)
    store = open_store(store_url)
    with store.begin() as work:
        work.put_vehicles([Vehicle(vehicle="V-0001")], NOW)
        work.put_token(token)
        work.commit()
    port = _free_port()
    root = Path(__file__).parents[3]
    child = subprocess.Popen([sys.executable, "-c", _CHILD, store_url, str(port)], cwd=root)

    try:
        answer = orjson.loads(_post(port, secret))
    finally:
        os.kill(child.pid, signal.SIGKILL)
        child.wait()

    assert answer["accepted"] == 1
    with store.begin(readonly=True) as work:
        assert work.snapshot_count() == 1
    store.close()
