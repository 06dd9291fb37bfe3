"""Holds: vehicles of which nothing may be removed, by retention or erasure, until somebody lifts it."""

from datetime import datetime
from typing import Any

from sqlalchemy import select, update

from service.store.errors import AlreadyThere, NotFound, VehicleHeld
from service.store.tables import HOLD, VEHICLE
from service.store.unit import Unit, clean
from service.store.values import Hold


class Holds(Unit):
    """Holds of vehicles."""

    def put_hold(self, vehicle: str, reason: str, now: datetime, *, who: str) -> None:
        """Keep everything of a vehicle from being removed.

        Raises
        ------
        NotFound
            Nobody registered the vehicle.
        AlreadyThere
            It is on hold.
        ValueError
            No reason is given.
        """
        if not reason.strip():
            raise ValueError("A hold needs its reason.")
        number = self._vehicle_numbers([vehicle]).get(vehicle)
        if number is None:
            raise NotFound("vehicle", vehicle)
        if self._reason(vehicle) is not None:
            raise AlreadyThere("hold on", vehicle)
        values = {"vehicle_no": number, "reason": clean(reason.strip()), "put_by": who, "put_at": now}
        self._connection.execute(HOLD.insert().values(**values))

    def lift_hold(self, vehicle: str, now: datetime, *, who: str) -> None:
        """Let retention and erasure have a vehicle again.

        Raises
        ------
        NotFound
            It is not on hold.
        """
        mine = select(VEHICLE.c.vehicle_no).where(VEHICLE.c.vehicle == vehicle)
        lifted = update(HOLD).where(HOLD.c.vehicle_no.in_(mine), HOLD.c.lifted_at.is_(None))
        if not self._connection.execute(lifted.values(lifted_by=who, lifted_at=now)).rowcount:
            raise NotFound("hold on", vehicle)

    def holds(self, *, lifted: bool = False) -> tuple[Hold, ...]:
        """List the holds in force by vehicle; with `lifted` those that were lifted, too, the newest first."""
        query = select(HOLD, VEHICLE.c.vehicle).join(VEHICLE, VEHICLE.c.vehicle_no == HOLD.c.vehicle_no)
        if lifted:
            query = query.order_by(HOLD.c.number.desc())
        else:
            query = query.where(HOLD.c.lifted_at.is_(None)).order_by(VEHICLE.c.vehicle)
        return tuple(_hold(dict(row._mapping)) for row in self._connection.execute(query))

    def check_not_held(self, vehicle: str) -> None:
        """Pass only a vehicle that is not on hold.

        Raises
        ------
        VehicleHeld
            It is; nothing of it may be removed.
        """
        reason = self._reason(vehicle)
        if reason is not None:
            raise VehicleHeld(vehicle, reason)

    def _reason(self, vehicle: str) -> str | None:
        query = select(HOLD.c.reason).join(VEHICLE, VEHICLE.c.vehicle_no == HOLD.c.vehicle_no)
        return self._connection.scalar(query.where(VEHICLE.c.vehicle == vehicle, HOLD.c.lifted_at.is_(None)))


def _hold(values: dict[str, Any]) -> Hold:
    del values["vehicle_no"]
    return Hold(**values)
