"""What every route works with: settings, clock, store. Built once, in one place."""

import secrets
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
    secret : bytes
        Random, of this process only: form tokens of visitors who do not sign in are made with it.
    """

    settings: Settings
    clock: Clock
    store: Store
    memory: Memory = field(default_factory=Memory)
    secret: bytes = field(default_factory=lambda: secrets.token_bytes(32), repr=False)


def shell_of(request: Request) -> Shell:
    """Find the parts from a request."""
    shell: Shell = request.app.state.shell
    return shell
