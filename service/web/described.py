"""What a route says of itself: scope, answer, body and problems, for the guard and the API description alike.

Scope and description come out of one call, so that a route cannot be documented otherwise than it is guarded.
"""

from collections.abc import Iterable, Mapping
from http import HTTPStatus
from typing import Any, Final

from fastapi import Depends

from service.web.catalogue import PROBLEMS
from service.web.guards import require
from service.web.problems import MEDIA_TYPE

Schema = dict[str, Any]

ALWAYS: Final = (
    "token-missing",
    "token-invalid",
    "insufficient-scope",
    "internal-error",
    "store-unavailable",
)
"""Problems that every guarded route can answer with."""

ERASED_ROWS: Final = "forelamp-erased-rows"
REMOVED_ROWS: Final = "forelamp-removed-rows"
LOST: Final[Mapping[str, Schema]] = {
    ERASED_ROWS: {
        "schema": {"type": "integer"},
        "description": "Rows that the as-of date has lost to erasures since.",
    },
    REMOVED_ROWS: {
        "schema": {"type": "integer"},
        "description": "Rows that it has lost to retention; months that retention cut are counted whole.",
    },
}
"""Headers of answers that may be as of a date."""

READ: Final = ("request-unreadable", "query-invalid")
PAGED: Final = (*READ, "bad-cursor")
BODY: Final = (
    "request-unreadable",
    "query-invalid",
    "compression-broken",
    "body-unreadable",
    "body-too-large",
    "body-type-unsupported",
    "body-encoding-unsupported",
)


def ref(name: str) -> Schema:
    """Refer to a schema of the description."""
    return {"$ref": f"#/components/schemas/{name}"}


def page_of(name: str) -> Schema:
    """Describe one page of a list."""
    return {
        "type": "object",
        "required": ["items", "next_cursor"],
        "properties": {
            "items": {"type": "array", "items": ref(name)},
            "next_cursor": {
                "type": ["string", "null"],
                "description": "Send it as cursor for the next page; null after the last one.",
            },
        },
        "additionalProperties": False,
    }


def answers(codes: Iterable[str]) -> dict[int | str, dict[str, Any]]:
    """Describe the problems that a route can answer with, by status.

    Parameters
    ----------
    codes : iterable of str
        Codes of the catalogue.

    Returns
    -------
    dict
        As the framework's `responses` takes it.
    """
    by_status: dict[int, list[str]] = {}
    for code in dict.fromkeys(codes):
        by_status.setdefault(PROBLEMS[code].status, []).append(code)
    return {status: _answer(status, found) for status, found in sorted(by_status.items())}


def _answer(status: int, codes: list[str]) -> dict[str, Any]:
    schema = {
        "allOf": [ref("Problem"), {"properties": {"code": {"enum": codes}, "status": {"const": status}}}]
    }
    described: dict[str, Any] = {
        "description": "; ".join(PROBLEMS[code].title for code in codes) + ".",
        "content": {MEDIA_TYPE: {"schema": schema}},
    }
    if status == HTTPStatus.UNAUTHORIZED:
        described["headers"] = {"WWW-Authenticate": {"schema": {"type": "string"}}}
    if status in (HTTPStatus.SERVICE_UNAVAILABLE, HTTPStatus.TOO_MANY_REQUESTS):
        described["headers"] = {"Retry-After": {"schema": {"type": "integer"}, "description": "Seconds."}}
    return described


def described(  # noqa: PLR0913 - each is one choice of the caller
    operation: str,
    *,
    scope: str,
    summary: str,
    answer: Schema | None = None,
    content: Mapping[str, Schema] | None = None,
    codes: Iterable[str] = READ,
    body: Mapping[str, Any] | None = None,
    headers: Mapping[str, Schema] | None = None,
    status: int = 200,
) -> dict[str, Any]:
    """Describe and guard a route of the API.

    Parameters
    ----------
    operation : str
        Stable operation id.
    scope : str
        Scope that a caller's token must have.
    summary : str
        One line.
    answer : Schema or None
        Schema of the JSON answer.
    content : mapping or None
        Other content types of the answer, instead of `answer`.
    codes : iterable of str
        Problems beside those of every guarded route.
    body : mapping or None
        `requestBody` of the description.
    headers : mapping or None
        Headers of the answer.
    status : int
        Status of success.

    Returns
    -------
    dict
        Keyword arguments of the framework's route decorators.
    """
    extra: dict[str, Any] = {"security": [{"bearer": []}], "x-scope": scope}
    if body is not None:
        extra["requestBody"] = dict(body)
    kinds = dict(content) if content is not None else {"application/json": {"schema": answer or {}}}
    responses = answers((*ALWAYS, *codes))
    responses[status] = {"description": "Done.", "content": kinds, "headers": dict(headers or {})}
    return {
        "operation_id": operation,
        "summary": summary,
        "status_code": status,
        "response_model": None,
        "responses": responses,
        "openapi_extra": extra,
        "dependencies": [Depends(require(scope))],
    }
