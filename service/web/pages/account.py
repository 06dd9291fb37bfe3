"""The reader's own account."""

from datetime import datetime, timedelta

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, Response

from dashboards.account import AccountView, SignInLine
from dashboards.problem import ProblemView
from dashboards.words import SENTENCES
from service.auth.errors import WeakPassword
from service.auth.passwords import SHORTEST, check_password
from service.web.accounts import By, choose_password
from service.web.catalogue import PROBLEMS
from service.web.entry import begin_session, confirm_password, hash_gently, set_session
from service.web.errors import NotFound
from service.web.forms import Form, go, read_form
from service.web.pages.frames import make_frame, show, zone_of
from service.web.problems import request_id_of
from service.web.readers import allow, reader_of
from service.web.shell import address_of, shell_of, whole_shell_of

router = APIRouter(dependencies=[Depends(allow("read"))])

SIGN_INS_SHOWN = 20
"""Sign-ins on the page, newest first; chosen by us: two weeks of mornings."""


@router.get("/account")
def account_page(request: Request) -> HTMLResponse:
    """Show a person the own account: password, end of the sign-in, sign-ins so far."""
    return _show(request)


@router.post("/account/password")
def change_password(request: Request, form: Form = Depends(read_form)) -> Response:
    """Keep the password that a person chose; other sign-ins end, this one goes on under a new cookie."""
    shell, reader = whole_shell_of(request), reader_of(request)
    new = form.exact("new_password")
    with shell.store.begin(readonly=True) as work:
        person = work.person(reader.login)
    if person is None:
        return _nobodys(request)
    error = ""
    if not confirm_password(shell, person, form.exact("current_password")):
        error = "The password now is not that one."
    elif new != form.exact("repeat_password"):
        error = "The two new passwords differ."
    elif new == form.exact("current_password"):
        error = "The new password is the old one."
    else:
        try:
            check_password(new, known=(reader.login,))
        except WeakPassword as refused:
            error = str(refused)
    if error:
        return _show(request, error=error, status=422)
    encoded = hash_gently(new)
    by = By(who=reader.login, at=shell.clock.now(), source=address_of(request))
    with shell.store.begin() as work:
        entered = begin_session(work, shell, choose_password(work, reader.login, encoded, by))
        work.commit()
    answer = go("/account", saved="password")
    set_session(answer, entered, shell.settings)
    return answer


def _show(request: Request, *, error: str = "", status: int = 200) -> HTMLResponse:
    shell, reader = shell_of(request), reader_of(request)
    if reader.signed_in_at is None:
        return _nobodys(request)
    zone = zone_of(shell)
    with shell.store.begin(readonly=True) as work:
        entries = work.log_entries(subject=reader.login, limit=5 * SIGN_INS_SHOWN).rows
    lines = [
        SignInLine(at=one.at.astimezone(zone), what=one.what, source=one.source)
        for one in entries
        if one.what in ("signed in", "sign-in refused", "signed out")
    ]
    view = AccountView(
        login=reader.login,
        role=reader.role,
        depot=reader.depot,
        depot_only=bool(reader.only_depot),
        must_change=reader.must_change,
        error=error,
        shortest=SHORTEST,
        ends_at=_end(reader.signed_in_at, shell.settings.session_hours).astimezone(zone),
        idle_minutes=shell.settings.session_idle_minutes,
        sign_ins=tuple(lines[:SIGN_INS_SHOWN]),
    )
    return show(view, make_frame(request, "Your account"), status)


def _nobodys(request: Request) -> HTMLResponse:
    """Say that the practice fleet has no accounts.

    Raises
    ------
    NotFound
        Elsewhere: the account is gone.
    """
    if not shell_of(request).settings.practice:
        raise NotFound("account", reader_of(request).login)
    problem = PROBLEMS["not-found"]
    view = ProblemView(
        type=problem.code,
        status=problem.status,
        title=problem.title,
        detail=SENTENCES["nobody_signs_in"],
        what_to_do=SENTENCES["help_nobody_signs_in"],
        errors=(),
        conflicts=(),
        allowed=(),
        back="/",
        request_id=request_id_of(request.scope),
    )
    return show(view, make_frame(request, problem.title), problem.status)


def _end(began: datetime, hours: int) -> datetime:
    return began + timedelta(hours=hours)
