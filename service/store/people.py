"""Keys, the event log, and the fleet's settings that people change."""

from collections.abc import Mapping
from dataclasses import fields
from datetime import datetime, timedelta
from typing import Any, Final

from sqlalchemy import func, or_, select, update

from service.auth.tokens import ApiToken
from service.store.errors import AlreadyThere, NotFound
from service.store.packing import from_text, to_text
from service.store.paging import check_limit, read_cursor, write_cursor
from service.store.tables import EVENT, PREFERENCE, TOKEN
from service.store.unit import Unit, clean, in_one_line
from service.store.values import Actor, LogEntry, Page, TokenUse

NOTED_EVERY: Final = timedelta(minutes=1)
"""How old the note of a token's last use gets before it is written anew; chosen by us: as for sign-ins."""

OFFSET_NOTED_S: Final = 5.0
"""Change of a sender's clock that is noted at once [s]; chosen by us: less is the way to the service."""


class People(Unit):
    """Tokens, the append-only event log, and settings."""

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
        """Keep when a token was used to send; an offset that is not known leaves the kept one.

        Written once a minute, or when the clock is off by more than before: every write takes turns with the
        other senders of the same token until its commit, which a fleet's only token would feel.
        """
        values: dict[str, Any] = {"seen_at": now}
        is_news = [TOKEN.c.seen_at.is_(None), TOKEN.c.seen_at < now - NOTED_EVERY]
        if clock_offset_s is not None:
            values["clock_offset_s"] = clock_offset_s
            moved = func.abs(TOKEN.c.clock_offset_s - clock_offset_s) > OFFSET_NOTED_S
            is_news += [TOKEN.c.clock_offset_s.is_(None), moved]
        self._connection.execute(update(TOKEN).where(TOKEN.c.name == name, or_(*is_news)).values(**values))

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
        """Append a line to the event log; none is ever removed, and only an erasure takes names out."""
        texts = {
            "who": who,
            "what": what,
            "subject": subject,
            "before": before,
            "after": after,
            "source": source,
        }
        self._connection.execute(
            EVENT.insert().values(at=at, **{name: in_one_line(text) for name, text in texts.items()})
        )
        self._has_told = True

    def tell_for(self, actor: Actor) -> None:
        """Append a line for whoever the unit of work acts for, unless it has said itself what was done."""
        if not self._has_told:
            self.log_event(
                at=actor.at, who=actor.who, what=actor.what, subject=actor.subject, source=actor.source
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
