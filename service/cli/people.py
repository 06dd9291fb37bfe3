"""`forelamp people`: accounts. Passwords are printed once or read from standard input, never arguments."""

import getpass
import sys
from datetime import datetime
from typing import Annotated

import typer

from service.auth.passwords import check_password, hash_password, random_password
from service.auth.people import ISSUED_FOR
from service.auth.rights import ROLES
from service.cli.opened import Opened, opened
from service.cli.talk import AsJson, give, give_json, say
from service.web import accounts

app = typer.Typer(help="Accounts of people.", no_args_is_help=True)

Login = Annotated[str, typer.Argument(help="Login of the account.")]
Role = Annotated[str, typer.Option("--role", help=f"One of {', '.join(ROLES)}.")]
Depot = Annotated[str, typer.Option("--depot", help="Depot that comes first for this person.")]
DepotOnly = Annotated[
    bool, typer.Option("--depot-only", help="Keep every other depot from this viewer, mechanic or lead.")
]
AskPassword = Annotated[
    bool,
    typer.Option("--ask-password", help="Read the password from standard input instead of making one up."),
]


@app.command("add")
def add(
    login: Login,
    role: Role,
    depot: Depot = "",
    depot_only: DepotOnly = False,
    ask_password: AskPassword = False,
    as_json: AsJson = False,
) -> None:
    """Make an account; its password works for seven days, until its owner has chosen another."""
    password, encoded = _password(login, ask=ask_password)
    with opened() as found:
        by = _by(found)
        with found.store.begin() as work:
            accounts.add_person(work, login, role, encoded, by, depot=depot, depot_only=depot_only)
            work.commit()
    _tell(login, "" if ask_password else password, by.at + ISSUED_FOR, as_json=as_json)


@app.command("list")
def list_people(as_json: AsJson = False) -> None:
    """List accounts."""
    with opened() as found, found.store.begin(readonly=True) as work:
        people, seen = work.people(), work.last_visits()
    if as_json:
        rows = [
            {
                "login": one.login,
                "role": one.role,
                "depot": one.depot,
                "depot_only": one.depot_only,
                "disabled_at": one.disabled_at,
                "password_until": one.password_until,
                "seen_at": seen.get(one.login),
            }
            for one in people
        ]
        give_json({"people": rows})
        return
    for one in people:
        give(f"{one.login}: {accounts.describe(one)}")


@app.command("role")
def role(login: Login, role: Role, depot: Depot = "", depot_only: DepotOnly = False) -> None:
    """Change role and depot."""
    with opened() as found, found.store.begin() as work:
        person = accounts.change_person(
            work, login, _by(found), role=role, depot=depot, depot_only=depot_only
        )
        work.commit()
    give(f"{login}: {accounts.describe(person)}")


@app.command("disable")
def disable(login: Login) -> None:
    """Keep a person from signing in, and end every sign-in there is."""
    with opened() as found, found.store.begin() as work:
        accounts.disable_person(work, login, _by(found))
        work.commit()
    give(f"'{login}' is disabled.")


@app.command("enable")
def enable(login: Login) -> None:
    """Let a person sign in again."""
    with opened() as found, found.store.begin() as work:
        accounts.enable_person(work, login, _by(found))
        work.commit()
    give(f"'{login}' can sign in.")


@app.command("password")
def password(login: Login, ask_password: AskPassword = False, as_json: AsJson = False) -> None:
    """Set a password for somebody who forgot it; every sign-in there is ends."""
    made, encoded = _password(login, ask=ask_password)
    with opened() as found:
        by = _by(found)
        with found.store.begin() as work:
            accounts.issue_password(work, login, encoded, by)
            work.commit()
    _tell(login, "" if ask_password else made, by.at + ISSUED_FOR, as_json=as_json)


@app.command("release")
def release(login: Login) -> None:
    """Let somebody else at the sign-in provider come in under a login; its sign-ins end."""
    with opened() as found, found.store.begin() as work:
        accounts.release_person(work, login, _by(found))
        work.commit()
    give(f"'{login}' is no longer tied to anybody at the sign-in provider.")


@app.command("unlock")
def unlock(login: Login) -> None:
    """Allow tries for a login again after too many that failed."""
    with opened() as found, found.store.begin() as work:
        by = _by(found)
        accounts.unlock_person(work, login)
        work.log_event(at=by.at, who=by.who, what="tries allowed again", subject=login)
        work.commit()
    give(f"Tries for '{login}' are allowed again.")


def make_first_admin(found: Opened) -> str:
    """Make the first administrator of a store without any account, with a password that nobody knows yet.

    Parameters
    ----------
    found : Opened
        The store.

    Returns
    -------
    str
        The password, to be shown once; empty where there are accounts already.
    """
    with found.store.begin(readonly=True) as work:
        if work.people():
            return ""
    made = random_password()
    encoded = hash_password(made)
    with found.store.begin() as work:
        if work.people(to_change=True):
            return ""
        accounts.add_person(work, FIRST_LOGIN, "admin", encoded, _by(found))
        work.commit()
    return made


FIRST_LOGIN = "admin"
"""Login of the administrator that the first start makes; its password is random."""


def _by(found: Opened) -> accounts.By:
    return accounts.By(who="command line", at=found.clock.now())


def _password(login: str, *, ask: bool) -> tuple[str, str]:
    """Make up a password, or read one: unseen at a terminal, else one line of standard input."""
    if not ask:
        made = random_password()
    elif sys.stdin.isatty():
        made = getpass.getpass("Password: ")
    else:
        made = sys.stdin.readline().rstrip("\r\n")
    check_password(made, known=(login,))
    return made, hash_password(made)


def _tell(login: str, password: str, until: datetime, *, as_json: bool) -> None:
    if as_json:
        give_json({"login": login, "password": password or None, "until": until})
        return
    say(f"'{login}' can sign in until {until:%Y-%m-%d %H:%M} UTC, and then chooses a password of their own.")
    if password:
        say("The password is shown this once:")
        give(password)
