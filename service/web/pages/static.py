"""Files that pages load, from this service only; and the choice of units."""

import hashlib
from functools import cache
from typing import Final
from urllib.parse import parse_qs

from fastapi import APIRouter, Request
from starlette.responses import RedirectResponse, Response

from dashboards import assets
from service.web.body import read_body
from service.web.errors import BadQuery, NotFound
from service.web.pages.frames import UNITS_COOKIE

router = APIRouter()

FOREVER: Final = "public, max-age=31536000, immutable"
ASK_FIRST: Final = "no-cache"
FORM_LIMIT_BYTES: Final = 10_000
COOKIE_AGE_S: Final = 365 * 24 * 3600


@cache
def mark_of(name: str) -> str:
    """Mark the contents of a file: the same mark, the same bytes."""
    return hashlib.sha256(assets.read(name)).hexdigest()[:16]


@router.get("/static/{name}")
def static_file(request: Request, name: str, v: str = "") -> Response:
    """Give one file.

    An address that names the mark of its contents is kept for good; any other is asked for again, and
    answered with 304 while the contents are the same.
    """
    if name not in assets.STATIC:
        raise NotFound("file", name)
    mark = mark_of(name)
    headers = {"etag": f'"{mark}"', "cache-control": FOREVER if v == mark else ASK_FIRST}
    if request.headers.get("if-none-match") == headers["etag"]:
        return Response(status_code=304, headers=headers)
    return Response(assets.read(name), media_type=assets.STATIC[name], headers=headers)


@router.post("/units")
async def choose_units(request: Request) -> RedirectResponse:
    """Keep the reader's choice of units in a cookie; nothing is written to the store."""
    fields = parse_qs((await read_body(request, FORM_LIMIT_BYTES)).decode("utf-8", "replace"))
    units = fields.get("units", [""])[0]
    if units not in ("metric", "us"):
        raise BadQuery("units", units, "metric, us")
    answer = RedirectResponse(_own_address(fields.get("back", ["/"])[0]), status_code=303)
    answer.set_cookie(UNITS_COOKIE, units, max_age=COOKIE_AGE_S, httponly=True, samesite="strict")
    return answer


def _own_address(back: str) -> str:
    """Keep only addresses of this service, so that the form cannot send a reader elsewhere."""
    return back if back.startswith("/") and not back.startswith(("//", "/\\")) else "/"
