"""Accounts of people, their sign-ins, and the tries that are counted against guessing."""

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import case, delete, func, select, update

from service.store.errors import AlreadyThere
from service.store.packing import from_text, to_text
from service.store.tables import ATTEMPT, PERSON, SIGN_IN
from service.store.unit import Unit
from service.store.values import Attempts, Person, SignIn


class Accounts(Unit):
    """Accounts, sign-ins and counted tries."""

    def add_person(self, person: Person) -> None:
        """Keep a new account.

        Raises
        ------
        AlreadyThere
            The login is taken.
        """
        statement = self._insert(PERSON).values(login=person.login, **_values(person))
        added = self._connection.execute(statement.on_conflict_do_nothing().returning(PERSON.c.login))
        if added.first() is None:
            raise AlreadyThere("person", person.login)

    def put_person(self, person: Person) -> None:
        """Keep an account, replacing an earlier state of it."""
        values = _values(person)
        statement = self._insert(PERSON).values(login=person.login, **values)
        self._connection.execute(statement.on_conflict_do_update(index_elements=["login"], set_=values))

    def renew_hash(self, login: str, outdated: str, encoded: str) -> None:
        """Replace the hash of a password by a newer one of the same password, unless it has changed since."""
        mine = (PERSON.c.login == login, PERSON.c.password == outdated)
        self._connection.execute(update(PERSON).where(*mine).values(password=encoded))

    def tie_person(self, login: str, subject: str) -> bool:
        """Tie an account to somebody at the sign-in provider; False where it is tied to somebody else."""
        mine = (PERSON.c.login == login, PERSON.c.subject.in_(("", subject)))
        return bool(self._connection.execute(update(PERSON).where(*mine).values(subject=subject)).rowcount)

    def put_preferences(self, login: str, preferences: Mapping[str, str]) -> None:
        """Keep what a person prefers to see, such as units."""
        self._connection.execute(
            update(PERSON).where(PERSON.c.login == login).values(preferences=to_text(dict(preferences)))
        )

    def person(self, login: str) -> Person | None:
        """Find an account; None where there is none."""
        row = self._connection.execute(select(PERSON).where(PERSON.c.login == login)).one_or_none()
        return None if row is None else _person(dict(row._mapping))

    def people(self, *, to_change: bool = False) -> tuple[Person, ...]:
        """List accounts by login.

        Parameters
        ----------
        to_change : bool
            Keep others from changing any of them until this unit of work ends.
        """
        query = select(PERSON).order_by(PERSON.c.login)
        if to_change:
            # SQLite, which knows no such lock, lets one unit of work write at a time anyway.
            query = query.with_for_update()
        return tuple(_person(dict(row._mapping)) for row in self._connection.execute(query))

    def last_visits(self) -> dict[str, datetime]:
        """Give when each person who is signed in was seen last, by login."""
        query = select(SIGN_IN.c.login, func.max(SIGN_IN.c.seen_at)).group_by(SIGN_IN.c.login)
        return {row[0]: row[1] for row in self._connection.execute(query)}

    def put_sign_in(self, sign_in: SignIn) -> None:
        """Keep a new sign-in of a person who has an account."""
        self._connection.execute(
            SIGN_IN.insert().values(
                digest=sign_in.digest,
                login=sign_in.login,
                created_at=sign_in.created_at,
                expires_at=sign_in.expires_at,
                seen_at=sign_in.seen_at,
                way=sign_in.way,
            )
        )

    def find_visit(self, digest: str) -> tuple[SignIn, Person] | None:
        """Find a sign-in by the digest of its cookie, with its person, in one statement; None for none."""
        marked = [SIGN_IN.c[name].label(f"sign_in_{name}") for name in _SIGN_IN]
        query = select(PERSON, *marked).join(SIGN_IN, SIGN_IN.c.login == PERSON.c.login)
        row = self._connection.execute(query.where(SIGN_IN.c.digest == digest)).one_or_none()
        if row is None:
            return None
        values = dict(row._mapping)
        sign_in = SignIn(**{name: values.pop(f"sign_in_{name}") for name in _SIGN_IN})
        return sign_in, _person(values)

    def touch_sign_in(self, digest: str, now: datetime) -> None:
        """Note that a sign-in is in use."""
        self._connection.execute(update(SIGN_IN).where(SIGN_IN.c.digest == digest).values(seen_at=now))

    def end_sign_in(self, digest: str) -> None:
        """End one sign-in; one that has ended stays so."""
        self._connection.execute(delete(SIGN_IN).where(SIGN_IN.c.digest == digest))

    def end_sign_ins(self, *, login: str = "", expired_by: datetime | None = None) -> int:
        """End all sign-ins of a person, or all that expired by a time; gives their count.

        Raises
        ------
        ValueError
            Neither is given: everybody would be signed out.
        """
        if not login and expired_by is None:
            raise ValueError("Name the person whose sign-ins end, or the time by which they expired.")
        statement = delete(SIGN_IN)
        if login:
            statement = statement.where(SIGN_IN.c.login == login)
        if expired_by is not None:
            statement = statement.where(SIGN_IN.c.expires_at <= expired_by)
        return self._connection.execute(statement).rowcount

    def attempts(self, key: str) -> Attempts:
        """Give what is counted under a key; nothing counted is no failure."""
        query = select(ATTEMPT.c.failures, ATTEMPT.c.locked_until).where(ATTEMPT.c.key == key)
        row = self._connection.execute(query).one_or_none()
        return Attempts() if row is None else Attempts(**row._mapping)

    def count_attempt(self, key: str, now: datetime, *, forget_after: timedelta) -> int:
        """Count one more try under a key, in one statement so that none is lost; gives their number.

        Parameters
        ----------
        key : str
            Of the login, or of the address that it comes from.
        now : datetime
            Aware.
        forget_after : timedelta
            After so long without a try counting starts anew.
        """
        statement = self._insert(ATTEMPT).values(key=key, failures=1, last_at=now)
        counted = case((ATTEMPT.c.last_at < now - forget_after, 1), else_=ATTEMPT.c.failures + 1)
        statement = statement.on_conflict_do_update(
            index_elements=["key"], set_={"failures": counted, "last_at": now}
        )
        return int(self._connection.execute(statement.returning(ATTEMPT.c.failures)).scalar_one())

    def lock_attempts(self, key: str, until: datetime) -> None:
        """Refuse further tries under a key until a time."""
        self._connection.execute(update(ATTEMPT).where(ATTEMPT.c.key == key).values(locked_until=until))

    def forget_attempts(self, *, key: str = "", before: datetime | None = None) -> None:
        """Forget what was counted under a key, or under all that were not tried since a time."""
        if key:
            self._connection.execute(delete(ATTEMPT).where(ATTEMPT.c.key == key))
        if before is not None:
            self._connection.execute(delete(ATTEMPT).where(ATTEMPT.c.last_at < before))


_SIGN_IN = tuple(SignIn.__dataclass_fields__)


def _values(person: Person) -> dict[str, Any]:
    return {
        "role": person.role,
        "password": person.password,
        "created_at": person.created_at,
        "disabled_at": person.disabled_at,
        "preferences": to_text(dict(person.preferences)),
        "depot": person.depot,
        "depot_only": int(person.depot_only),
        "password_until": person.password_until,
        "subject": person.subject,
    }


def _person(values: dict[str, Any]) -> Person:
    values["preferences"] = from_text(values["preferences"], dict[str, str])
    values["depot_only"] = bool(values["depot_only"])
    return Person(**values)
