"""The web application: routers, middleware, and one answer for every error."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Scope

from service.web import api, openapi, pages
from service.web.errors import FormStale, PasswordIssued, SignInNeeded, WebError
from service.web.headers import SecurityHeaders
from service.web.journal import Journal
from service.web.pages.conflict import REFUSALS, in_words
from service.web.pages.problem import answer_again, answer_page
from service.web.pages.sign_in import ask_in_between, ask_once_more
from service.web.problems import answer_json, describe, is_for_machines
from service.web.readers import recognise_late
from service.web.shell import SAFE, Shell
from service.web.table import TABLE


def make_application(shell: Shell) -> FastAPI:
    """Make the web application.

    Parameters
    ----------
    shell : Shell
        Settings, clock and store.

    Returns
    -------
    FastAPI
        Ready to serve. It opens nothing and starts nothing; when the server stops, it closes the store.
    """

    @asynccontextmanager
    async def closing(_app: FastAPI) -> AsyncIterator[None]:
        yield
        shell.store.close()

    app = FastAPI(
        lifespan=closing,
        title=openapi.TITLE,
        version=openapi.VERSION,
        openapi_url=None,
        docs_url=None,
        redoc_url=None,
        redirect_slashes=False,
    )
    app.state.shell = shell
    app.include_router(api.health.router, tags=["life"])
    for router in api.ROUTERS:
        app.include_router(router, tags=["v1"])
    for router in pages.ROUTERS:
        app.include_router(router, include_in_schema=False)
    app.openapi = lambda: openapi.describe_api(app)  # type: ignore[method-assign]
    for error in (*TABLE, HTTPException, RequestValidationError):
        app.add_exception_handler(error, answer)
    # The last one added is the outermost: the journal answers for what nothing caught, and that answer
    # must be dressed too.
    app.add_middleware(Journal, answer_failure=answer_failure)
    app.add_middleware(SecurityHeaders, tls=shell.settings.tls_in_front)
    return app


async def answer(request: Request, error: Exception) -> Response:
    """Answer an error: a problem for programs; for people a page, or the sign-in."""
    if is_for_machines(request.scope):
        return _answer(request.scope, error)
    if isinstance(error, SignInNeeded):
        try:
            return await ask_in_between(request)
        except WebError as refused:
            return _answer(request.scope, refused)
    if isinstance(error, PasswordIssued) and request.method in SAFE:
        return RedirectResponse("/account", status_code=303)
    if isinstance(error, FormStale) and error.action in ("/sign-in", "/sign-in/provider"):
        return ask_once_more(request, error.fields)
    if isinstance(error, HTTPException):
        await recognise_late(request)
    return _answer(request.scope, error)


def answer_failure(scope: Scope) -> ASGIApp:
    """Answer an error that nothing expected, telling nothing of it."""
    return _answer(scope, RuntimeError())


def _answer(scope: Scope, error: Exception) -> Response:
    if isinstance(error, FormStale):
        return answer_again(scope, error)
    trouble = describe(scope, error)
    if is_for_machines(scope):
        return answer_json(scope, trouble)
    if isinstance(error, REFUSALS):
        trouble = replace(trouble, detail=in_words(error))
    return answer_page(scope, trouble)
