"""The one place that builds the service."""

from fastapi import FastAPI

from service.clock import Clock
from service.settings import Settings
from service.store import open_store
from service.web.application import make_application
from service.web.binding import check_binding
from service.web.shell import Shell


def build(settings: Settings, clock: Clock) -> FastAPI:
    """Build the web application over the store that the settings name.

    Parameters
    ----------
    settings : Settings
        Read once by the caller.
    clock : Clock
        Source of the time.

    Returns
    -------
    FastAPI
        Ready for a server. Nothing is created or migrated; the store connects at the first request.

    Raises
    ------
    OpenPages
        The service would let other machines in without TLS, or into a practice fleet.
    WrongDatabaseUrl
        The settings name no database that can be used.
    """
    check_binding(settings)
    store = open_store(settings.database_url, fleet_zone=settings.fleet_zone)
    provider = None
    if settings.oidc_issuer and not settings.practice:
        from service.auth.provider import provider_of

        provider = provider_of(settings)
    return make_application(Shell(settings=settings, clock=clock, store=store, provider=provider))
