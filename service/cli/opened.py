"""Settings, clock and store as every command opens them."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from typing import Final
from zoneinfo import ZoneInfo

from models.panel import Wish
from service.cli.talk import say
from service.clock import Clock
from service.schedule.engine import Terms
from service.settings import Settings, load_settings
from service.store import Store, open_store

_FILE: Final = "sqlite:///"


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """What a command works with.

    Parameters
    ----------
    settings : Settings
    clock : Clock
    store : Store
        Open and migrated.
    """

    settings: Settings
    clock: Clock
    store: Store

    def today(self) -> date:
        """Give the present date in the fleet's zone."""
        return self.clock.now().astimezone(ZoneInfo(self.settings.fleet_zone)).date()


def read_settings() -> Settings:
    """Read the settings and say what in the environment means nothing."""
    loaded = load_settings()
    for warning in loaded.warnings:
        say(f"forelamp: {warning}")
    return loaded.settings


@contextmanager
def opened(settings: Settings | None = None) -> Iterator[Opened]:
    """Open the store that the settings name, bring its tables up to date, and close it at the end."""
    known = settings or read_settings()
    if known.database_url.startswith(_FILE):
        known.home.mkdir(parents=True, exist_ok=True)
    store = open_store(known.database_url, fleet_zone=known.fleet_zone)
    try:
        store.migrate()
        yield Opened(settings=known, clock=Clock(), store=store)
    finally:
        store.close()


def terms_of(settings: Settings) -> Terms:
    """Give what the fleet's owner asks for."""
    return Terms(
        zone=settings.fleet_zone,
        wish=Wish(false_tickets=settings.false_tickets),
        workshop_hours=settings.workshop_hours or None,
    )
