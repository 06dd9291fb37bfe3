"""Errors become answers here, and only here: one table, one body shape (RFC 9457)."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

import orjson
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.responses import Response
from starlette.types import Scope

from service.auth import WrongToken
from service.tickets.errors import TransitionRefused
from service.web.catalogue import PROBLEMS, Problem
from service.web.errors import TooManyRequests
from service.web.table import TABLE

MEDIA_TYPE: Final = "application/problem+json"

RETRY_AFTER_S: Final = 5
"""Seconds after which to try again when the store is away; chosen by us: a database restarts in less."""

_MACHINE_PATHS: Final = ("/api/v", "/api/openapi.json", "/livez", "/readyz")
_SILENT: Final = frozenset({"internal-error", "store-unavailable"})
"""Problems whose errors tell nothing of themselves: messages of drivers may quote addresses or statements."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trouble:
    """One occurrence of a problem.

    Parameters
    ----------
    problem : Problem
        Kind.
    detail : str
        What happened this time, one or two sentences.
    errors : tuple of mapping
        Each thing that is wrong: `pointer`, `parameter` or `field`, and `detail`.
    further : mapping
        Members of this kind of problem only, such as `allowed`.
    headers : mapping of str to str
        Headers that the status must carry.
    """

    problem: Problem
    detail: str
    errors: tuple[Mapping[str, object], ...] = ()
    further: Mapping[str, object] = field(default_factory=dict)
    headers: Mapping[str, str] = field(default_factory=dict)


def problem_of(error: Exception) -> Problem:
    """Find the problem that an error is answered with.

    Parameters
    ----------
    error : Exception
        One of the classes in the table, or a subclass.

    Returns
    -------
    Problem
        Its row; `internal-error` for anything unknown.
    """
    for known in type(error).__mro__:
        if known in TABLE:
            return PROBLEMS[TABLE[known]]
    return PROBLEMS["internal-error"]


def is_for_machines(scope: Scope) -> bool:
    """Tell whether a program asks, by address or by its token: it gets JSON, people get a page."""
    with_token = any(name == b"authorization" for name, _ in scope["headers"])
    return with_token or str(scope["path"]).startswith(_MACHINE_PATHS)


def request_id_of(scope: Scope) -> str:
    """Read the request's id."""
    return str(scope.get("state", {}).get("request_id", ""))


def describe(scope: Scope, error: Exception) -> Trouble:
    """Say what an error means to the caller.

    Parameters
    ----------
    scope : Scope
        Of the request.
    error : Exception
        Anything that a route, the framework or a room raised.

    Returns
    -------
    Trouble
        An unknown error tells nothing of itself.
    """
    if isinstance(error, RequestValidationError):
        return _describe_validation(error)
    if isinstance(error, HTTPException):
        return _describe_http(scope, error)
    problem = problem_of(error)
    if problem.code in _SILENT:
        return Trouble(problem=problem, detail=problem.meaning, headers=_headers_of(problem, error))
    further = dict(getattr(error, "further", {}))
    own_code = str(getattr(error, "code", problem.code))
    if own_code != problem.code:
        further["reason"] = own_code
    allowed = getattr(error, "allowed", None)
    if allowed is not None:
        further["allowed"] = [str(item) for item in allowed]
    return Trouble(
        problem=problem,
        detail=str(error),
        errors=_errors_of(error),
        further=further,
        headers=_headers_of(problem, error),
    )


def _errors_of(error: Exception) -> tuple[Mapping[str, object], ...]:
    if isinstance(error, TransitionRefused):
        return ({"pointer": f"/{error.field}", "detail": error.detail},)
    if isinstance(error, WrongToken):
        return ({"pointer": f"/{error.field}", "detail": str(error)},)
    return tuple(getattr(error, "errors", ()))


def _describe_http(scope: Scope, error: HTTPException) -> Trouble:
    kept = {name: value for name, value in (error.headers or {}).items() if name.lower() == "allow"}
    if error.status_code == 404:
        return Trouble(problem=PROBLEMS["not-found"], detail=f"There is nothing at {scope['path']}.")
    if error.status_code == 405:
        allowed = ", ".join(kept.values()) or "another method"
        detail = f"{scope['method']} is not possible here; allowed: {allowed}."
        return Trouble(problem=PROBLEMS["method-not-allowed"], detail=detail, headers=kept)
    if 400 <= error.status_code < 500:
        return Trouble(problem=PROBLEMS["request-unreadable"], detail=f"{error.detail}.")
    return Trouble(problem=PROBLEMS["internal-error"], detail=PROBLEMS["internal-error"].meaning)


def _describe_validation(error: RequestValidationError) -> Trouble:
    errors = tuple(
        {"parameter": ".".join(str(part) for part in one["loc"][1:]), "detail": f"{one['msg']}."}
        for one in error.errors()
    )
    named = "; ".join(f"{one['parameter']}: {one['detail']}" for one in errors)
    return Trouble(problem=PROBLEMS["query-invalid"], detail=named, errors=errors)


def _headers_of(problem: Problem, error: Exception) -> dict[str, str]:
    if isinstance(error, TooManyRequests):
        return {"retry-after": str(error.retry_after_s)}
    if problem.status == 503:
        return {"retry-after": str(RETRY_AFTER_S)}
    return _HEADERS.get(problem.code, {})


_HEADERS: Final[Mapping[str, dict[str, str]]] = {
    "token-missing": {"www-authenticate": 'Bearer realm="forelamp"'},
    "token-invalid": {"www-authenticate": 'Bearer realm="forelamp", error="invalid_token"'},
    "insufficient-scope": {"www-authenticate": 'Bearer realm="forelamp", error="insufficient_scope"'},
    # The rest of the body is not read, so the connection cannot be used again.
    "body-too-large": {"connection": "close"},
}
"""Headers that a problem's status must carry (RFC 6750 section 3, RFC 9110 section 15.5.14)."""


def write_members(trouble: Trouble, request_id: str) -> dict[str, object]:
    """Write the members of a problem in the order in which they are sent."""
    problem = trouble.problem
    return {
        "type": problem.type,
        "title": problem.title,
        "status": problem.status,
        "detail": trouble.detail,
        "code": problem.code,
        "request_id": request_id,
        "errors": [dict(error) for error in trouble.errors],
        **trouble.further,
    }


def answer_json(scope: Scope, trouble: Trouble) -> Response:
    """Answer a problem to a program.

    Parameters
    ----------
    scope : Scope
        Of the request.
    trouble : Trouble
        What went wrong.

    Returns
    -------
    Response
        `application/problem+json` with the status of the problem.
    """
    body = orjson.dumps(write_members(trouble, request_id_of(scope)), default=str)
    return Response(body, trouble.problem.status, media_type=MEDIA_TYPE, headers=dict(trouble.headers))
