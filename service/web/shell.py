"""What every route works with: settings, clock, store. Built once, in one place."""

from dataclasses import dataclass

from fastapi import Request

from service.clock import Clock
from service.settings import Settings
from service.store import Store


@dataclass(frozen=True, slots=True, kw_only=True)
class Shell:
    """The parts that routes share.

    Parameters
    ----------
    settings : Settings
        Read once at the start.
    clock : Clock
        The only source of the time.
    store : Store
        The only way to the database.
    """

    settings: Settings
    clock: Clock
    store: Store


def shell_of(request: Request) -> Shell:
    """Find the parts from a request."""
    shell: Shell = request.app.state.shell
    return shell
