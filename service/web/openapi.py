"""The description of the API (OpenAPI 3.1): what routes say of themselves, and their schemas."""

from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi

from service.web.api.tickets import TicketNow
from service.web.messages import components, describe_values
from service.web.moving import EventMessage

TITLE = "Forelamp"
VERSION = "1"
SUMMARY = "Snapshots in; trends, risk and tickets out."
ABOUT = (
    "Every address under /api/v1 needs the header 'Authorization: Bearer TOKEN'; tokens are issued with"
    " 'forelamp token add'. Errors are problem details (RFC 9457); the type of each is the address of a page"
    " that says what helps. Lists go on with next_cursor. Times carry their offset, dates are YYYY-MM-DD,"
    " quantities are in the default unit of their parameter."
)


def describe_api(app: FastAPI) -> dict[str, Any]:
    """Describe every route of the API.

    Parameters
    ----------
    app : FastAPI
        With all routes.

    Returns
    -------
    dict
        The OpenAPI document; computed once, then kept with the application.
    """
    if app.openapi_schema is None:
        document = get_openapi(
            title=TITLE,
            version=VERSION,
            openapi_version="3.1.0",
            summary=SUMMARY,
            description=ABOUT,
            routes=app.routes,
        )
        schemas = document.setdefault("components", {}).setdefault("schemas", {})
        schemas.update(components())
        schemas.update(describe_values((EventMessage, TicketNow)))
        document["components"]["securitySchemes"] = {"bearer": {"type": "http", "scheme": "bearer"}}
        app.openapi_schema = document
    return app.openapi_schema
