"""Forms that pages send: read within limits, held against forgery, answered by going to another page."""

import hmac
from collections.abc import AsyncGenerator
from dataclasses import dataclass
from typing import Final
from urllib.parse import urlencode, urlsplit

from starlette.datastructures import Headers, UploadFile
from starlette.formparsers import FormParser, MultiPartException, MultiPartParser
from starlette.requests import Request
from starlette.responses import RedirectResponse

from service.web.body import read_body
from service.web.errors import FormForeign, FormInvalid, FormStale, UnsupportedType
from service.web.readers import reader_of
from service.web.shell import shell_of

PLAIN: Final = "application/x-www-form-urlencoded"
WITH_FILES: Final = "multipart/form-data"

PLAIN_LIMIT_BYTES: Final = 200_000
"""Largest form without files; chosen by us: a form of every cause's costs has a tenth of it."""

MOST_FIELDS: Final = 500
"""Most fields of one form; chosen by us, several times the largest page's."""

MOST_FILES: Final = 20
TOKEN_FIELD: Final = "token"  # noqa: S105 - the field's name


@dataclass(frozen=True, slots=True, kw_only=True)
class SentFile:
    """One file that came with a form.

    Parameters
    ----------
    name : str
        As the sender calls it; shown to people, never used as a path.
    content : bytes
        All of it.
    """

    name: str
    content: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """What a form holds, in the order in which it was sent.

    Parameters
    ----------
    fields : tuple of (name, text)
        Without the form token.
    files : tuple of (name, SentFile)
        Only files that were chosen.
    """

    fields: tuple[tuple[str, str], ...] = ()
    files: tuple[tuple[str, SentFile], ...] = ()

    def get(self, name: str, default: str = "") -> str:
        """Give the text of a field without spaces around it; the first where it was sent several times."""
        return next((text.strip() for field, text in self.fields if field == name), default)

    def exact(self, name: str) -> str:
        """Give the text of a field exactly as it was sent, such as a password; empty where it was not."""
        return next((text for field, text in self.fields if field == name), "")

    def all(self, name: str) -> tuple[str, ...]:
        """Give every text of a field, such as of boxes ticked."""
        return tuple(text.strip() for field, text in self.fields if field == name)

    def file(self, name: str) -> SentFile | None:
        """Give the file of a field; None where none was chosen."""
        return next((sent for field, sent in self.files if field == name), None)


async def read_form(request: Request) -> Form:
    """Read a form that a page of this service sent; use it as a route's dependency.

    Parameters
    ----------
    request : Request
        A POST. `Sec-Fetch-Site` and `Origin`, where a browser sends them, must name this service.

    Returns
    -------
    Form
        Checked to come from a page shown to the same reader.

    Raises
    ------
    FormForeign
        A page of another service sent it.
    FormStale
        Its token is not the reader's; what was typed is kept in the error.
    FormInvalid, UnsupportedType, BodyTooLarge
        It is no form, or too large.

    References
    ----------
    OWASP Cross-Site Request Forgery Prevention sheet: a token bound to the session, and Fetch Metadata.
    """
    check_origin(request.headers)
    form, token = await parse_form(request)
    expected = reader_of(request).form_token
    if not expected or not hmac.compare_digest(token.encode(), expected.encode()):
        raise FormStale(own_address(request), without_secrets(form.fields))
    return form


def check_origin(headers: Headers) -> None:
    """Pass only what a page of this service sent, as far as the browser says where it came from.

    Raises
    ------
    FormForeign
        The browser names another site, or hides which one it was.
    """
    if headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
        raise FormForeign
    origin = headers.get("origin")
    if origin is not None and _place_of(origin) != headers.get("host", ""):
        raise FormForeign


def _place_of(origin: str) -> str | None:
    """Give host and port of an origin; None for one that is none."""
    try:
        return urlsplit(origin).netloc
    except ValueError:
        return None


async def parse_form(request: Request) -> tuple[Form, str]:
    """Take a form apart, whoever sent it.

    Returns
    -------
    tuple of (Form, str)
        The form, and the token in it; empty where it has none.
    """
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind not in (PLAIN, WITH_FILES):
        raise UnsupportedType(kind, (PLAIN, WITH_FILES))
    most = shell_of(request).settings.max_body_mb * 1_000_000 if kind == WITH_FILES else PLAIN_LIMIT_BYTES
    body = await read_body(request, most)
    fields, files, token = [], [], ""
    try:
        if kind == PLAIN:
            sent = await FormParser(request.headers, _whole(body), max_fields=MOST_FIELDS).parse()
        else:
            sent = await MultiPartParser(
                request.headers, _whole(body), max_fields=MOST_FIELDS, max_files=MOST_FILES
            ).parse()
    except (MultiPartException, KeyError, UnicodeDecodeError, ValueError) as err:
        # The library's own sentences may quote the body.
        raise FormInvalid(f"it breaks the rules of {kind}, or has over {MOST_FIELDS} fields") from err
    for name, value in sent.multi_items():
        if isinstance(value, UploadFile):
            content = await value.read()
            await value.close()
            if value.filename or content:
                files.append((name, SentFile(name=value.filename or "", content=content)))
        elif name == TOKEN_FIELD:
            token = value
        else:
            fields.append((name, value))
    return Form(fields=tuple(fields), files=tuple(files)), token


async def _whole(body: bytes) -> AsyncGenerator[bytes, None]:
    yield body
    yield b""


def without_secrets(fields: tuple[tuple[str, str], ...]) -> tuple[tuple[str, str], ...]:
    """Leave out passwords: what is shown again must not show them."""
    return tuple((name, text) for name, text in fields if "password" not in name)


def own_address(request: Request) -> str:
    """Give the address of a request with its query, without scheme and host."""
    query = request.url.query
    return request.url.path + (f"?{query}" if query else "")


def local(path: str, otherwise: str = "/") -> str:
    r"""Keep only addresses of this service, so that no form or link can send a reader elsewhere.

    Examples
    --------
    >>> local("/work?depot=North"), local("//elsewhere.example/"), local("/\\elsewhere.example")
    ('/work?depot=North', '/', '/')
    """
    fine = path.startswith("/") and not path.startswith(("//", "/\\")) and path.isprintable()
    return path if fine and "\\" not in path else otherwise


def go(path: str, *, saved: str = "") -> RedirectResponse:
    """Answer a form by going to a page, so that a reload sends nothing twice.

    Parameters
    ----------
    path : str
        Address of this service, from `dashboards.links`.
    saved : str
        Code in `dashboards.words.SAVED` of what the page shall say was done; empty for nothing.

    Returns
    -------
    RedirectResponse
        303; a browser asks for the page with GET.
    """
    target, _, part = path.partition("#")
    if saved:
        target += ("&" if "?" in target else "?") + urlencode({"saved": saved})
    return RedirectResponse(local(target) + (f"#{part}" if part else ""), status_code=303)
