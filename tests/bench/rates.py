"""Measure how fast snapshots are kept and evaluated: `python -m tests.bench.rates`.

Every rate stands beside a peer measured in the same run on the same machine: bare tuples of the same width
written to SQLite by executemany, a thousand a commit. The ratio travels between machines; the rate does not.
"""

import argparse
import http.client
import multiprocessing
import socket
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import uvicorn

from ingest.aliases import AliasTable, read_aliases
from ingest.formats import iter_snapshots
from ingest.parameters import CODES
from ingest.sheets import read_sheets
from ingest.vehicles import read_vehicles
from models.panel import Wish
from service.app import build
from service.auth.tokens import issue
from service.clock import Clock
from service.demo.fleet import History, make_fleet
from service.demo.write import fleet_files
from service.schedule.engine import Terms, models_engine
from service.schedule.evaluate import evaluate
from service.settings import Settings
from service.store import Store, open_store
from tests.bench.routes import NOW, load

BATCH = 1000
WAIT_S = 120.0


def _say(text: str) -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def _timed(action: Callable[[], object]) -> float:
    begun = time.perf_counter()
    action()
    return time.perf_counter() - begun


def peer_rate(history: History, folder: Path) -> float:
    """Write the bare values of every snapshot to SQLite; give rows a second."""
    rows = [
        (f"{row}", vehicle, taken, *values)
        for row, (vehicle, taken, values) in enumerate(
            zip(
                history.rows.vehicle.tolist(),
                history.taken_us.tolist(),
                history.sent.values.tolist(),
                strict=True,
            )
        )
    ]
    names = ", ".join(f"v{place}" for place in range(len(CODES)))
    marks = ", ".join("?" * (3 + len(CODES)))
    with closing(sqlite3.connect(folder / "peer.db")) as peer:
        peer.execute("PRAGMA journal_mode=WAL")
        peer.execute("PRAGMA synchronous=FULL")
        peer.execute(f"CREATE TABLE s (identity TEXT PRIMARY KEY, vehicle INT, taken INT, {names})")

        def write() -> None:
            for start in range(0, len(rows), BATCH):
                peer.executemany(f"INSERT INTO s VALUES ({marks})", rows[start : start + BATCH])  # noqa: S608
                peer.commit()

        return len(rows) / _timed(write)


def read_rate(files: dict[str, bytes]) -> float:
    """Read, convert and check every NDJSON snapshot without keeping it; give lines a second."""
    sheets = read_sheets(files["specs.json"], "json").rows
    aliases = AliasTable.from_rows(read_aliases(files["aliases.csv"], "csv").rows, sheets)
    sheet_of = {v.vehicle: v.spec_sheet for v in read_vehicles(files["vehicles.csv"], "csv").rows}
    bodies = [body for name, body in files.items() if name.endswith(".ndjson")]
    now_us = int(NOW.timestamp()) * 1_000_000

    def read() -> None:
        for arrival in iter_snapshots(
            bodies, kind="ndjson", now_us=now_us, aliases=aliases, sheet_of=sheet_of
        ):
            assert arrival.rejected == ()

    return sum(body.count(b"\n") for body in bodies) / _timed(read)


def file_rate(files: dict[str, bytes], folder: Path) -> tuple[float, Store]:
    """Load all files into a new store; give snapshots a second, everything included, and the store."""
    store = open_store(f"sqlite:///{folder / 'file.db'}")
    store.migrate()
    lines = sum(body.count(b"\n") for name, body in files.items() if name.startswith("snapshots"))
    return lines / _timed(lambda: load(store, files)), store


def _serve(home: str, port: int) -> None:
    settings = Settings(
        home=Path(home), database_url=f"sqlite:///{home}/http.db", port=port, schedule=False, practice=True
    )
    uvicorn.run(build(settings, Clock()), host="127.0.0.1", port=port, log_level="warning")


def free_port() -> int:
    """Find a port of this machine that nobody listens on."""
    with closing(socket.socket()) as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def wait_for(port: int) -> None:
    """Wait until somebody listens on a port.

    Raises
    ------
    TimeoutError
        Nobody does within `WAIT_S`.
    """
    until = time.monotonic() + WAIT_S
    while time.monotonic() < until:
        try:
            socket.create_connection(("127.0.0.1", port), timeout=0.2).close()
        except OSError:
            time.sleep(0.05)
        else:
            return
    raise TimeoutError(f"the service did not listen on port {port} within {WAIT_S:.0f} s")


def http_rate(files: dict[str, bytes], folder: Path, most: int) -> tuple[float, float]:
    """Post batches of 1,000 over loopback, one after the other; give snapshots a second and the p95 [ms]."""
    store = open_store(f"sqlite:///{folder / 'http.db'}")
    store.migrate()
    load(store, {name: body for name, body in files.items() if not name.startswith("snapshots")})
    secret, token = issue("bench", ("send",), now=NOW - timedelta(days=400))
    with store.begin() as work:
        work.put_token(token)
        work.commit()
    store.close()
    lines = next(body for name, body in files.items() if name.endswith(".ndjson")).splitlines()[:most]
    port = free_port()
    server = multiprocessing.get_context("spawn").Process(target=_serve, args=(str(folder), port))
    server.start()
    try:
        wait_for(port)
        spent = _post_all(lines, port, secret)
    finally:
        server.terminate()
        server.join(WAIT_S)
    return len(lines) / sum(spent), sorted(spent)[int(0.95 * (len(spent) - 1))] * 1000


def _post_all(lines: list[bytes], port: int, secret: str) -> list[float]:
    spent = []
    headers = {"Authorization": f"Bearer {secret}", "Content-Type": "application/x-ndjson"}
    with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=60)) as line:
        for start in range(0, len(lines), BATCH):
            body = b"\n".join(lines[start : start + BATCH]) + b"\n"
            begun = time.perf_counter()
            line.request("POST", "/api/v1/snapshots", body, headers)
            answer = line.getresponse()
            text = answer.read()
            spent.append(time.perf_counter() - begun)
            if answer.status != 200:
                raise RuntimeError(f"the service answered {answer.status}: {text[:300]!r}")
    return spent


def main() -> None:
    """Read the command line and measure."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.rates", description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--vehicles", type=int, default=200)
    parser.add_argument("--days", type=int, default=420)
    parser.add_argument("--posts", type=int, default=20_000, help="most snapshots sent over HTTP")
    asked = parser.parse_args()
    history = make_fleet(asked.seed, vehicles=asked.vehicles, days=asked.days)
    files = fleet_files(history)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        peer = peer_rate(history, folder)
        _say(f"peer, bare tuples to SQLite      {peer:10,.0f} a second")
        reading = read_rate(files)
        _say(f"NDJSON read and checked          {reading:10,.0f} a second, {reading / peer:.2f} of the peer")
        loading, store = file_rate(files, folder)
        _say(f"files loaded into SQLite         {loading:10,.0f} a second, {loading / peer:.2f} of the peer")
        posting, p95_ms = http_rate(files, folder, asked.posts)
        _say(
            f"HTTP batches of {BATCH:,}            {posting:10,.0f} a second, {posting / peer:.2f} of the "
            f"peer; p95 {p95_ms:.0f} ms a batch"
        )
        engine = models_engine()
        folding = _timed(lambda: store.fold_all(engine.summarise))
        last = history.date_of(history.days - 1)
        terms = Terms(wish=Wish())
        night = _timed(lambda: evaluate(store, as_of=last, now=NOW, terms=terms, engine=engine))
        _say(f"fold all {folding:.1f} s ({len(history.rows) / folding / peer:.2f} of the peer's rate)")
        _say(f"one evaluation of {asked.vehicles} vehicles, {asked.days} days: {night:.1f} s")
        store.close()


if __name__ == "__main__":
    main()
