"""Files that pages load, from this service only."""

import hashlib
from functools import cache
from typing import Final

from fastapi import APIRouter, Depends, Request
from starlette.responses import Response

from dashboards import assets
from service.web.errors import NotFound
from service.web.readers import public

router = APIRouter(dependencies=[Depends(public)])

FOREVER: Final = "public, max-age=31536000, immutable"
ASK_FIRST: Final = "no-cache"


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


@router.get("/paper.css")
def paper(foot: str = "") -> Response:
    """Give the styles that write a page's title and the age of its data at the foot of paper."""
    return Response(assets.paper_css(foot), media_type="text/css; charset=utf-8")
