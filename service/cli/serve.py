"""`forelamp serve`: pages and interface in one process, the schedule in another beside it.

The schedule loads the numeric libraries and works for minutes at night; kept apart, it never holds up an
answer. It ends when the service ends, and the store lets any other machine's schedule take over.
"""

import multiprocessing
import os
import signal
import threading
from datetime import time
from types import FrameType
from typing import Annotated, Final

import typer
import uvicorn

from service.app import build
from service.cli.connections import bounds
from service.cli.opened import opened, read_settings, terms_of
from service.cli.people import FIRST_LOGIN, make_first_admin
from service.cli.talk import give
from service.clock import Clock
from service.settings import Settings
from service.web.binding import check_binding
from service.web.logs import start_logging

PARENT_LOOK_S: Final = 2.0
"""How often the schedule looks whether the service still lives."""


def serve(
    host: Annotated[
        str, typer.Option("--host", help="Address to listen on; default from the settings.")
    ] = "",
    port: Annotated[int, typer.Option("--port", help="Port to listen on; default from the settings.")] = 0,
) -> None:
    """Run the service with its schedule until it is stopped."""
    settings = read_settings()
    run(replaced(settings, host=host, port=port))


def replaced(settings: Settings, *, host: str = "", port: int = 0) -> Settings:
    """Give the settings with another address where one is said."""
    from dataclasses import replace

    return replace(settings, host=host or settings.host, port=port or settings.port)


def run(settings: Settings) -> None:
    """Serve until a signal ends it; the schedule's process ends with it."""
    check_binding(settings)
    with opened(settings) as found:  # the tables are brought up to date before anything answers
        password = "" if settings.practice else make_first_admin(found)
    if password:
        give(f"First start: sign in as '{FIRST_LOGIN}' with the password {password}")
        give("It is shown this once, works for seven days, and is changed at the first sign-in.")
    start_logging(settings.log_level)
    application = build(settings, Clock())
    child: multiprocessing.process.BaseProcess | None = None
    if settings.schedule:
        child = multiprocessing.get_context("spawn").Process(
            target=run_schedule, args=(settings, os.getpid()), name="forelamp-schedule", daemon=True
        )
        child.start()
    give(f"Forelamp listens on http://{settings.host}:{settings.port}/")
    try:
        uvicorn.run(
            application,
            host=settings.host,
            port=settings.port,
            log_config=None,
            server_header=False,
            **bounds(),
        )
    finally:
        if child is not None:
            child.terminate()
            child.join(timeout=30)


def run_schedule(settings: Settings, parent: int) -> None:
    """Run the schedule until told to end, or until the service that started it is gone."""
    from service.schedule.engine import models_engine
    from service.schedule.mail import mailer
    from service.schedule.outbox import outbox
    from service.schedule.retain import keep_of
    from service.schedule.runner import Runner

    ended = threading.Event()

    def end(_signal: int, _frame: FrameType | None) -> None:
        ended.set()

    signal.signal(signal.SIGTERM, end)
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the service decides when the terminal interrupts
    with opened(settings) as found:
        runner = Runner(
            store=found.store,
            now=found.clock.now,
            terms=terms_of(settings),
            engine=models_engine(),
            owner=f"{os.uname().nodename}:{os.getpid()}",
            nightly_at=time.fromisoformat(settings.evaluate_at),
            publish=outbox(settings.home),
            keep=keep_of(settings),
            mail=mailer(settings.smtp_url, settings.digest_to, settings.digest_from),
        )
        runner.start()
        while not ended.wait(PARENT_LOOK_S) and os.getppid() == parent:
            pass
        runner.stop()
