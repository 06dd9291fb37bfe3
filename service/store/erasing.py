"""Erasing one vehicle: its readings go, its tickets and work stay under a name that says nothing.

What was counted stays counted: reports, costs and the track record keep their totals. This is the one place
that rewrites what is otherwise never rewritten.
"""

from datetime import datetime
from typing import Any, Final

import msgspec
from sqlalchemy import Column, delete, func, or_, select, update

from service.store.columns import to_day
from service.store.errors import NotFound
from service.store.holds import Holds
from service.store.packing import from_text, pack, to_text, unpack
from service.store.pseudonym import Pseudonym
from service.store.records import work_identity
from service.store.tables import (
    ASSESSMENT,
    CORRECTED,
    DAILY,
    DEPARTURE,
    DEVICE_LINK,
    ERASURE,
    EVENT,
    FORM_KEY,
    HOLD,
    OFF_ROAD,
    REFUSAL,
    REPORT,
    SNAPSHOT,
    TICKET,
    TICKET_EVENT,
    TICKET_VERSION,
    TOKEN,
    TOUCHED,
    TREND,
    UNKNOWN_NAME,
    UNKNOWN_SAMPLE,
    UPLOAD,
    VEHICLE,
    VEHICLE_DEVICE,
    WORK_RECORD,
)
from service.store.values import Erasure
from service.store.workshop import ticket_row
from service.tickets.ticket import Ticket

ERASED: Final = "erased-"
"""Start of the names that stand for erased vehicles."""

_READINGS: Final = (SNAPSHOT, DAILY, TOUCHED, VEHICLE_DEVICE, DEVICE_LINK, OFF_ROAD, HOLD)


class Erasing(Holds):
    """Erasing vehicles."""

    def erase_vehicle(self, vehicle: str, now: datetime, *, who: str) -> Erasure:
        """Take a vehicle's number, VIN and readings out of everything that is kept.

        Parameters
        ----------
        vehicle : str
            The fleet's own number.
        now : datetime
            Aware.
        who : str
            Who wants it.

        Returns
        -------
        Erasure
            Rows by table.

        Raises
        ------
        NotFound
            Nobody registered it.
        VehicleHeld
            It is on hold.
        """
        row = self._connection.execute(select(VEHICLE).where(VEHICLE.c.vehicle == vehicle)).one_or_none()
        if row is None:
            raise NotFound("vehicle", vehicle)
        self.check_not_held(vehicle)
        statement = ERASURE.insert().values(at=now, put_by=who, rows="{}").returning(ERASURE.c.number)
        number = int(self._connection.execute(statement).scalar_one())
        hide = Pseudonym(vehicle, row.vin, f"{ERASED}{number}")
        rows = self._drop_readings(row.vehicle_no, vehicle)
        rows["refusal"] = self._drop_held(hide)
        self._rename_tickets(hide)
        self._rename_work(row.vehicle_no, hide)
        self._rename_evaluations(hide)
        self._rename_log(hide)
        self._leave_tokens(hide, now)
        self._rename_vehicle(row, hide, now)
        self._connection.execute(
            update(ERASURE).where(ERASURE.c.number == number).values(rows=to_text(dict(sorted(rows.items()))))
        )
        return Erasure(name=hide.other, at=now, put_by=who, rows=rows)

    def erasures(self) -> tuple[Erasure, ...]:
        """Give what was erased, as counts, in order of time."""
        rows = self._connection.execute(select(ERASURE).order_by(ERASURE.c.number))
        return tuple(
            Erasure(
                name=f"{ERASED}{row.number}",
                at=row.at,
                put_by=row.put_by,
                rows=from_text(row.rows, dict[str, int]),
            )
            for row in rows
        )

    def _drop_readings(self, number: int, vehicle: str) -> dict[str, int]:
        found = {}
        for table in _READINGS:
            gone = self._connection.execute(delete(table).where(table.c.vehicle_no == number))
            found[table.name] = gone.rowcount
        self._connection.execute(delete(CORRECTED).where(CORRECTED.c.vehicle == vehicle))
        gone = self._connection.execute(delete(TREND).where(TREND.c.vehicle == vehicle))
        return found | {"trend": gone.rowcount}

    def _drop_held(self, hide: Pseudonym) -> int:
        """Drop what was refused or waits as a file, where it may name the vehicle."""
        self._connection.execute(delete(UPLOAD))
        self._connection.execute(delete(FORM_KEY))
        self._connection.execute(delete(DEPARTURE))  # a draft may name anything
        samples = or_(*_names(UNKNOWN_SAMPLE.c.sample, hide))
        self._connection.execute(delete(UNKNOWN_SAMPLE).where(samples))
        texts = (REFUSAL.c.payload, REFUSAL.c.detail)
        mine = or_(REFUSAL.c.vehicle == hide.name, *(one for text in texts for one in _names(text, hide)))
        return self._connection.execute(delete(REFUSAL).where(mine)).rowcount

    def _rename_tickets(self, hide: Pseudonym) -> None:
        query = select(TICKET.c.number, TICKET.c.ticket, TICKET.c.body).where(TICKET.c.vehicle == hide.name)
        for number, name, body in self._connection.execute(query).all():
            self._rename_ticket(number, name, hide.text(name), _hidden(body, hide), hide)

    def _rename_ticket(self, number: int, old: str, new: str, body: bytes, hide: Pseudonym) -> None:
        values = ticket_row(unpack(body, Ticket))
        self._connection.execute(TICKET.insert().values(**values))
        for table, key in ((TICKET_VERSION, "version"), (TICKET_EVENT, "number")):
            for row in self._connection.execute(select(table).where(table.c.ticket == old)).all():
                texts: dict[str, Any] = {"ticket": new}
                if table is TICKET_VERSION:
                    texts["body"] = _hidden(row.body, hide)
                else:
                    texts |= {name: hide.text(getattr(row, name)) for name in ("note", "facts")}
                mine = (table.c.ticket == old, table.c[key] == getattr(row, key))
                self._connection.execute(update(table).where(*mine).values(**texts))
        self._connection.execute(delete(TICKET).where(TICKET.c.number == number))
        # It keeps its place in lists and files, which are in the order of creation.
        self._connection.execute(update(TICKET).where(TICKET.c.ticket == new).values(number=number))

    def _rename_work(self, number: int, hide: Pseudonym) -> None:
        """Keep what work cost; its notes may name anything, so they go."""
        mine = select(WORK_RECORD).where(WORK_RECORD.c.vehicle_no == number)
        for row in self._connection.execute(mine).all():
            ticket = hide.text(row.ticket)
            identity = work_identity(hide.other, row.done_us, row.kind, row.cause, ticket)
            self._connection.execute(
                update(WORK_RECORD)
                .where(WORK_RECORD.c.identity == row.identity)
                .values(identity=identity, ticket=ticket, notes="")
            )

    def _rename_evaluations(self, hide: Pseudonym) -> None:
        days = self._connection.scalars(select(ASSESSMENT.c.day)).all()
        for day in days:
            one = ASSESSMENT.c.day == day
            body = self._connection.scalar(select(ASSESSMENT.c.body).where(one))
            hidden = None if body is None else _hidden(body, hide)
            if hidden is not None and hidden != body:
                self._connection.execute(update(ASSESSMENT).where(one).values(body=hidden))
        for row in self._connection.execute(select(REPORT.c.week, REPORT.c.body)).all():
            told = hide.value(msgspec.json.decode(row.body))
            body = msgspec.json.encode(told, order="sorted").decode()
            if body != row.body:
                self._connection.execute(update(REPORT).where(REPORT.c.week == row.week).values(body=body))

    def _rename_log(self, hide: Pseudonym) -> None:
        texts = ("subject", "before", "after")
        anywhere = or_(*(one for name in texts for one in _names(EVENT.c[name], hide)))
        for row in self._connection.execute(select(EVENT).where(anywhere)).all():
            values = {name: _in_log(getattr(row, name), hide) for name in texts}
            self._connection.execute(update(EVENT).where(EVENT.c.number == row.number).values(**values))

    def _leave_tokens(self, hide: Pseudonym, now: datetime) -> None:
        """Take the vehicle off every token; one for it alone ends, because an empty list means all."""
        for row in self._connection.execute(select(TOKEN.c.digest, TOKEN.c.name, TOKEN.c.vehicles)).all():
            listed = from_text(row.vehicles, list[str])
            left = [one for one in listed if one != hide.name]
            values: dict[str, Any] = {"name": hide.text(row.name), "vehicles": to_text(left)}
            if listed and not left:
                values["revoked_at"] = now
            self._connection.execute(update(TOKEN).where(TOKEN.c.digest == row.digest).values(**values))
        sources = or_(*_names(UNKNOWN_NAME.c.source, hide))
        self._connection.execute(delete(UNKNOWN_NAME).where(sources))

    def _rename_vehicle(self, row: Any, hide: Pseudonym, now: datetime) -> None:
        today = to_day(now.date())
        gone = today if row.out_of_service_on is None else min(today, row.out_of_service_on)
        values = {"vehicle": hide.other, "vin": "", "notes": "", "odometer_km": None}
        self._connection.execute(
            update(VEHICLE)
            .where(VEHICLE.c.vehicle_no == row.vehicle_no)
            .values(**values, out_of_service_on=gone, changed_at=now)
        )


def _names(column: Column[Any], hide: Pseudonym) -> list[Any]:
    """Give conditions that find texts which may hold the number or the VIN."""
    wanted = [hide.name, hide.vin] if hide.vin else [hide.name]
    return [func.lower(column).contains(one.lower(), autoescape=True) for one in wanted]


def _hidden(body: bytes, hide: Pseudonym) -> bytes:
    """Rewrite a packed value without the name."""
    return pack(hide.value(unpack(body, object)))


def _in_log(text: str, hide: Pseudonym) -> str:
    """Rewrite a text of the log, which may be JSON."""
    try:
        value = msgspec.json.decode(text)
    except msgspec.DecodeError:
        return hide.text(text)
    if not isinstance(value, dict | list):
        return hide.text(text)
    return msgspec.json.encode(hide.value(value), order="sorted").decode()
