"""The API's description for people, made from the one for programs; nothing comes from elsewhere."""

from typing import Any

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, JSONResponse

from dashboards.api_docs import (
    ApiAnswer,
    ApiBody,
    ApiDocsView,
    ApiField,
    ApiOperation,
    ApiValue,
    Kind,
)
from service.web.pages.frames import make_frame, show
from service.web.readers import anyone

router = APIRouter(dependencies=[Depends(anyone)])

_METHODS = ("get", "post", "put", "patch", "delete")

Schema = dict[str, Any]


@router.get("/api/openapi.json")
def api_description(request: Request) -> JSONResponse:
    """Give the description for programs (OpenAPI 3.1)."""
    return JSONResponse(request.app.openapi())


@router.get("/api/docs")
def api_docs(request: Request) -> HTMLResponse:
    """Give the description for people who write programs against the API."""
    return show(describe(request.app.openapi()), make_frame(request, "The API"))


def describe(document: Schema) -> ApiDocsView:
    """Put the description into the page's view.

    Parameters
    ----------
    document : dict
        OpenAPI.

    Returns
    -------
    ApiDocsView
        In the order of the document; values by name.
    """
    info = document["info"]
    return ApiDocsView(
        summary=f"{info['summary']} {info['description']}",
        operations=tuple(
            _operation(path, method, item[method])
            for path, item in document["paths"].items()
            for method in _METHODS
            if method in item
        ),
        values=tuple(_value(name, one) for name, one in sorted(document["components"]["schemas"].items())),
    )


def _operation(path: str, method: str, one: Schema) -> ApiOperation:
    return ApiOperation(
        anchor=one["operationId"],
        method=method.upper(),
        path=path,
        summary=f"{one.get('summary', '')} {one.get('description', '')}".strip(),
        scope=one.get("x-scope") or "",
        parameters=tuple(
            ApiField(
                name=item["name"],
                place=item["in"],
                kinds=_kinds(item["schema"]),
                meaning=item.get("description", ""),
                required=bool(item.get("required")),
            )
            for item in one.get("parameters", ())
        ),
        bodies=tuple(
            ApiBody(
                media_type=kind,
                kinds=_kinds(content["schema"]),
                meaning=content["schema"].get("description", ""),
            )
            for kind, content in one.get("requestBody", {}).get("content", {}).items()
        ),
        answers=tuple(_answer(status, answer) for status, answer in sorted(one["responses"].items())),
    )


def _answer(status: str, answer: Schema) -> ApiAnswer:
    content = answer.get("content", {})
    schema = content.get("application/problem+json", {}).get("schema", {})
    return ApiAnswer(
        status=status,
        meaning=answer["description"],
        media_types=tuple(content),
        codes=tuple(
            code
            for part in schema.get("allOf", [])
            for code in part.get("properties", {}).get("code", {}).get("enum", [])
        ),
    )


def _kinds(schema: Schema) -> tuple[Kind, ...]:
    """Say what a value may be, each possibility by itself."""
    if "$ref" in schema:
        name = schema["$ref"].rpartition("/")[2]
        return (Kind(text=name, href=f"#value-{name}"),)
    if "anyOf" in schema or "allOf" in schema:
        parts = schema.get("anyOf") or schema["allOf"]
        return tuple(kind for part in parts for kind in _kinds(part))
    if "enum" in schema:
        return tuple(Kind(text=str(one), exact=True) for one in schema["enum"])
    if "const" in schema:
        return (Kind(text=str(schema["const"]), exact=True),)
    if schema.get("type") == "array":
        items = _kinds(schema.get("items") or {})
        return tuple(Kind(text=f"list of {one.text}", href=one.href) for one in items)
    kind = schema.get("type", "any")
    said = " or ".join(kind) if isinstance(kind, list) else str(kind)
    return (Kind(text=f"{said} ({schema['format']})" if "format" in schema else said),)


def _value(name: str, schema: Schema) -> ApiValue:
    needed = set(schema.get("required", []))
    return ApiValue(
        name=name,
        meaning=schema.get("description", ""),
        fields=tuple(
            ApiField(
                name=field,
                place="",
                kinds=_kinds(inner),
                meaning=inner.get("description", ""),
                required=field in needed,
            )
            for field, inner in schema.get("properties", {}).items()
        ),
    )
