"""Signing in and out on the pages."""

from dataclasses import replace
from typing import Any, Final
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from dashboards.again import AgainView, Kept
from dashboards.sign_in import Reason, SignInView
from service.auth.sessions import form_token_of, new_cookie
from service.web.entry import clear_session, set_session, set_visit, sign_in
from service.web.errors import TooManyRequests
from service.web.forms import (
    Form,
    check_origin,
    go,
    local,
    own_address,
    parse_form,
    read_form,
    without_secrets,
)
from service.web.pages.frames import make_frame, show
from service.web.readers import Reader, anyone, note, reader_of, visit_name
from service.web.shell import SAFE, address_of, whole_shell_of

router = APIRouter(dependencies=[Depends(anyone)])

TITLE: Final = "Sign in"
CARRIED: Final = "again."
"""Start of the names of fields that a form carries which came too late."""

_PLAIN: Final = SignInView(
    reason="", wait_s=0, login="", provider="", following="/", action="", kept=(), files_lost=False
)


@router.get("/sign-in")
def sign_in_page(request: Request, following: str = "/") -> Response:
    """Ask who the reader is; for anybody."""
    if reader_of(request).role:
        return go(local(following))
    return ask(request, following=local(following))


@router.post("/sign-in")
def enter(request: Request, form: Form = Depends(read_form)) -> Response:
    """Sign in, then go where the reader wanted to go, or show again what was typed before."""
    shell = whole_shell_of(request)
    try:
        entered = sign_in(
            shell,
            form.get("login"),
            form.exact("password"),
            address=address_of(request),
            old_session=reader_of(request).session,
        )
    except TooManyRequests as error:
        answer = _ask_again(request, form, "wait", wait_s=error.retry_after_s, status=429)
        answer.headers["retry-after"] = str(error.retry_after_s)
        return answer
    if entered is None:
        return _ask_again(request, form, "wrong", status=401)
    note(request, entered.reader)
    following = "/account" if entered.reader.must_change else local(form.get("following"))
    action = local(form.get("again_action"), otherwise="")
    answer = show_kept(request, form.fields, action) if action else go(following)
    set_session(answer, entered, shell.settings)
    return answer


@router.post("/sign-out")
def leave(request: Request, _form: Form = Depends(read_form)) -> RedirectResponse:
    """End this sign-in, here and in the store."""
    shell = whole_shell_of(request)
    reader = reader_of(request)
    with shell.store.begin() as work:
        work.end_sign_in(reader.session)
        if reader.session:
            work.log_event(
                at=shell.clock.now(),
                who=reader.login,
                what="signed out",
                subject=reader.login,
                source=address_of(request),
            )
        work.commit()
    answer = go("/sign-in", saved="signed_out")
    clear_session(answer, shell.settings)
    return answer


async def ask_in_between(request: Request) -> Response:
    """Answer a request that needs somebody signed in.

    A page leads to the sign-in and back. A form is kept: its fields go along with the sign-in, and are shown
    again after it.
    """
    if request.method in SAFE:
        return RedirectResponse(_way_in(own_address(request)), status_code=303)
    check_origin(request.headers)
    form, _ = await parse_form(request)
    fields = tuple((CARRIED + name, text) for name, text in without_secrets(form.fields))
    action, lost = own_address(request), bool(form.files)
    return ask(request, status=401, reason="ended", action=action, fields=fields, files_lost=lost)


def ask_once_more(request: Request, fields: tuple[tuple[str, str], ...]) -> Response:
    """Show the sign-in page anew to a browser that its form was not bound to; what it carries stays."""
    return _ask_again(request, Form(fields=fields), "stale", status=403)


def _way_in(following: str) -> str:
    return "/sign-in" if following == "/" else f"/sign-in?{urlencode({'following': following})}"


def _ask_again(request: Request, form: Form, reason: Reason, *, status: int, wait_s: int = 0) -> Response:
    return ask(
        request,
        status=status,
        reason=reason,
        wait_s=wait_s,
        login=form.get("login"),
        following=local(form.get("following")),
        action=local(form.get("again_action"), otherwise=""),
        fields=form.fields,
    )


def ask(
    request: Request, *, status: int = 200, fields: tuple[tuple[str, str], ...] = (), **facts: Any
) -> HTMLResponse:
    """Show the sign-in page, bound to this browser by a cookie of its own.

    Parameters
    ----------
    request : Request
        That cannot go on.
    status : int
        Of the answer.
    fields : tuple of (name, text)
        Of a form; those that it carries are carried on.
    facts : object
        Fields of `SignInView`.
    """
    shell = whole_shell_of(request)
    visit = request.cookies.get(visit_name(shell.settings), "") or new_cookie()
    note(request, Reader(form_token=form_token_of(visit, "visit")))
    named = "" if shell.provider is None else shell.settings.oidc_label
    view = replace(_PLAIN, provider=named, kept=_carried(fields), **facts)
    answer = show(view, make_frame(request, TITLE), status)
    set_visit(answer, visit, shell.settings)
    return answer


def show_kept(request: Request, fields: tuple[tuple[str, str], ...], action: str) -> HTMLResponse:
    """Show again what was typed before somebody had to sign in."""
    view = AgainView(action=action, kept=_carried(fields), signed_in=True)
    return show(view, make_frame(request, "Not sent yet"))


def _carried(fields: tuple[tuple[str, str], ...]) -> tuple[Kept, ...]:
    found = [(name, text) for name, text in fields if name.startswith(CARRIED)]
    return tuple(Kept(name=name.removeprefix(CARRIED), text=text) for name, text in found)
