"""How long a sign-in still lasts, for the script that tells so before it ends."""

from datetime import timedelta

from fastapi import APIRouter, Depends, Request
from starlette.responses import JSONResponse

from service.auth import digest_of
from service.auth.sessions import seconds_left
from service.web.forms import Form, read_form
from service.web.readers import anyone, cookie_name, has_ended, public, reader_of
from service.web.shell import whole_shell_of

looking = APIRouter(dependencies=[Depends(public)])
staying = APIRouter(dependencies=[Depends(anyone)])


@looking.get("/sign-in/left")
def time_left(request: Request) -> JSONResponse:
    """Say how long this browser's sign-in lasts, without using it; for anybody, about the own one only.

    The guard of pages would count the question as use, and a tab left open would never be signed out.
    """
    return _left(request)


@staying.post("/sign-in/stay")
def stay(request: Request, _form: Form = Depends(read_form)) -> JSONResponse:
    """Go on with the sign-in because its owner said so: the guard has noted the use."""
    reader = reader_of(request)
    if reader.session:
        shell = whole_shell_of(request)
        with shell.store.begin() as work:  # the guard writes once a minute; here the answer must hold
            work.touch_sign_in(reader.session, shell.clock.now())
            work.commit()
    return _left(request)


def _left(request: Request) -> JSONResponse:
    shell = whole_shell_of(request)
    cookie, now = request.cookies.get(cookie_name(shell.settings), ""), shell.clock.now()
    found = None
    if cookie:
        with shell.store.begin(readonly=True) as work:
            found = work.find_visit(digest_of(cookie))
    if found is None or has_ended(found, now, shell.settings):
        return JSONResponse({"left_s": 0, "can_stay": False})
    left, can_stay = seconds_left(
        now,
        seen_at=found[0].seen_at,
        expires_at=found[0].expires_at,
        idle=timedelta(minutes=shell.settings.session_idle_minutes),
    )
    return JSONResponse({"left_s": left, "can_stay": can_stay})
