"""What every route works with: settings, clock, store. Built once, in one place."""

from dataclasses import dataclass, field

from fastapi import Request

from service.clock import Clock
from service.settings import Settings
from service.store import Store
from service.web.memory import Memory


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
    memory : Memory
        The newest evaluation, kept between requests.
    """

    settings: Settings
    clock: Clock
    store: Store
    memory: Memory = field(default_factory=Memory)


def shell_of(request: Request) -> Shell:
    """Find the parts from a request."""
    shell: Shell = request.app.state.shell
    return shell
