"""When vehicles are off the road or gone for good, and which device a person says sits in which vehicle."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Integer,
    Table,
    and_,
    cast,
    delete,
    literal,
    null,
    or_,
    select,
    union_all,
    update,
)

from service.store.columns import from_day, to_day
from service.store.errors import NotFound
from service.store.tables import DEVICE_LINK, OFF_ROAD, VEHICLE
from service.store.unit import Unit, clean
from service.store.values import Absence, DeviceLink, OffRoad


class Absences(Unit):
    """Days off the road, days out of service, and devices in vehicles."""

    def put_off_road(
        self, vehicle: str, *, since: date, until: date | None, reason: str, now: datetime, who: str
    ) -> None:
        """Say that a vehicle is off the road from a day on, up to and with another.

        Raises
        ------
        NotFound
            Nobody registered the vehicle.
        ValueError
            The last day lies before the first.
        """
        self._put_span(OFF_ROAD, vehicle, since, until, {"reason": clean(reason)}, now=now, who=who)

    def end_off_road(self, number: int, until: date) -> None:
        """Say which day was the last one off the road.

        Raises
        ------
        NotFound
            There is no such entry.
        ValueError
            The last day lies before the first.
        """
        self._end_span(OFF_ROAD, number, until, "off-road entry")

    def drop_off_road(self, number: int) -> None:
        """Take an entry back that was made by mistake.

        Raises
        ------
        NotFound
            There is no such entry.
        """
        if not self._connection.execute(delete(OFF_ROAD).where(OFF_ROAD.c.number == number)).rowcount:
            raise NotFound("off-road entry", str(number))

    def off_road(self, *, vehicle: str = "", on: date | None = None) -> tuple[OffRoad, ...]:
        """Give entries by vehicle and first day: of one vehicle or all, of one day or all."""
        query = select(OFF_ROAD, VEHICLE.c.vehicle).join(VEHICLE).where(self._in_sight())
        if vehicle:
            query = query.where(VEHICLE.c.vehicle == vehicle)
        if on is not None:
            query = query.where(_holds(OFF_ROAD, to_day(on)))
        rows = self._connection.execute(query.order_by(VEHICLE.c.vehicle, OFF_ROAD.c.from_day))
        return tuple(
            OffRoad(
                number=row.number,
                vehicle=row.vehicle,
                since=from_day(row.from_day),
                until=None if row.to_day is None else from_day(row.to_day),
                reason=row.reason,
                put_by=row.put_by,
            )
            for row in rows
        )

    def put_out_of_service(self, vehicle: str, since: date | None, now: datetime) -> None:
        """Say from which day on a vehicle is out of service for good; None takes it back.

        Raises
        ------
        NotFound
            Nobody registered the vehicle.
        """
        statement = update(VEHICLE).where(VEHICLE.c.vehicle == vehicle)
        day = None if since is None else to_day(since)
        if not self._connection.execute(statement.values(out_of_service_on=day, changed_at=now)).rowcount:
            raise NotFound("vehicle", vehicle)

    def gone(self) -> Mapping[str, date]:
        """Give the first day out of service of each vehicle that has one."""
        query = select(VEHICLE.c.vehicle, VEHICLE.c.out_of_service_on).where(
            VEHICLE.c.out_of_service_on.is_not(None), self._in_sight()
        )
        return {name: from_day(day) for name, day in self._connection.execute(query)}

    def absent(self, on: date) -> Mapping[str, Absence]:
        """Give who is not in service on a day: out of service for good, or off the road."""
        day = to_day(on)
        off_road = (
            select(VEHICLE.c.vehicle, literal(0), OFF_ROAD.c.from_day, OFF_ROAD.c.to_day, OFF_ROAD.c.reason)
            .join(VEHICLE)
            .where(_holds(OFF_ROAD, day), self._in_sight())
        )
        gone = select(
            VEHICLE.c.vehicle, literal(1), VEHICLE.c.out_of_service_on, cast(null(), Integer), literal("")
        ).where(VEHICLE.c.out_of_service_on <= day, self._in_sight())
        rows = sorted(self._connection.execute(union_all(off_road, gone)), key=lambda row: (row[0], row[1]))
        return {
            vehicle: Absence(
                gone=bool(is_gone),
                since=from_day(since),
                until=None if until is None else from_day(until),
                reason=reason,
            )
            for vehicle, is_gone, since, until, reason in rows
        }

    def put_device(
        self, device: str, vehicle: str, *, since: date, until: date | None = None, now: datetime, who: str
    ) -> None:
        """Say that a device sits in a vehicle from a day on; where it sat before ends the day before.

        Raises
        ------
        NotFound
            Nobody registered the vehicle.
        ValueError
            The last day lies before the first.
        """
        day = to_day(since)
        mine = DEVICE_LINK.c.device == device
        self._connection.execute(delete(DEVICE_LINK).where(mine, DEVICE_LINK.c.from_day == day))
        self._connection.execute(
            update(DEVICE_LINK).where(mine, _holds(DEVICE_LINK, day)).values(to_day=day - 1)
        )
        self._put_span(DEVICE_LINK, vehicle, since, until, {"device": clean(device)}, now=now, who=who)

    def device_links(self, vehicle: str = "") -> tuple[DeviceLink, ...]:
        """Give which device sat where, by device and first day, of one vehicle or all."""
        query = select(DEVICE_LINK, VEHICLE.c.vehicle).join(VEHICLE).where(self._in_sight())
        if vehicle:
            query = query.where(VEHICLE.c.vehicle == vehicle)
        return tuple(
            DeviceLink(
                number=row.number,
                device=row.device,
                vehicle=row.vehicle,
                since=from_day(row.from_day),
                until=None if row.to_day is None else from_day(row.to_day),
                put_by=row.put_by,
            )
            for row in self._connection.execute(
                query.order_by(DEVICE_LINK.c.device, DEVICE_LINK.c.from_day, DEVICE_LINK.c.number)
            )
        )

    def _put_span(
        self,
        table: Table,
        vehicle: str,
        since: date,
        until: date | None,
        more: Mapping[str, Any],
        *,
        now: datetime,
        who: str,
    ) -> None:
        number = self._vehicle_numbers([vehicle]).get(vehicle)
        if number is None:
            raise NotFound("vehicle", vehicle)
        if until is not None and until < since:
            raise ValueError(f"The last day, {until}, lies before the first, {since}.")
        self._connection.execute(
            table.insert().values(
                vehicle_no=number,
                from_day=to_day(since),
                to_day=None if until is None else to_day(until),
                put_by=who,
                put_at=now,
                **more,
            )
        )

    def _end_span(self, table: Table, number: int, until: date, kind: str) -> None:
        first = self._connection.scalar(select(table.c.from_day).where(table.c.number == number))
        if first is None:
            raise NotFound(kind, str(number))
        if to_day(until) < first:
            raise ValueError(f"The last day, {until}, lies before the first, {from_day(first)}.")
        self._connection.execute(update(table).where(table.c.number == number).values(to_day=to_day(until)))


def _holds(table: Table, day: int) -> ColumnElement[bool]:
    """Give the condition that a span from `from_day` to `to_day`, which may be open, holds a day."""
    return and_(table.c.from_day <= day, or_(table.c.to_day.is_(None), table.c.to_day >= day))
