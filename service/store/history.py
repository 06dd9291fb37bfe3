"""Reading what was kept: snapshots, newest readings and exposure."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any, Final

import numpy as np
from sqlalchemy import ColumnElement, Select, and_, case, func, or_, select, true, tuple_

from ingest.parameters import CODES, NO_STATE, STATES, SWITCHES
from models.panel import Readings
from service.store.columnar import read_readings
from service.store.columns import from_us, to_us
from service.store.errors import NotFound
from service.store.paging import check_limit, read_cursor, write_cursor
from service.store.tables import (
    DEVICE_LINK,
    PARAMETER_COLUMNS,
    SNAPSHOT,
    SWITCH_COLUMNS,
    VEHICLE,
    VEHICLE_DEVICE,
)
from service.store.unit import Unit
from service.store.values import Circumstances, EngineUse, Exposure, KeptSnapshot, LastSeen, Page
from service.store.zones import DAY_US, WIDEST_OFFSET_US, local_days

_LIST: Final = "snapshots"
_MINE: Final = SNAPSHOT.c.vehicle_no == VEHICLE.c.vehicle_no
_KEY: Final = (SNAPSHOT.c.vehicle_no, SNAPSHOT.c.taken_us, SNAPSHOT.c.identity)


class History(Unit):
    """Stored snapshots, read in several ways."""

    def newest_day(self, vehicle: str) -> int | None:
        """Give the local day of a vehicle's newest snapshot; None where there is none."""
        query = (
            select(SNAPSHOT.c.day).join(VEHICLE, _MINE).where(VEHICLE.c.vehicle == vehicle, self._in_sight())
        )
        return self._connection.scalar(query.order_by(SNAPSHOT.c.taken_us.desc()).limit(1))

    def readings(self, vehicle: str, from_day: int, to_day: int) -> Readings:
        """Give one vehicle's snapshots between two local days, both included, as columns.

        Parameters
        ----------
        vehicle : str
            The fleet's own number.
        from_day, to_day : int
            [days since 1970-01-01]

        Returns
        -------
        Readings
            Sorted by time; `vehicle` is 0 throughout.

        Raises
        ------
        NotFound
            Nobody registered the vehicle.
        """
        number = self._vehicle_numbers([vehicle]).get(vehicle)
        if number is None:
            raise NotFound("vehicle", vehicle)
        found = read_readings(
            self._connection,
            [number],
            from_day * DAY_US - WIDEST_OFFSET_US,
            (to_day + 1) * DAY_US + WIDEST_OFFSET_US,
            (from_day, to_day),
        )
        return Readings(
            vehicle=np.zeros(len(found), dtype=np.int32),
            taken_us=found.taken_us,
            day=found.day,
            state=found.state,
            values=found.values,
            switches=found.switches,
        )

    def circumstances(self, vehicle: str, from_day: int, to_day: int) -> Circumstances:
        """Give odometer and time of arrival of the rows that `readings` gives for the same days."""
        number = self._vehicle_numbers([vehicle]).get(vehicle)
        if number is None:
            raise NotFound("vehicle", vehicle)
        query = (
            select(SNAPSHOT.c.odometer_km, SNAPSHOT.c.received_us)
            .where(
                SNAPSHOT.c.vehicle_no == number,
                SNAPSHOT.c.taken_us >= from_day * DAY_US - WIDEST_OFFSET_US,
                SNAPSHOT.c.taken_us < (to_day + 1) * DAY_US + WIDEST_OFFSET_US,
                SNAPSHOT.c.day.between(from_day, to_day),
            )
            .order_by(SNAPSHOT.c.taken_us, SNAPSHOT.c.identity)
        )
        rows = self._connection.execute(query).all()
        return Circumstances(
            odometer_km=np.array([row.odometer_km for row in rows], dtype=np.float64),
            received_us=np.array([row.received_us for row in rows], dtype=np.int64),
        )

    def snapshots(
        self,
        *,
        vehicle: str = "",
        state: str = "",
        from_at: datetime | None = None,
        to_at: datetime | None = None,
        known_at: datetime | None = None,
        limit: int = 100,
        cursor: str = "",
    ) -> Page[KeptSnapshot]:
        """List snapshots by vehicle (in order of registration), then time.

        Parameters
        ----------
        vehicle, state : str
            Only these; empty for all.
        from_at, to_at : datetime or None
            Taken from the first on and before the second.
        known_at : datetime or None
            Leaves out what was received later.
        limit : int
            Rows on the page.
        cursor : str
            From the page before; empty for the first.

        Returns
        -------
        Page of KeptSnapshot
            Snapshots that come while somebody pages cause no repeat and no gap.

        Raises
        ------
        BadCursor
            Not the cursor of this list with these filters.
        ValueError
            Wrong limit, or a state that does not exist.
        """
        filters = {"vehicle": vehicle, "state": state, "from": from_at, "to": to_at, "known": known_at}
        after = read_cursor(_LIST, filters, cursor, (int, int, str))
        conditions = [self._in_sight(), *_conditions(vehicle, state, from_at, to_at, known_at)]
        if after is not None:
            conditions.append(tuple_(*_KEY) > (after[0], after[1], bytes.fromhex(str(after[2]))))
        if self._is_postgresql and not vehicle:
            query = _vehicle_by_vehicle(conditions, check_limit(limit) + 1)
            if after is not None:
                query = query.where(VEHICLE.c.vehicle_no >= after[0])
        else:
            joined = select(SNAPSHOT, VEHICLE.c.vehicle).join(VEHICLE, _MINE)
            query = joined.where(and_(True, *conditions)).order_by(*_KEY).limit(check_limit(limit) + 1)
        rows = self._connection.execute(query).all()
        following = ""
        if len(rows) > limit:
            last = rows[limit - 1]
            following = write_cursor(
                _LIST, filters, [last.vehicle_no, last.taken_us, bytes(last.identity).hex()]
            )
        return Page(rows=tuple(_kept(dict(row._mapping)) for row in rows[:limit]), cursor=following)

    def snapshot_count(self) -> int:
        """Count stored snapshots."""
        return int(self._connection.scalar(select(func.count()).select_from(SNAPSHOT)) or 0)

    def late_count(self, *, from_at: datetime, to_at: datetime, received_after: datetime) -> int:
        """Count snapshots taken in a span that were received only later.

        Parameters
        ----------
        from_at, to_at : datetime
            Taken from the first on and before the second, aware.
        received_after : datetime
            Received later than this, aware.

        Returns
        -------
        int
            Found vehicle by vehicle through the index on time taken: a span is a small part of the history.
        """
        query = (
            select(func.count())
            .select_from(VEHICLE)
            .join(
                SNAPSHOT,
                and_(
                    SNAPSHOT.c.vehicle_no == VEHICLE.c.vehicle_no,
                    SNAPSHOT.c.taken_us >= to_us(from_at),
                    SNAPSHOT.c.taken_us < to_us(to_at),
                ),
            )
            .where(SNAPSHOT.c.received_us > to_us(received_after), self._in_sight())
        )
        return int(self._connection.scalar(query) or 0)

    def came_since(
        self, vehicles: Sequence[str], *, received_after: datetime, taken_before: datetime
    ) -> dict[str, tuple[int, int]]:
        """Count what came in after a moment: readings taken before another moment, and those since.

        Parameters
        ----------
        vehicles : sequence of str
            Few of them: each one's history is looked through.
        received_after, taken_before : datetime
            Aware.

        Returns
        -------
        dict of str to (int, int)
            Late and fresh readings of the vehicles that have any.
        """
        late = func.sum(case((SNAPSHOT.c.taken_us < to_us(taken_before), 1), else_=0))
        query = (
            select(VEHICLE.c.vehicle, late, func.count())
            .join(SNAPSHOT, SNAPSHOT.c.vehicle_no == VEHICLE.c.vehicle_no)
            .where(
                VEHICLE.c.vehicle.in_(vehicles),
                SNAPSHOT.c.received_us > to_us(received_after),
                self._in_sight(),
            )
            .group_by(VEHICLE.c.vehicle)
        )
        return {
            vehicle: (int(before), int(count) - int(before))
            for vehicle, before, count in self._connection.execute(query)
        }

    def last_odometer(self, vehicle: str) -> float | None:
        """Give the newest odometer [km] that a vehicle's snapshots report; None where none does."""
        query = (
            select(SNAPSHOT.c.odometer_km)
            .join(VEHICLE, VEHICLE.c.vehicle_no == SNAPSHOT.c.vehicle_no)
            .where(VEHICLE.c.vehicle == vehicle, SNAPSHOT.c.odometer_km.is_not(None))
            .order_by(SNAPSHOT.c.taken_us.desc())
            .limit(1)
        )
        return self._connection.scalar(query)

    def last_seen(self) -> tuple[LastSeen, ...]:
        """Give the newest reading of every vehicle, sorted by the fleet's own number."""
        newest = select(func.max(SNAPSHOT.c.taken_us)).where(_MINE).scalar_subquery()
        odometer = (
            select(SNAPSHOT.c.odometer_km)
            .where(_MINE, SNAPSHOT.c.odometer_km.is_not(None))
            .order_by(SNAPSHOT.c.taken_us.desc())
            .limit(1)
            .scalar_subquery()
        )
        of_newest = SNAPSHOT.alias()
        place = and_(of_newest.c.vehicle_no == VEHICLE.c.vehicle_no, of_newest.c.taken_us == newest)
        query = (
            select(
                VEHICLE.c.vehicle, of_newest.c.taken_us, of_newest.c.received_us, of_newest.c.device, odometer
            )
            .select_from(VEHICLE.outerjoin(of_newest, place))
            .where(self._in_sight())
            .order_by(VEHICLE.c.vehicle, of_newest.c.received_us)
        )
        found = {
            row[0]: LastSeen(
                vehicle=row[0],
                taken_at=None if row[1] is None else from_us(row[1]),
                received_at=None if row[2] is None else from_us(row[2]),
                device=row[3] or "",
                odometer_km=row[4],
            )
            for row in self._connection.execute(query)
        }
        return tuple(found.values())

    def odometers_back(self, since: datetime, *, by_km: float) -> tuple[tuple[str, float, float], ...]:
        """Find odometers that stand lower than they did.

        Parameters
        ----------
        since : datetime
            Readings taken from then on are compared, aware.
        by_km : float
            Least fall [km].

        Returns
        -------
        tuple of (vehicle, largest, newest)
            By the fleet's own number; both [km].
        """
        told = (_MINE, SNAPSHOT.c.odometer_km.is_not(None), SNAPSHOT.c.taken_us >= to_us(since))
        newest = (
            select(SNAPSHOT.c.odometer_km)
            .where(*told)
            .order_by(SNAPSHOT.c.taken_us.desc())
            .limit(1)
            .scalar_subquery()
        )
        largest = select(func.max(SNAPSHOT.c.odometer_km)).where(*told).scalar_subquery()
        query = (
            select(VEHICLE.c.vehicle, largest, newest)
            .where(self._in_sight(), largest - newest >= by_km)
            .order_by(VEHICLE.c.vehicle)
        )
        return tuple((row[0], row[1], row[2]) for row in self._connection.execute(query))

    def exposures(
        self, from_day: int, to_day: int, *, known_at: datetime | None = None
    ) -> tuple[Exposure, ...]:
        """Give days with readings and distance of every vehicle between two local days, both included.

        What was received after `known_at` (aware; None for now) is left out.
        """
        within = and_(SNAPSHOT.c.day.between(from_day, to_day), *_received(known_at))
        query = (
            select(
                VEHICLE.c.vehicle,
                func.count(SNAPSHOT.c.day.distinct()),
                func.count(SNAPSHOT.c.odometer_km),
                func.min(SNAPSHOT.c.odometer_km),
                func.max(SNAPSHOT.c.odometer_km),
                func.max(case((SNAPSHOT.c.odometer_km.is_not(None), SNAPSHOT.c.day)))
                - func.min(case((SNAPSHOT.c.odometer_km.is_not(None), SNAPSHOT.c.day))),
            )
            .select_from(VEHICLE.outerjoin(SNAPSHOT, and_(_MINE, within)))
            .where(self._in_sight())
            .group_by(VEHICLE.c.vehicle)
            .order_by(VEHICLE.c.vehicle)
        )
        return tuple(
            Exposure(
                vehicle=vehicle,
                days=days,
                distance_km=high - low if count > 1 else None,
                odometer_days=apart if count > 1 else 0,
            )
            for vehicle, days, count, low, high, apart in self._connection.execute(query)
        )

    def engine_use(
        self, from_day: int, to_day: int, *, known_at: datetime | None = None
    ) -> tuple[EngineUse, ...]:
        """Give how long engines were seen running between two local days, both included, by vehicle.

        A run ends where the next reading of the time since engine start is lower, or there is none. What was
        received after `known_at` (aware; None for now) is left out.
        """
        seconds = SNAPSHOT.c.runtm
        later = func.lead(seconds).over(partition_by=SNAPSHOT.c.vehicle_no, order_by=SNAPSHOT.c.taken_us)
        runs = (
            select(SNAPSHOT.c.vehicle_no, SNAPSHOT.c.day, seconds.label("seconds"), later.label("later"))
            .where(SNAPSHOT.c.day.between(from_day, to_day), seconds.is_not(None), *_received(known_at))
            .subquery()
        )
        ends = or_(runs.c.later.is_(None), runs.c.later < runs.c.seconds)
        query = (
            select(
                VEHICLE.c.vehicle,
                func.count(runs.c.day.distinct()),
                func.sum(case((ends, runs.c.seconds), else_=0.0)),
            )
            .join(runs, runs.c.vehicle_no == VEHICLE.c.vehicle_no)
            .group_by(VEHICLE.c.vehicle)
            .order_by(VEHICLE.c.vehicle)
        )
        return tuple(
            EngineUse(vehicle=vehicle, days=days, hours=total / 3600.0)
            for vehicle, days, total in self._connection.execute(query)
        )

    def device_starts(self) -> Mapping[str, tuple[tuple[int, str], ...]]:
        """Give for each vehicle its devices: first local day and name, in order of time.

        Both what readings say and what a person says counts; the same device twice in a row is one start.
        """
        reported = (
            select(VEHICLE.c.vehicle, VEHICLE.c.zone, VEHICLE_DEVICE.c.first_us, VEHICLE_DEVICE.c.device)
            .join(VEHICLE_DEVICE)
            .where(self._in_sight())
            .order_by(VEHICLE.c.vehicle)
        )
        found: dict[str, list[tuple[int, str]]] = {}
        for vehicle, zone, first_us, device in self._connection.execute(reported):
            day = int(local_days(np.array([first_us], dtype=np.int64), zone)[0])
            found.setdefault(vehicle, []).append((day, device))
        told = (
            select(VEHICLE.c.vehicle, DEVICE_LINK.c.from_day, DEVICE_LINK.c.device)
            .join(DEVICE_LINK)
            .where(self._in_sight())
        )
        for vehicle, day, device in self._connection.execute(told):
            found.setdefault(vehicle, []).append((day, device))
        starts: dict[str, tuple[tuple[int, str], ...]] = {}
        for vehicle, both in sorted(found.items()):
            own = sorted(both)
            starts[vehicle] = tuple(
                one for place, one in enumerate(own) if not place or own[place - 1][1] != one[1]
            )
        return starts


def _vehicle_by_vehicle(conditions: Sequence[Any], limit: int) -> Select[Any]:
    """Write a page of snapshots of all vehicles so that PostgreSQL reads no more than the page.

    Left to itself it finds all that the conditions allow, sorts it and throws all but a page away, anew for
    each page: with a few hundred thousand snapshots in a day an export took hours.
    """
    own = select(SNAPSHOT).where(_MINE, *conditions).order_by(*_KEY).limit(limit).correlate(VEHICLE)
    found = own.lateral("found")
    order = (VEHICLE.c.vehicle_no, found.c.taken_us, found.c.identity)
    return (
        select(found, VEHICLE.c.vehicle)
        .select_from(VEHICLE.join(found, true()))
        .order_by(*order)
        .limit(limit)
    )


def _conditions(
    vehicle: str, state: str, from_at: datetime | None, to_at: datetime | None, known_at: datetime | None
) -> list[Any]:
    conditions: list[Any] = []
    if vehicle:
        conditions.append(VEHICLE.c.vehicle == vehicle)
    if state:
        if state not in STATES:
            raise ValueError(f"{state!r} is no operating state; allowed: {', '.join(STATES)}.")
        conditions.append(SNAPSHOT.c.state == STATES.index(state))
    if from_at is not None:
        conditions.append(SNAPSHOT.c.taken_us >= to_us(from_at))
    if to_at is not None:
        conditions.append(SNAPSHOT.c.taken_us < to_us(to_at))
    conditions += _received(known_at)
    return conditions


def _kept(row: Mapping[str, Any]) -> KeptSnapshot:
    return KeptSnapshot(
        vehicle=row["vehicle"],
        taken_at=from_us(row["taken_us"]),
        received_at=from_us(row["received_us"]),
        day=row["day"],
        device=row["device"],
        given_id=row["given_id"],
        odometer_km=row["odometer_km"],
        claim="" if row["claim"] == NO_STATE else STATES[row["claim"]],
        state="" if row["state"] == NO_STATE else STATES[row["state"]],
        state_note=row["state_note"],
        values={
            code: row[name]
            for code, name in zip(CODES, PARAMETER_COLUMNS, strict=True)
            if row[name] is not None
        },
        switches={
            name: bool(row[column])
            for name, column in zip(SWITCHES, SWITCH_COLUMNS, strict=True)
            if row[column] >= 0
        },
        extra=row["extra"] or "",
    )


def _received(known_at: datetime | None) -> list[ColumnElement[bool]]:
    return [] if known_at is None else [SNAPSHOT.c.received_us <= to_us(known_at)]
