"""A small practice fleet under a made-up clock: build its store once, or serve it until told to end.

Run as a program by the browser tests: `python -m tests.browser.practice build HOME`, then
`python -m tests.browser.practice serve HOME PORT`, with `guarded` behind it to ask people to sign in. The
clock starts at a fixed Monday morning, so that the same tests meet the same fleet on any day.
"""

import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

import uvicorn

from service.app import build
from service.auth.passwords import hash_password
from service.cli.demo import build_fleet
from service.cli.opened import Opened
from service.clock import Clock
from service.settings import Settings
from service.store import open_store
from service.store.values import Person

NOW: Final = datetime(2031, 9, 8, 12, 30, tzinfo=UTC)
"""Monday of the week 2031-W37, 07:30 at the depots of the fleet's zone."""

ZONE: Final = "America/Chicago"
"""Zone of the fleet; one of the practice depots lies in another one."""

LOGIN: Final = "ann"
PASSWORD: Final = "seven lanterns on the quay"  # noqa: S105 (of a made-up person in a made-up fleet)

VEHICLES: Final = 24
DAYS: Final = 240


def settings_of(home: Path, port: int = 8377, *, guarded: bool = False) -> Settings:
    """Give the settings of the practice service: its own store, no schedule, twenty workshop hours."""
    return Settings(
        home=home,
        database_url=f"sqlite:///{home / 'forelamp.db'}",
        fleet_zone=ZONE,
        port=port,
        schedule=False,
        workshop_hours=20.0,
        practice=not guarded,
        log_level="warning",
    )


def running_clock(start: datetime = NOW) -> Callable[[], datetime]:
    """Give a reader of the time that starts at a fixed moment and runs on."""
    began = time.monotonic()
    return lambda: start + timedelta(seconds=time.monotonic() - began)


def build_store(home: Path) -> None:
    """Build the fleet with its history up to the day before the fixed moment."""
    settings = settings_of(home)
    store = open_store(settings.database_url, fleet_zone=settings.fleet_zone)
    store.migrate()
    found = Opened(settings=settings, clock=Clock(running_clock()), store=store)
    build_fleet(found, NOW.date() - timedelta(days=1), vehicles=VEHICLES, days=DAYS)
    with store.begin() as work:
        work.add_person(Person(login=LOGIN, role="lead", password=hash_password(PASSWORD), created_at=NOW))
        work.commit()
    store.close()


def serve(home: Path, port: int, *, guarded: bool = False) -> None:
    """Serve the fleet on the loopback address until the process is ended."""
    settings = settings_of(home, port, guarded=guarded)
    uvicorn.run(
        build(settings, Clock(running_clock())),
        host=settings.host,
        port=settings.port,
        log_config=None,
        server_header=False,
    )


if __name__ == "__main__":
    order, folder, *rest = sys.argv[1:]
    if order == "build":
        build_store(Path(folder))
    else:
        serve(Path(folder), int(rest[0]), guarded="guarded" in rest)
