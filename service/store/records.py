"""Work records: what was done to vehicles, and what drivers complained about."""

import hashlib
from collections.abc import Sequence
from datetime import datetime
from typing import Any

import numpy as np
from sqlalchemy import and_, delete, select, tuple_, update

from ingest.batch import Refusal
from ingest.records import WorkRecord
from service.store.columns import from_us, to_us
from service.store.errors import NotFound
from service.store.packing import to_text
from service.store.paging import check_limit, read_cursor, write_cursor
from service.store.tables import TICKET, VEHICLE, WORK_RECORD
from service.store.unit import PARAMETERS_PER_STATEMENT, Place, Unit, chunks, clean
from service.store.values import KeptWork, Loads, Page
from service.store.zones import local_days

_COMPARED = ("parts_cost", "labour_hours", "notes", "odometer_km", "relearn_done", "parts")


class Records(Unit):
    """Work records."""

    def put_work(self, rows: Sequence[WorkRecord], now: datetime, *, who: str = "system") -> Loads:
        """Keep work records.

        Parameters
        ----------
        rows : sequence of WorkRecord
            Vehicle, time, kind, cause and ticket say which record it is; loading one twice changes nothing.
        now : datetime
            Aware.
        who : str
            Who recorded them.

        Returns
        -------
        Loads
            Refused: a vehicle nobody registered (`unknown-vehicle`), a ticket that does not exist
            (`unknown-ticket`), or one of another vehicle (`ticket-of-another-vehicle`).
        """
        places = self._places(row.vehicle for row in rows)
        owners = self.ticket_vehicles([row.ticket for row in rows if row.ticket])
        added = changed = same = 0
        refused = []
        for index, row in enumerate(rows):
            refusal = _refuse(index, row, places, owners)
            if refusal is not None:
                refused.append(refusal)
                continue
            outcome = self._put_record(row, places[row.vehicle], now, who)
            added += outcome == "added"
            changed += outcome == "changed"
            same += outcome == "same"
        return Loads(added=added, changed=changed, same=same, refused=tuple(refused))

    def work_records(
        self,
        *,
        vehicle: str = "",
        ticket: str = "",
        from_day: int | None = None,
        up_to_day: int | None = None,
    ) -> tuple[KeptWork, ...]:
        """Give work records by local day done, both ends included, sorted by vehicle and time."""
        conditions: list[Any] = [self._in_sight()]
        if vehicle:
            conditions.append(VEHICLE.c.vehicle == vehicle)
        if ticket:
            conditions.append(WORK_RECORD.c.ticket == ticket)
        if from_day is not None:
            conditions.append(WORK_RECORD.c.day >= from_day)
        if up_to_day is not None:
            conditions.append(WORK_RECORD.c.day <= up_to_day)
        query = (
            select(WORK_RECORD, VEHICLE.c.vehicle)
            .join(VEHICLE)
            .where(and_(True, *conditions))
            .order_by(VEHICLE.c.vehicle, WORK_RECORD.c.done_us, WORK_RECORD.c.identity)
        )
        return tuple(_kept(row) for row in self._connection.execute(query))

    def work_page(
        self, *, vehicle: str = "", kind: str = "", limit: int = 100, cursor: str = ""
    ) -> Page[KeptWork]:
        """List work records, newest done first.

        Raises
        ------
        BadCursor
            Not the cursor of this list with these filters.
        """
        filters = {"vehicle": vehicle, "kind": kind}
        after = read_cursor("work", filters, cursor, (int, str))
        key = (WORK_RECORD.c.done_us, WORK_RECORD.c.identity)
        query = select(WORK_RECORD, VEHICLE.c.vehicle).join(VEHICLE).where(self._in_sight())
        if vehicle:
            query = query.where(VEHICLE.c.vehicle == vehicle)
        if kind:
            query = query.where(WORK_RECORD.c.kind == kind)
        if after is not None:
            query = query.where(tuple_(*key) < (after[0], bytes.fromhex(str(after[1]))))
        query = query.order_by(*(column.desc() for column in key)).limit(check_limit(limit) + 1)
        rows = self._connection.execute(query).all()
        following = ""
        if len(rows) > limit:
            last = rows[limit - 1]
            following = write_cursor("work", filters, [last.done_us, bytes(last.identity).hex()])
        return Page(rows=tuple(_kept(row) for row in rows[:limit]), cursor=following)

    def repair_hours(self) -> tuple[tuple[str, float], ...]:
        """Give cause and hours [h] of every repair that has both on record, sorted."""
        query = (
            select(WORK_RECORD.c.cause, WORK_RECORD.c.labour_hours)
            .where(
                WORK_RECORD.c.kind == "repair",
                WORK_RECORD.c.cause != "",
                WORK_RECORD.c.labour_hours.is_not(None),
            )
            .order_by(WORK_RECORD.c.cause, WORK_RECORD.c.labour_hours)
        )
        return tuple((row.cause, row.labour_hours) for row in self._connection.execute(query))

    def delete_work(self, number: str) -> None:
        """Take one work record back, named by its `number`.

        Raises
        ------
        NotFound
            There is none.
        """
        try:
            identity = bytes.fromhex(number)
        except ValueError:
            raise NotFound("work record", number) from None
        statement = delete(WORK_RECORD).where(WORK_RECORD.c.identity == identity)
        if self.depot:
            seen = select(VEHICLE.c.vehicle_no).where(self._in_sight())
            statement = statement.where(WORK_RECORD.c.vehicle_no.in_(seen))
        if not self._connection.execute(statement).rowcount:
            raise NotFound("work record", number)

    def ticket_vehicles(self, tickets: Sequence[str]) -> dict[str, str]:
        """Give the vehicle of each ticket by its number; unknown ones are left out."""
        found: dict[str, str] = {}
        for some in chunks(sorted(set(tickets)), PARAMETERS_PER_STATEMENT):
            query = select(TICKET.c.ticket, TICKET.c.vehicle).where(TICKET.c.ticket.in_(some))
            found.update((ticket, vehicle) for ticket, vehicle in self._connection.execute(query))
        return found

    def _put_record(self, row: WorkRecord, place: Place, now: datetime, who: str) -> str:
        number, zone, _ = place
        identity = _identity(row)
        values = {
            "parts_cost": row.parts_cost,
            "labour_hours": row.labour_hours,
            "notes": clean(row.notes),
            "odometer_km": row.odometer_km,
            "relearn_done": None if row.relearn_done is None else int(row.relearn_done),
            "parts": clean(row.parts),
        }
        before = self._connection.execute(
            select(WORK_RECORD).where(WORK_RECORD.c.identity == identity)
        ).one_or_none()
        if before is not None:
            if all(before._mapping[name] == values[name] for name in _COMPARED):
                return "same"
            self._connection.execute(
                update(WORK_RECORD)
                .where(WORK_RECORD.c.identity == identity)
                .values(**values, recorded_at=now, recorded_by=who)
            )
            return "changed"
        done_us = to_us(row.done_at)
        self._connection.execute(
            WORK_RECORD.insert().values(
                identity=identity,
                vehicle_no=number,
                done_us=done_us,
                day=int(local_days(np.array([done_us], dtype=np.int64), zone)[0]),
                kind=row.kind,
                cause=row.cause,
                ticket=row.ticket,
                recorded_at=now,
                recorded_by=who,
                **values,
            )
        )
        return "added"


def _identity(row: WorkRecord) -> bytes:
    return work_identity(row.vehicle, to_us(row.done_at), row.kind, row.cause, row.ticket)


def work_identity(vehicle: str, done_us: int, kind: str, cause: str, ticket: str) -> bytes:
    """Give the 16 bytes by which a work record is known."""
    key = "\0".join((vehicle, str(done_us), kind, cause, ticket))
    return hashlib.blake2b(key.encode(), digest_size=16).digest()


def _refuse(index: int, row: WorkRecord, places: dict[str, Place], owners: dict[str, str]) -> Refusal | None:
    if row.vehicle not in places:
        code, field, detail = "unknown-vehicle", "vehicle", f"Nobody registered a vehicle {row.vehicle!r}."
    elif row.ticket and row.ticket not in owners:
        code, field, detail = "unknown-ticket", "ticket", f"There is no ticket {row.ticket!r}."
    elif row.ticket and owners[row.ticket] != row.vehicle:
        code, field = "ticket-of-another-vehicle", "ticket"
        detail = f"Ticket {row.ticket!r} belongs to vehicle {owners[row.ticket]!r}, not to {row.vehicle!r}."
    else:
        return None
    return Refusal(
        index=index, code=code, field=field, detail=detail, payload=to_text(row), vehicle=row.vehicle
    )


def _kept(row: Any) -> KeptWork:
    return KeptWork(
        number=bytes(row.identity).hex(),
        vehicle=row.vehicle,
        done_at=from_us(row.done_us),
        day=row.day,
        kind=row.kind,
        cause=row.cause,
        ticket=row.ticket,
        parts_cost=row.parts_cost,
        labour_hours=row.labour_hours,
        notes=row.notes,
        recorded_at=row.recorded_at,
        recorded_by=row.recorded_by,
        odometer_km=row.odometer_km,
        relearn_done=None if row.relearn_done is None else bool(row.relearn_done),
        parts=row.parts,
    )
