"""One log line for each request, one request id in every answer, and no error without an answer.

Lines are JSON: an event name and facts. Addresses are logged as the router knows them,
`/vehicles/{vehicle}`, so that no fleet number, ticket number, token or query text can reach a log.
"""

import logging
import re
import secrets
import time
import traceback
from collections.abc import Callable
from typing import Final

import orjson
from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LOGGER: Final = logging.getLogger("forelamp.web")

_GIVEN_ID = re.compile(r"[A-Za-z0-9_.-]{8,64}\Z")
_STACK_DEPTH: Final = 12
"""Frames of a stack that are logged: the inner ones, where the mistake is."""


def make_line(event: str, facts: dict[str, object]) -> str:
    """Write one log line.

    Parameters
    ----------
    event : str
        Name of what happened.
    facts : dict
        Numbers and short codes; never contents of a request.

    Returns
    -------
    str
        One line of JSON; line breaks and control characters in texts are escaped.
    """
    return orjson.dumps({"event": event, **facts}, default=str).decode()


def describe_error(error: BaseException) -> dict[str, object]:
    """Describe an error for the log without its message, which may quote the request.

    Returns
    -------
    dict
        Class of the error and the innermost places it passed, as file:line function.
    """
    frames = traceback.extract_tb(error.__traceback__)[-_STACK_DEPTH:]
    places = [f"{frame.filename.rpartition('/')[2]}:{frame.lineno} {frame.name}" for frame in frames]
    return {"error": type(error).__name__, "stack": places}


def _route_of(scope: Scope) -> str:
    route = scope.get("route")
    return str(getattr(route, "path_format", "unknown"))


class Journal:
    """Gives each request its id, logs it, and answers for errors that nothing else caught.

    Parameters
    ----------
    app : ASGI application
        What is wrapped.
    answer_failure : callable
        Makes the answer to an unexpected error: the scope in, an ASGI application out.
    """

    def __init__(self, app: ASGIApp, answer_failure: Callable[[Scope], ASGIApp]) -> None:
        self.app = app
        self.answer_failure = answer_failure

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, then write its line."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        given = Headers(scope=scope).get("x-request-id", "")
        request_id = given if _GIVEN_ID.match(given) else secrets.token_hex(8)
        scope.setdefault("state", {})["request_id"] = request_id
        status = 0
        began = time.perf_counter()

        async def send_marked(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = int(message["status"])
                MutableHeaders(scope=message)["x-request-id"] = request_id
            await send(message)

        failure: Exception | None = None
        try:
            await self.app(scope, receive, send_marked)
        except Exception as error:  # noqa: BLE001 - the outermost place: every mistake gets an answer
            failure = error
            if status:
                status = 599
            else:
                await self.answer_failure(scope)(scope, receive, send_marked)
        self._write(scope, status, time.perf_counter() - began, failure)
        if status == 599 and failure is not None:
            # The answer had begun: only breaking the connection tells the caller that it is not whole.
            raise failure

    def _write(self, scope: Scope, status: int, seconds: float, failure: Exception | None) -> None:
        facts: dict[str, object] = {
            "request_id": scope["state"]["request_id"],
            "method": scope["method"],
            "route": _route_of(scope),
            "status": status,
            "ms": round(seconds * 1000, 1),
        }
        caller = scope["state"].get("caller")
        if caller:
            facts["caller"] = caller
        facts.update(scope["state"].get("counts", {}))
        if failure is not None:
            LOGGER.error(make_line("request_failed", facts | describe_error(failure)))
        else:
            LOGGER.info(make_line("request", facts))
