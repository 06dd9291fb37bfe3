"""People and their accounts, for administrators."""

from datetime import datetime
from typing import Final
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Depends, Request
from starlette.responses import HTMLResponse, Response

from dashboards.links import person_url
from dashboards.people import Issued, PeopleView, PersonLine, PersonView
from service.auth.errors import AuthError
from service.auth.passwords import random_password
from service.auth.people import ISSUED_FOR
from service.auth.rights import ROLES
from service.store import AlreadyThere, Person, Work
from service.web import accounts
from service.web.entry import hash_gently
from service.web.errors import BadQuery, NotFound
from service.web.forms import Form, go, read_form
from service.web.pages.frames import make_frame, show, zone_of
from service.web.readers import allow, reader_of
from service.web.shell import address_of, shell_of

router = APIRouter(dependencies=[Depends(allow("people"))])

SAVED_AS: Final = {
    "change": "person",
    "disable": "disabled",
    "enable": "enabled",
    "end_sessions": "sessions",
    "unlock": "unlocked",
    "release": "untied",
}
"""What can be done to an account beside setting a password, and the code of what the page then says."""


@router.get("/setup/people")
def people_page(request: Request) -> HTMLResponse:
    """List accounts, for the administrator who makes one or looks for one."""
    return _show_all(request)


@router.post("/setup/people")
def add_account(request: Request, form: Form = Depends(read_form)) -> HTMLResponse:
    """Make an account; its password is shown on the answer and nowhere else."""
    shell, by = shell_of(request), _by(request)
    password = random_password()
    encoded = hash_gently(password)
    login = form.get("login").casefold()
    try:
        with shell.store.begin() as work:
            accounts.add_person(
                work,
                login,
                form.get("role"),
                encoded,
                by,
                depot=form.get("depot"),
                depot_only=form.get("depot_only") == "yes",
            )
            work.commit()
    except (AuthError, AlreadyThere) as refused:
        return _show_all(request, error=str(refused), typed=login, status=422)
    return _show_all(request, issued=_issued(login, password, by.at, zone_of(shell)))


@router.get("/setup/people/{login}")
def person_page(request: Request, login: str) -> HTMLResponse:
    """Show one account, for the administrator who changes it."""
    return _show_one(request, login)


@router.post("/setup/people/{login}")
def change_account(request: Request, login: str, form: Form = Depends(read_form)) -> Response:
    """Change an account, or set its password, which is shown on the answer and nowhere else."""
    shell, by, do = shell_of(request), _by(request), form.get("do")
    if do not in SAVED_AS and do != "password":
        raise BadQuery("do", do, ", ".join((*SAVED_AS, "password")))
    password = random_password() if do == "password" else ""
    encoded = hash_gently(password) if password else ""
    try:
        with shell.store.begin() as work:
            if work.person(login) is None:
                raise NotFound("account", login)
            _do(work, do, login, form, by, encoded)
            work.commit()
    except AuthError as refused:
        return _show_one(request, login, error=str(refused), status=422)
    if password:
        return _show_one(request, login, issued=_issued(login, password, by.at, zone_of(shell)))
    return go(person_url(login), saved=SAVED_AS[do])


def _do(work: Work, do: str, login: str, form: Form, by: accounts.By, encoded: str) -> None:
    if do == "change":
        accounts.change_person(
            work,
            login,
            by,
            role=form.get("role"),
            depot=form.get("depot"),
            depot_only=form.get("depot_only") == "yes",
        )
    elif do == "disable":
        accounts.disable_person(work, login, by)
    elif do == "enable":
        accounts.enable_person(work, login, by)
    elif do == "end_sessions":
        accounts.end_sessions(work, login, by)
    elif do == "release":
        accounts.release_person(work, login, by)
    elif do == "unlock":
        accounts.unlock_person(work, login)
    else:
        accounts.issue_password(work, login, encoded, by)


def _by(request: Request) -> accounts.By:
    return accounts.By(
        who=reader_of(request).login, at=shell_of(request).clock.now(), source=address_of(request)
    )


def _issued(login: str, password: str, at: datetime, zone: ZoneInfo) -> Issued:
    return Issued(login=login, password=password, until=(at + ISSUED_FOR).astimezone(zone))


def _show_all(
    request: Request, *, issued: Issued | None = None, error: str = "", typed: str = "", status: int = 200
) -> HTMLResponse:
    shell = shell_of(request)
    with shell.store.begin(readonly=True) as work:
        people, seen, depots = work.people(), work.last_visits(), _depots(work)
    view = PeopleView(
        people=tuple(_line(one, seen.get(one.login), zone_of(shell)) for one in people),
        roles=ROLES,
        depots=depots,
        issued=issued,
        error=error,
        typed=typed,
    )
    return show(view, make_frame(request, "People"), status)


def _show_one(
    request: Request, login: str, *, issued: Issued | None = None, error: str = "", status: int = 200
) -> HTMLResponse:
    shell = shell_of(request)
    with shell.store.begin(readonly=True) as work:
        person, seen, depots = work.person(login), work.last_visits(), _depots(work)
    if person is None:
        raise NotFound("account", login)
    view = PersonView(
        person=_line(person, seen.get(login), zone_of(shell)),
        roles=ROLES,
        depots=depots if person.depot in ("", *depots) else (*depots, person.depot),
        issued=issued,
        error=error,
    )
    return show(view, make_frame(request, f"Account {login}"), status)


def _depots(work: Work) -> tuple[str, ...]:
    return tuple(sorted({one.depot for one in work.vehicles() if one.depot}))


def _line(person: Person, seen: datetime | None, zone: ZoneInfo) -> PersonLine:
    until = person.password_until
    return PersonLine(
        login=person.login,
        role=person.role,
        depot=person.depot,
        depot_only=person.depot_only,
        disabled=person.disabled_at is not None,
        seen_at=None if seen is None else seen.astimezone(zone),
        password_until=None if until is None else until.astimezone(zone),
        through_provider=bool(person.subject),
    )
