"""Everybody at once on years of a large fleet: `python -m tests.bench.load`.

A PostgreSQL cluster of its own, or the store that `--database` names, is filled (`--filled`: is filled
already), then served with its schedule, which evaluates the night at once while senders and readers come.
Of 5,000 vehicles and three years it takes an hour to fill and some 15 GB of disk.
"""

import argparse
import os
import random
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import ExitStack
from datetime import timedelta
from pathlib import Path

from models.summarise import summarise
from service.auth import issue
from service.clock import Clock
from service.store import Store, open_store
from tests.bench.load.clients import BATCH, Crowd, bodies_of
from tests.bench.load.fleet import fill
from tests.bench.load.memory import children_of, told, watched
from tests.bench.rates import free_port, wait_for
from tests.faults.cluster import cluster
from tests.faults.keeping import sign_in

_ALONE_S = 30.0


def _say(text: str) -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


def _prepare(store: Store, asked: argparse.Namespace) -> None:
    store.migrate()
    if not asked.filled:
        yesterday = Clock().now().date() - timedelta(days=1)
        done = fill(
            store,
            vehicles=asked.vehicles,
            days=asked.days,
            per_day=asked.per_day,
            last=yesterday,
            say=_say,
        )
        _say(f"filled: {done.snapshots:,} snapshots in {done.load_s:.0f} s")
    begun = time.perf_counter()
    folded = store.fold_all(summarise)
    _say(f"folded {folded:,} vehicle-days in {time.perf_counter() - begun:.0f} s")


def _serve(url: str, home: Path, port: int, *, schedule: bool) -> "subprocess.Popen[bytes]":
    given = {
        "FORELAMP_DATABASE_URL": url,
        "FORELAMP_HOME": str(home),
        "FORELAMP_PORT": str(port),
        "FORELAMP_SENDS_PER_MINUTE": "0",
        "FORELAMP_SCHEDULE": str(schedule).lower(),
        "FORELAMP_LOG_LEVEL": "warning",
    }
    command = [sys.executable, "-c", "from service.cli import main; main()", "serve"]
    return subprocess.Popen(command, env=os.environ | given)  # noqa: TID251 (a child with settings of its own)


def _token(store: Store) -> str:
    secret, token = issue(f"load-{random.randrange(10**9)}", ["send"], now=Clock().now())
    with store.begin() as work:
        work.put_token(token)
        work.commit()
    return secret


def _alone(port: int, store: Store, names: list[str]) -> None:
    """Measure sends with nobody else there; bodies are made before, so that only the service is measured."""
    for kind, count, senders, each in (("singles", 1, 4, 2_000), (f"batches of {BATCH:,}", BATCH, 3, 120)):
        crowd = Crowd(port=port, cookie="", secret=_token(store))
        for _ in range(senders):
            made = bodies_of(names, count, Clock().now() - timedelta(hours=20), random.randrange(10**9))
            crowd.send(iter([next(made) for _ in range(each)]), kind)
        spent = crowd.run(_ALONE_S)
        _say(f"alone, {kind}: {crowd.kept / spent:,.0f} snapshots/s; {crowd.seen[kind].told(spent)}")


def _together(port: int, url: str, store: Store, names: list[str], seconds: float) -> tuple[Crowd, float]:
    """Let batches, singles and readers of every page come at once."""
    with store.begin(readonly=True) as work:
        tickets = [one.ticket for one in work.tickets()] or [""]
    crowd = Crowd(port=port, cookie=sign_in(url), secret=_token(store))
    hours_ago = Clock().now() - timedelta(hours=10)
    crowd.send(bodies_of(names, BATCH, hours_ago, random.randrange(10**9)), "batch", pause_s=1.0)
    for _ in range(2):
        crowd.send(bodies_of(names, 1, hours_ago, random.randrange(10**9)), "single", pause_s=0.02)

    def vehicle() -> str:
        return random.choice(names)

    def ticket() -> str:
        return random.choice(tickets)

    today = Clock().now().date()
    pages: list[tuple[str, Callable[[], str]]] = [
        ("/week", lambda: "/week"),
        ("/vehicles", lambda: "/vehicles"),
        ("vehicle", lambda: f"/vehicles/{vehicle()}"),
        ("ticket", lambda: f"/work/{ticket()}"),
        ("/work", lambda: "/work"),
        ("/coverage", lambda: "/coverage"),
    ]
    files: list[tuple[str, Callable[[], str]]] = [
        ("export tickets", lambda: "/exports/tickets.csv"),
        ("export risk", lambda: "/exports/risk.parquet"),
        ("export trends", lambda: "/exports/trends.csv"),
        ("export snapshots, a day", lambda: f"/exports/snapshots.csv?from_day={today}&to_day={today}"),
        ("export snapshots, a vehicle", lambda: f"/exports/snapshots.parquet?vehicle={vehicle()}"),
    ]
    crowd.read(pages, pause_s=0.5)
    crowd.read(pages[3:] + pages[:3], pause_s=0.5)
    crowd.read(files, pause_s=20.0)
    return crowd, crowd.run(seconds)


def _await_night(store: Store, seconds: float) -> str:
    """Wait until the schedule has evaluated; says how long that took."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        with store.begin(readonly=True) as work:
            runs = work.runs(job="nightly", limit=1)
        if runs and runs[0].finished_at is not None:
            spent = (runs[0].finished_at - runs[0].started_at).total_seconds()
            return f"evaluation {runs[0].outcome} in {spent:.0f} s, {dict(runs[0].counts)} {runs[0].error}"
        time.sleep(2)
    return f"evaluation not ended after {seconds:.0f} s"


def _export_memory(url: str, home: Path, dataset: str, form: str) -> str:
    """Export a dataset, readings of four months, with the command and read the most memory that it held."""
    out = home / f"{dataset}.{form}"
    command = [sys.executable, "-c", _EXPORT, "export", dataset, "--format", form, "--out", str(out)]
    command += ["--from", str(Clock().now().date() - timedelta(days=120))] if dataset == "snapshots" else []
    given = {"FORELAMP_DATABASE_URL": url, "FORELAMP_HOME": str(home)}
    begun = time.perf_counter()
    done = subprocess.run(command, env=os.environ | given, check=True, capture_output=True, text=True)  # noqa: TID251 (as above)
    size = out.stat().st_size / 1e6
    out.unlink()
    return f"{size:,.0f} MB in {time.perf_counter() - begun:.0f} s, most memory {done.stderr.split()[-1]} MB"


_EXPORT = """
import sys
from pathlib import Path
from service.cli.main import app
try:
    app()
finally:  # the kernel's other figure, of getrusage, begins with what the parent held
    told = dict(line.split(":") for line in Path("/proc/self/status").read_text().splitlines())
    print(int(told["VmHWM"].split()[0]) // 1000, file=sys.stderr)
"""


def measure(url: str, asked: argparse.Namespace, home: Path) -> None:
    """Serve a filled store and measure."""
    store = open_store(url)
    _prepare(store, asked)
    with store.begin(readonly=True) as work:
        names = [one.vehicle for one in work.vehicles()]
    port = free_port()
    web = _serve(url, home, port, schedule=False)
    try:
        wait_for(port)
        _alone(port, store, names)
    finally:
        web.terminate()
        web.wait(60)
    port = free_port()
    web = _serve(url, home, port, schedule=True)
    try:
        wait_for(port)
        time.sleep(3)
        pids = {"web": web.pid} | {f"schedule {pid}": pid for pid in children_of(web.pid)}
        with watched(pids) as samples:
            crowd, spent = _together(port, url, store, names, 60 * asked.minutes)
            _tell(crowd, spent)
            night = _await_night(store, 3_600)
        _say(night)
        for name, found in samples.items():
            _say(f"memory of {name} [MB], over time: {told(found)}")
    finally:
        web.terminate()
        web.wait(120)
    for dataset, form in (
        ("tickets", "csv"),
        ("trends", "parquet"),
        ("snapshots", "csv"),
        ("snapshots", "parquet"),
    ):
        _say(f"export {dataset}.{form}: {_export_memory(url, home, dataset, form)}")
    store.close()


def _tell(crowd: Crowd, spent: float) -> None:
    _say(f"together: {crowd.kept:,} snapshots kept in {spent:.0f} s, machine's load {os.getloadavg()[1]:.1f}")
    for kind, seen in sorted(crowd.seen.items()):
        _say(f"together, {kind}: {seen.told(spent)}")
        for line in sorted(set(seen.wrong))[:3]:
            _say(f"  {line}")


def main() -> None:
    """Read the command line and measure."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.load", description=__doc__)
    parser.add_argument("--vehicles", type=int, default=5_000)
    parser.add_argument("--days", type=int, default=1_095)
    parser.add_argument("--per-day", type=float, default=1.6, help="snapshots of a vehicle")
    parser.add_argument("--minutes", type=float, default=10, help="of everybody at once")
    parser.add_argument("--database", default="", help="address of a store to use")
    parser.add_argument("--filled", action="store_true", help="it holds the fleet already")
    asked = parser.parse_args()
    with ExitStack() as stack:
        home = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        url = asked.database or stack.enter_context(cluster()).url
        measure(url, asked, home)


if __name__ == "__main__":
    main()
