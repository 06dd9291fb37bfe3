"""What is done to accounts, from pages and commands alike: checked, logged, sign-ins ended."""

from dataclasses import dataclass, replace
from datetime import datetime

from service.auth.errors import WrongPerson
from service.auth.people import ISSUED_FOR, check_admin_stays, check_person
from service.auth.tries import key_of
from service.store import Person, Work


@dataclass(frozen=True, slots=True, kw_only=True)
class By:
    """Who changes an account, when and from where.

    Parameters
    ----------
    who : str
        Login, or `command line`.
    at : datetime
        Aware.
    source : str
        Address; empty on the machine itself.
    """

    who: str
    at: datetime
    source: str = ""


def describe(person: Person) -> str:
    """Say in a few words what an account may do, for the event log."""
    where = f", {person.depot}" if person.depot else ""
    only = " only" if person.depot_only else ""
    return f"{person.role}{where}{only}" + (", disabled" if person.disabled_at else "")


def add_person(
    work: Work, login: str, role: str, encoded: str, by: By, *, depot: str = "", depot_only: bool = False
) -> Person:
    """Make an account whose password is good for a week, until its owner has chosen another.

    Parameters
    ----------
    work : Work
        Not committed here.
    login, role, depot, depot_only
        As in the account.
    encoded : str
        Hash of the password that is handed over.
    by : By
        Who makes it.

    Raises
    ------
    WrongPerson, AlreadyThere
        It cannot be meant, or the login is taken.
    """
    check_person(login, role, depot=depot, depot_only=depot_only)
    person = Person(
        login=login,
        role=role,
        password=encoded,
        created_at=by.at,
        depot=depot,
        depot_only=depot_only,
        password_until=by.at + ISSUED_FOR,
    )
    work.add_person(person)
    _log(work, by, "account made", person.login, after=describe(person))
    return person


def find_person(work: Work, login: str) -> Person:
    """Give an account.

    Raises
    ------
    WrongPerson
        There is none.
    """
    person = work.person(login)
    if person is None:
        raise WrongPerson("person", f"Nobody has the login {login!r} here.")
    return person


def change_person(work: Work, login: str, by: By, *, role: str, depot: str, depot_only: bool) -> Person:
    """Change role and depot; whoever loses rights loses them with the next page.

    Raises
    ------
    WrongPerson, LastAdmin
        It cannot be meant, or no administrator would be left.
    """
    check_person(login, role, depot=depot, depot_only=depot_only)
    before = find_person(work, login)
    after = replace(before, role=role, depot=depot, depot_only=depot_only)
    return _keep(work, before, after, by, "account changed")


def disable_person(work: Work, login: str, by: By) -> Person:
    """Keep a person from signing in, and end every sign-in there is.

    Raises
    ------
    WrongPerson, LastAdmin
        There is no such account, or no administrator would be left.
    """
    before = find_person(work, login)
    after = _keep(work, before, replace(before, disabled_at=by.at), by, "account disabled")
    work.end_sign_ins(login=login)
    return after


def enable_person(work: Work, login: str, by: By) -> Person:
    """Let a person sign in again.

    Raises
    ------
    WrongPerson
        There is no such account.
    """
    before = find_person(work, login)
    return _keep(work, before, replace(before, disabled_at=None), by, "account enabled")


def issue_password(work: Work, login: str, encoded: str, by: By) -> Person:
    """Give a person a password that is good for a week, and end every sign-in there is.

    Raises
    ------
    WrongPerson
        There is no such account.
    """
    person = replace(find_person(work, login), password=encoded, password_until=by.at + ISSUED_FOR)
    work.put_person(person)
    work.end_sign_ins(login=login)
    unlock_person(work, login)
    _log(work, by, "password set for another", login)
    return person


def choose_password(work: Work, login: str, encoded: str, by: By) -> Person:
    """Keep the password that a person chose, and end every sign-in there is."""
    person = replace(find_person(work, login), password=encoded, password_until=None)
    work.put_person(person)
    work.end_sign_ins(login=login)
    _log(work, by, "password changed", login)
    return person


def end_sessions(work: Work, login: str, by: By) -> None:
    """End every sign-in of a person.

    Raises
    ------
    WrongPerson
        There is no such account.
    """
    ended = work.end_sign_ins(login=find_person(work, login).login)
    _log(work, by, "sign-ins ended", login, before=str(ended))


def release_person(work: Work, login: str, by: By) -> Person:
    """Forget who a login is at the sign-in provider, and end every sign-in there is.

    Raises
    ------
    WrongPerson
        There is no such account.
    """
    person = replace(find_person(work, login), subject="")
    work.put_person(person)
    work.end_sign_ins(login=login)
    _log(work, by, "released from the provider", login)
    return person


def unlock_person(work: Work, login: str) -> None:
    """Forget failed tries for a login, whether or not there is such an account."""
    work.forget_attempts(key=key_of("login", login))


def _keep(work: Work, before: Person, after: Person, by: By, what: str) -> Person:
    check_admin_stays(work.people(to_change=True), after)
    work.put_person(after)
    _log(work, by, what, after.login, before=describe(before), after=describe(after))
    return after


def _log(work: Work, by: By, what: str, login: str, *, before: str = "", after: str = "") -> None:
    work.log_event(
        at=by.at, who=by.who, what=what, subject=login, before=before, after=after, source=by.source
    )
