"""What was refused, kept so that it can be mended or released; and names nobody knows."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import and_, delete, func, select, update

from ingest.batch import Refusal
from service.store.errors import NotFound
from service.store.paging import check_limit, read_cursor, write_cursor
from service.store.tables import IGNORED_NAME, REFUSAL, UNKNOWN_NAME, UNKNOWN_SAMPLE
from service.store.unit import PARAMETERS_PER_STATEMENT, Unit, chunks, clean
from service.store.values import KeptRefusal, NameSample, Page, UnknownName

_KEPT = [column for column in REFUSAL.c if column.name != "discarded_at"]
_HELD = and_(REFUSAL.c.released_at.is_(None), REFUSAL.c.discarded_at.is_(None))


class Refusals(Unit):
    """Refused items and unknown names."""

    def add_refusals(
        self, refusals: Sequence[Refusal], *, kind: str, received_at: datetime, source: str
    ) -> None:
        """Keep refused items.

        Parameters
        ----------
        refusals : sequence of Refusal
            Payloads included.
        kind : str
            `quarantined` or `rejected`.
        received_at : datetime
            Aware.
        source : str
            Who sent them.
        """
        rows = [
            {
                "kind": kind,
                "code": refusal.code,
                "detail": clean(refusal.detail),
                "field": clean(refusal.field),
                "vehicle": clean(refusal.vehicle),
                "payload": clean(refusal.payload),
                "source": clean(source),
                "received_at": received_at,
            }
            for refusal in refusals
        ]
        self._insert_rows(REFUSAL.insert(), rows)

    def refusals(
        self,
        *,
        kind: str = "",
        code: str = "",
        vehicle: str = "",
        held_only: bool = True,
        limit: int = 100,
        cursor: str = "",
    ) -> Page[KeptRefusal]:
        """List refused items, newest first; `held_only` leaves out what was released.

        Raises
        ------
        BadCursor
            Not the cursor of this list with these filters.
        """
        filters = {"kind": kind, "code": code, "vehicle": vehicle, "held_only": held_only}
        after = read_cursor("refusals", filters, cursor, (int,))
        query = select(*_KEPT).order_by(REFUSAL.c.number.desc()).limit(check_limit(limit) + 1)
        query = query.where(self._names_in_sight(REFUSAL.c.vehicle))
        for name, value in (("kind", kind), ("code", code), ("vehicle", vehicle)):
            if value:
                query = query.where(REFUSAL.c[name] == value)
        if held_only:
            query = query.where(_HELD)
        if after is not None:
            query = query.where(REFUSAL.c.number < after[0])
        rows = [_kept(row) for row in self._connection.execute(query)]
        more = len(rows) > limit
        return Page(
            rows=tuple(rows[:limit]),
            cursor=write_cursor("refusals", filters, [rows[limit - 1].number]) if more else "",
        )

    def refusal_counts(self, *, held_only: bool = True) -> dict[tuple[str, str], int]:
        """Count refused items by kind and code."""
        query = select(REFUSAL.c.kind, REFUSAL.c.code, func.count()).group_by(REFUSAL.c.kind, REFUSAL.c.code)
        query = query.where(self._names_in_sight(REFUSAL.c.vehicle))
        if held_only:
            query = query.where(_HELD)
        rows = self._connection.execute(query.order_by(REFUSAL.c.kind, REFUSAL.c.code))
        return {(kind, code): count for kind, code, count in rows}

    def release(self, numbers: Sequence[int], *, now: datetime) -> tuple[KeptRefusal, ...]:
        """Mark held items as released and give them back to be read again, in order of their numbers.

        Raises
        ------
        NotFound
            A number that no held item has; nothing is marked then.
        """
        wanted = sorted(set(numbers))
        found: list[KeptRefusal] = []
        for some in chunks(wanted, PARAMETERS_PER_STATEMENT):
            query = select(*_KEPT).where(
                REFUSAL.c.number.in_(some), _HELD, self._names_in_sight(REFUSAL.c.vehicle)
            )
            found += [_kept(row) for row in self._connection.execute(query.order_by(REFUSAL.c.number))]
        missing = sorted(set(wanted) - {item.number for item in found})
        if missing:
            raise NotFound("held item", str(missing[0]))
        for some in chunks(wanted, PARAMETERS_PER_STATEMENT):
            self._connection.execute(
                update(REFUSAL).where(REFUSAL.c.number.in_(some)).values(released_at=now)
            )
        return tuple(found)

    def discard(self, numbers: Sequence[int], *, now: datetime) -> int:
        """Mark held items as not wanted: they are kept, but listed and counted no more; gives their count."""
        statement = update(REFUSAL).where(REFUSAL.c.number.in_(numbers), _HELD)
        return self._connection.execute(statement.values(discarded_at=now)).rowcount

    def add_unknown_names(
        self, names: Mapping[str, int], personal_fields: int, *, received_at: datetime, source: str
    ) -> None:
        """Count names that no alias explains, and personal fields dropped (under the empty name)."""
        counts = {clean(name): count for name, count in names.items() if name}
        if personal_fields:
            counts[""] = personal_fields
        if not counts:
            return
        statement = self._insert(UNKNOWN_NAME)
        rows: list[dict[str, Any]] = [
            {
                "source": clean(source),
                "name": name,
                "count": count,
                "first_at": received_at,
                "last_at": received_at,
            }
            for name, count in sorted(counts.items())
        ]
        self._connection.execute(
            statement.on_conflict_do_update(
                index_elements=["source", "name"],
                set_={
                    "count": UNKNOWN_NAME.c["count"] + statement.excluded["count"],
                    "last_at": statement.excluded.last_at,
                },
            ),
            rows,
        )

    def add_samples(self, samples: Mapping[tuple[str, str], str]) -> None:
        """Keep one value of each unknown name from each device; what is kept stays."""
        rows = [
            {"name": clean(name), "device": clean(device), "sample": clean(text)}
            for (name, device), text in sorted(samples.items())
        ]
        if rows:
            self._connection.execute(self._insert(UNKNOWN_SAMPLE).on_conflict_do_nothing(), rows)

    def name_samples(self, name: str = "") -> tuple[NameSample, ...]:
        """Give the kept values of one unknown name or of all, by name and device."""
        query = select(UNKNOWN_SAMPLE).order_by(UNKNOWN_SAMPLE.c.name, UNKNOWN_SAMPLE.c.device)
        if name:
            query = query.where(UNKNOWN_SAMPLE.c.name == name)
        return tuple(NameSample(**row._mapping) for row in self._connection.execute(query))

    def ignore_name(self, name: str, now: datetime, *, who: str) -> None:
        """Say that a name needs no meaning; its values stay kept."""
        statement = self._insert(IGNORED_NAME).values(name=clean(name), put_by=who, put_at=now)
        self._connection.execute(statement.on_conflict_do_nothing())

    def heed_name(self, name: str) -> None:
        """Take back that a name needs no meaning."""
        self._connection.execute(delete(IGNORED_NAME).where(IGNORED_NAME.c.name == name))

    def ignored_names(self) -> frozenset[str]:
        """Give the names that need no meaning."""
        return frozenset(self._connection.scalars(select(IGNORED_NAME.c.name)))

    def unknown_names(self) -> tuple[UnknownName, ...]:
        """List names that no alias explains, and personal fields dropped, by source and name."""
        query = select(UNKNOWN_NAME).order_by(UNKNOWN_NAME.c.source, UNKNOWN_NAME.c.name)
        return tuple(UnknownName(**row._mapping) for row in self._connection.execute(query))


def _kept(row: Any) -> KeptRefusal:
    return KeptRefusal(**row._mapping)
