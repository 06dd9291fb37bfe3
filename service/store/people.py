"""Keys, accounts, sign-ins and the event log."""

from collections.abc import Mapping
from dataclasses import fields
from datetime import datetime
from typing import Any

from sqlalchemy import delete, select, update

from service.auth.tokens import ApiToken
from service.store.errors import AlreadyThere, NotFound
from service.store.packing import from_text, to_text
from service.store.paging import check_limit, read_cursor, write_cursor
from service.store.tables import EVENT, PERSON, PREFERENCE, SIGN_IN, TOKEN
from service.store.unit import Unit, clean
from service.store.values import LogEntry, Page, Person, SignIn, TokenUse


class People(Unit):
    """Tokens, accounts, sign-ins and the append-only event log."""

    def put_token(self, token: ApiToken) -> None:
        """Keep a new token.

        Raises
        ------
        AlreadyThere
            The name is taken.
        """
        values = {
            "digest": token.digest,
            "name": token.name,
            "prefix": token.prefix,
            "scopes": to_text(token.scopes),
            "vehicles": to_text(token.vehicles),
            "created_at": token.created_at,
            "expires_at": token.expires_at,
            "revoked_at": token.revoked_at,
        }
        statement = self._insert(TOKEN).values(**values).on_conflict_do_nothing()
        if self._connection.execute(statement.returning(TOKEN.c.name)).first() is None:
            raise AlreadyThere("token", token.name)

    def find_token(self, digest: str) -> ApiToken | None:
        """Find a token by its digest; None where there is none."""
        row = self._connection.execute(select(TOKEN).where(TOKEN.c.digest == digest)).one_or_none()
        return None if row is None else _token(row)

    def tokens(self) -> tuple[ApiToken, ...]:
        """List tokens by name, revoked ones included."""
        return tuple(_token(row) for row in self._connection.execute(select(TOKEN).order_by(TOKEN.c.name)))

    def token_uses(self) -> tuple[TokenUse, ...]:
        """Give when each token was last used and how far its sender's clock was off, by name."""
        query = select(TOKEN.c.name, TOKEN.c.seen_at, TOKEN.c.clock_offset_s).order_by(TOKEN.c.name)
        return tuple(TokenUse(**row._mapping) for row in self._connection.execute(query))

    def note_use(self, name: str, now: datetime, clock_offset_s: float | None) -> None:
        """Keep when a token was used to send; an offset that is not known leaves the kept one."""
        values: dict[str, Any] = {"seen_at": now}
        if clock_offset_s is not None:
            values["clock_offset_s"] = clock_offset_s
        self._connection.execute(update(TOKEN).where(TOKEN.c.name == name).values(**values))

    def retire_token(self, name: str, retired: str, until: datetime) -> None:
        """Give a token another name and an end, so that its successor can take the name.

        Raises
        ------
        NotFound
            No token of that name is in use.
        """
        statement = update(TOKEN).where(TOKEN.c.name == name, TOKEN.c.revoked_at.is_(None))
        if not self._connection.execute(statement.values(name=retired, expires_at=until)).rowcount:
            raise NotFound("token", name)

    def revoke_token(self, name: str, now: datetime) -> bool:
        """Revoke a token; False when it was revoked before.

        Raises
        ------
        NotFound
            No token has that name.
        """
        mine = TOKEN.c.name == name
        changed = self._connection.execute(
            update(TOKEN).where(mine, TOKEN.c.revoked_at.is_(None)).values(revoked_at=now)
        )
        if changed.rowcount:
            return True
        if self._connection.scalar(select(TOKEN.c.name).where(mine)) is None:
            raise NotFound("token", name)
        return False

    def put_person(self, person: Person) -> None:
        """Keep an account, replacing an earlier state of it."""
        values = {
            "role": person.role,
            "password": person.password,
            "created_at": person.created_at,
            "failures": person.failures,
            "locked_until": person.locked_until,
            "disabled_at": person.disabled_at,
            "preferences": to_text(dict(person.preferences)),
        }
        statement = self._insert(PERSON).values(login=person.login, **values)
        self._connection.execute(statement.on_conflict_do_update(index_elements=["login"], set_=values))

    def person(self, login: str) -> Person | None:
        """Find an account; None where there is none."""
        row = self._connection.execute(select(PERSON).where(PERSON.c.login == login)).one_or_none()
        return None if row is None else _person(row)

    def people(self) -> tuple[Person, ...]:
        """List accounts by login."""
        return tuple(
            _person(row) for row in self._connection.execute(select(PERSON).order_by(PERSON.c.login))
        )

    def put_sign_in(self, sign_in: SignIn) -> None:
        """Keep a new sign-in of a person who has an account."""
        self._connection.execute(
            SIGN_IN.insert().values(
                digest=sign_in.digest,
                login=sign_in.login,
                created_at=sign_in.created_at,
                expires_at=sign_in.expires_at,
            )
        )

    def find_sign_in(self, digest: str) -> SignIn | None:
        """Find a sign-in by the digest of its cookie; None where there is none."""
        row = self._connection.execute(select(SIGN_IN).where(SIGN_IN.c.digest == digest)).one_or_none()
        return None if row is None else SignIn(**row._mapping)

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

    def log_event(
        self,
        *,
        at: datetime,
        who: str,
        what: str,
        subject: str,
        before: str = "",
        after: str = "",
        source: str = "",
    ) -> None:
        """Append a line to the event log; there is no way to change or remove one."""
        texts = {"who": who, "what": what, "subject": subject, "before": before, "after": after}
        self._connection.execute(
            EVENT.insert().values(
                at=at, source=clean(source), **{name: clean(text) for name, text in texts.items()}
            )
        )

    def log_entries(
        self, *, who: str = "", what: str = "", subject: str = "", limit: int = 100, cursor: str = ""
    ) -> Page[LogEntry]:
        """List the event log, newest first.

        Raises
        ------
        BadCursor
            Not the cursor of this list with these filters.
        """
        filters = {"who": who, "what": what, "subject": subject}
        after = read_cursor("log", filters, cursor, (int,))
        query = select(EVENT).order_by(EVENT.c.number.desc()).limit(check_limit(limit) + 1)
        for name, value in filters.items():
            if value:
                query = query.where(EVENT.c[name] == value)
        if after is not None:
            query = query.where(EVENT.c.number < after[0])
        rows = [LogEntry(**row._mapping) for row in self._connection.execute(query)]
        more = len(rows) > limit
        return Page(
            rows=tuple(rows[:limit]),
            cursor=write_cursor("log", filters, [rows[limit - 1].number]) if more else "",
        )

    def preferences(self) -> Mapping[str, str]:
        """Give the fleet's settings that people change on pages, by name."""
        rows = self._connection.execute(select(PREFERENCE).order_by(PREFERENCE.c.name))
        return {row.name: row.value for row in rows if not row.name.startswith("_")}

    def put_preference(self, name: str, value: str) -> None:
        """Keep one of the fleet's settings."""
        statement = self._insert(PREFERENCE).values(name=name, value=clean(value))
        self._connection.execute(
            statement.on_conflict_do_update(index_elements=["name"], set_={"value": clean(value)})
        )


def _token(row: Any) -> ApiToken:
    values = {field.name: row._mapping[field.name] for field in fields(ApiToken)}
    for name in ("scopes", "vehicles"):
        values[name] = tuple(from_text(values[name], list[str]))
    return ApiToken(**values)


def _person(row: Any) -> Person:
    return Person(**dict(row._mapping) | {"preferences": from_text(row.preferences, dict[str, str])})
