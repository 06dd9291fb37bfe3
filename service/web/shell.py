"""What every route works with: settings, clock, store. Built once, in one place."""

import secrets
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

from fastapi import Request

from service.clock import Clock
from service.settings import Settings
from service.store import Actor, Store
from service.web.memory import Memory
from service.web.quota import Quota
from service.web.steps import step_of

if TYPE_CHECKING:  # loads the libraries of signatures, which a service without a provider never needs
    from service.auth.provider import Provider

SAFE: Final = frozenset({"GET", "HEAD", "OPTIONS"})
"""Methods that change nothing."""

UNLOGGED: Final = frozenset({"/api/v1/snapshots"})
"""Routes whose commits leave no line in the event log: each snapshot names device and arrival."""


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
    quota : Quota
        How much each token has sent in the last minute to this process.
    provider : Provider or None
        Through which people may sign in; None where passwords are the only way.
    """

    settings: Settings
    clock: Clock
    store: Store
    memory: Memory = field(default_factory=Memory)
    secret: bytes = field(default_factory=lambda: secrets.token_bytes(32), repr=False)
    quota: Quota = field(default_factory=Quota)
    provider: "Provider | None" = None


def whole_shell_of(request: Request) -> Shell:
    """Find the parts from a request, with the store as it is: for finding out who asks."""
    shell: Shell = request.app.state.shell
    return shell


def shell_of(request: Request) -> Shell:
    """Find the parts from a request, with the store as whoever asks may see it.

    Parameters
    ----------
    request : Request
        Past its guard, which has noted who asks.

    Returns
    -------
    Shell
        For a person held to one depot the others' vehicles are not there. What is written carries the name
        of the person or token into the event log.
    """
    shell = whole_shell_of(request)
    depot = str(getattr(request.state, "depot", ""))
    actor = _actor_of(request, shell)
    if not depot and actor is None:
        return shell
    return replace(shell, store=shell.store.on_behalf(depot=depot, actor=actor))


def _actor_of(request: Request, shell: Shell) -> Actor | None:
    who = str(getattr(request.state, "caller", ""))
    route = str(getattr(request.scope.get("route"), "path_format", ""))
    if not who or request.method in SAFE or route in UNLOGGED:
        return None
    return Actor(
        who=who,
        what=step_of(request.method, route),
        subject=", ".join(str(one) for one in request.path_params.values()),
        source=address_of(request),
        at=shell.clock.now(),
    )


def address_of(request: Request) -> str:
    """Give the address that a request came from; empty where the server does not know it."""
    return "" if request.client is None else request.client.host
