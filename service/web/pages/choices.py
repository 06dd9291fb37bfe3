"""Choices that a reader makes for the own eyes: units, and the role in the practice fleet."""

from typing import Final

from fastapi import APIRouter, Depends, Request
from starlette.responses import RedirectResponse

from service.auth.rights import ROLES
from service.web.errors import NotFound
from service.web.forms import Form, go, local, read_form
from service.web.pages.frames import UNITS_COOKIE
from service.web.query import choose
from service.web.readers import ROLE_COOKIE, anyone, reader_of
from service.web.shell import shell_of, whole_shell_of

router = APIRouter(dependencies=[Depends(anyone)])

COOKIE_AGE_S: Final = 365 * 24 * 3600


@router.post("/units")
def choose_units(request: Request, form: Form = Depends(read_form)) -> RedirectResponse:
    """Keep the choice of units: with the account of whoever has one, and in a cookie for anybody."""
    units = choose("units", form.get("units"), ("metric", "us"))
    reader = reader_of(request)
    if reader.session:
        with whole_shell_of(request).store.begin() as work:
            person = work.person(reader.login)
            if person is not None:
                work.put_preferences(person.login, {**person.preferences, "units": units})
                work.commit()
    answer = go(local(form.get("back")), saved="units")
    answer.set_cookie(UNITS_COOKIE, units, max_age=COOKIE_AGE_S, httponly=True, samesite="strict")
    return answer


@router.post("/role")
def choose_role(request: Request, form: Form = Depends(read_form)) -> RedirectResponse:
    """Let a visitor of the practice fleet look around in another role."""
    if not shell_of(request).settings.practice:
        raise NotFound("choice of roles", "/role")
    role = choose("role", form.get("role"), ROLES)
    answer = go(local(form.get("back")), saved="role")
    answer.set_cookie(ROLE_COOKIE, role, max_age=COOKIE_AGE_S, httponly=True, samesite="strict")
    return answer
