"""The API's description for people, made from the one for programs; nothing comes from elsewhere."""

from html import escape
from typing import Any

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, JSONResponse

from dashboards.assets import address
from service.web.readers import anyone

router = APIRouter(dependencies=[Depends(anyone)])

_METHODS = ("get", "post", "put", "patch", "delete")


@router.get("/api/openapi.json")
def api_description(request: Request) -> JSONResponse:
    """Give the description for programs (OpenAPI 3.1)."""
    return JSONResponse(request.app.openapi())


@router.get("/api/docs")
def api_docs(request: Request) -> HTMLResponse:
    """Give the description for people who write programs against the API."""
    return HTMLResponse(write_docs(request.app.openapi()))


def write_docs(document: dict[str, Any]) -> str:
    """Write the description as one page.

    Parameters
    ----------
    document : dict
        OpenAPI.

    Returns
    -------
    str
        HTML without scripts.
    """
    info = document["info"]
    parts = [
        "<!doctype html><html lang='en'><head><meta charset='utf-8'>",
        "<meta name='viewport' content='width=device-width, initial-scale=1'>",
        f"<title>{escape(info['title'])} API</title>",
        f"<link rel='stylesheet' href='{address('forelamp.css')}'>",
        f"<link rel='icon' href='{address('lantern.svg')}' type='image/svg+xml'></head>",
        "<body><main id='content'><h1>The API</h1>",
        f"<p>{escape(info['summary'])} {escape(info['description'])}</p>",
        "<p><a href='/api/openapi.json'>For programs (OpenAPI 3.1)</a> · <a href='/help'>Help</a></p>",
    ]
    operations = [
        (path, method, item[method])
        for path, item in document["paths"].items()
        for method in _METHODS
        if method in item
    ]
    parts.append("<nav aria-label='Operations'><ul>")
    parts.extend(
        f"<li><a href='#{escape(one['operationId'])}'><code>{method.upper()} {escape(path)}</code></a></li>"
        for path, method, one in operations
    )
    parts.append("</ul></nav>")
    for path, method, one in operations:
        parts.extend(_operation(path, method, one))
    parts.append("<h2 id='values'>Values</h2>")
    for name, schema in sorted(document["components"]["schemas"].items()):
        parts.extend(_value(name, schema))
    parts.append("</main></body></html>")
    return "".join(parts)


def _operation(path: str, method: str, one: dict[str, Any]) -> list[str]:
    scope = one.get("x-scope")
    parts = [
        f"<section><h2 id='{escape(one['operationId'])}'><code>{method.upper()} {escape(path)}</code></h2>",
        f"<p>{escape(one.get('summary', ''))} {escape(one.get('description', ''))}</p>",
    ]
    if scope:
        parts.append(f"<p>Needs a token with the scope <code>{escape(scope)}</code>.</p>")
    if one.get("parameters"):
        parts.append("<table><caption>Parameters</caption><thead><tr><th scope='col'>Name</th>")
        parts.append(
            "<th scope='col'>In</th><th scope='col'>Kind</th><th scope='col'>Meaning</th></tr></thead><tbody>"
        )
        parts.extend(
            f"<tr><th scope='row'><code>{escape(item['name'])}</code></th><td>{escape(item['in'])}</td>"
            f"<td>{_kind(item['schema'])}</td><td>{escape(item.get('description', ''))}</td></tr>"
            for item in one["parameters"]
        )
        parts.append("</tbody></table>")
    for kind, content in one.get("requestBody", {}).get("content", {}).items():
        schema = content["schema"]
        told = escape(schema.get("description", ""))
        parts.append(f"<p>Body <code>{escape(kind)}</code>: {_kind(schema)} {told}</p>")
    parts.append("<ul>")
    for status, answer in sorted(one["responses"].items()):
        kinds = ", ".join(f"<code>{escape(kind)}</code>" for kind in answer.get("content", {}))
        parts.append(f"<li><strong>{escape(status)}</strong> {escape(answer['description'])} {kinds}")
        parts.extend(_codes(answer))
        parts.append("</li>")
    parts.append("</ul></section>")
    return parts


def _codes(answer: dict[str, Any]) -> list[str]:
    schema = answer.get("content", {}).get("application/problem+json", {}).get("schema", {})
    codes = [
        code
        for part in schema.get("allOf", [])
        for code in part.get("properties", {}).get("code", {}).get("enum", [])
    ]
    return [f" <a href='/problems/{escape(code)}'>{escape(code)}</a>" for code in codes]


def _kind(schema: dict[str, Any]) -> str:
    if "$ref" in schema:
        name = schema["$ref"].rpartition("/")[2]
        return f"<a href='#value-{escape(name)}'>{escape(name)}</a>"
    if "anyOf" in schema or "allOf" in schema:
        return " or ".join(_kind(part) for part in schema.get("anyOf", schema.get("allOf", [])))
    if "enum" in schema:
        return ", ".join(f"<code>{escape(str(one))}</code>" for one in schema["enum"])
    if schema.get("type") == "array":
        return f"list of {_kind(schema.get('items') or {})}"
    if "const" in schema:
        return f"<code>{escape(str(schema['const']))}</code>"
    kind = schema.get("type", "any")
    said = " or ".join(kind) if isinstance(kind, list) else str(kind)
    return escape(f"{said} ({schema['format']})" if "format" in schema else said)


def _value(name: str, schema: dict[str, Any]) -> list[str]:
    needed = set(schema.get("required", []))
    parts = [
        f"<section><h3 id='value-{escape(name)}'>{escape(name)}</h3>",
        f"<p>{escape(schema.get('description', ''))}</p>",
    ]
    if schema.get("properties"):
        parts.append("<table><thead><tr><th scope='col'>Field</th><th scope='col'>Kind</th>")
        parts.append("<th scope='col'>Meaning</th></tr></thead><tbody>")
        parts.extend(
            f"<tr><th scope='row'><code>{escape(field)}</code>{' (required)' if field in needed else ''}</th>"
            f"<td>{_kind(inner)}</td><td>{escape(inner.get('description', ''))}</td></tr>"
            for field, inner in schema["properties"].items()
        )
        parts.append("</tbody></table>")
    parts.append("</section>")
    return parts
