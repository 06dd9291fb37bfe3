"""What the fleet tells about itself: vehicles and aliases."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import delete, select, update

from ingest.aliases import is_vacuum
from ingest.batch import Refusal
from ingest.records import Alias, Vehicle
from service.store.calendar import Calendar
from service.store.columns import from_day, to_day, to_us
from service.store.errors import NotFound
from service.store.rereading import Rereads
from service.store.tables import ALIAS, VEHICLE, VEHICLE_PLACE
from service.store.unit import PARAMETERS_PER_STATEMENT, chunks, clean
from service.store.values import Loads
from service.store.zones import is_zone

_FROM_THE_START = -(2**62)
"""Start of a vehicle's first depot: before any reading."""


class Registry(Calendar, Rereads):
    """Vehicles and aliases."""

    def put_vehicles(self, rows: Sequence[Vehicle], now: datetime, *, who: str = "system") -> Loads:
        """Register vehicles or bring their rows up to date.

        A change of time zone counts the vehicle's days anew and marks them; a change of spec sheet
        marks them; a change of depot is dated.

        Parameters
        ----------
        rows : sequence of Vehicle
            The same row again changes nothing. The later of two rows for one vehicle wins.
        now : datetime
            Aware.
        who : str
            Who loads them.

        Returns
        -------
        Loads
            Refused: an unknown time zone (`unknown-time-zone`).
        """
        added = changed = same = 0
        refused = []
        known = self._vehicle_rows([row.vehicle for row in rows])
        for index, row in enumerate(rows):
            if row.time_zone and not is_zone(row.time_zone):
                refused.append(_unknown_zone(index, row))
                continue
            values = self._vehicle_values(row)
            before = known.get(row.vehicle)
            if before is None:
                self._add_vehicle(values, now)
                added += 1
            elif all(before[name] == value for name, value in values.items()):
                same += 1
                continue
            else:
                self._change_vehicle(before, values, now, who)
                changed += 1
            known.update(self._vehicle_rows([row.vehicle]))
        return Loads(added=added, changed=changed, same=same, refused=tuple(refused))

    def vehicles(self, names: Sequence[str] | None = None) -> tuple[Vehicle, ...]:
        """Give all vehicles, or those of the named ones that are registered, sorted by number."""
        if names is None:
            rows = self._connection.execute(
                select(VEHICLE).where(self._in_sight()).order_by(VEHICLE.c.vehicle)
            )
            return tuple(_to_vehicle(dict(row._mapping)) for row in rows)
        found = self._vehicle_rows(names)
        return tuple(_to_vehicle(found[name]) for name in sorted(found))

    def vehicle(self, name: str) -> Vehicle:
        """Give one vehicle.

        Raises
        ------
        NotFound
            Nobody registered it.
        """
        found = self.vehicles([name])
        if not found:
            raise NotFound("vehicle", name)
        return found[0]

    def vehicle_zone(self, name: str) -> str:
        """Give the time zone that a vehicle's days are counted in: its own, or the fleet's.

        Raises
        ------
        NotFound
            Nobody registered it.
        """
        zone = self._connection.scalar(
            select(VEHICLE.c.zone).where(VEHICLE.c.vehicle == name, self._in_sight())
        )
        if zone is None:
            raise NotFound("vehicle", name)
        return str(zone)

    def sheet_of(self, vehicle: str | None = None) -> dict[str, str]:
        """Give the spec sheet's name for each vehicle that names one, or for one vehicle."""
        query = select(VEHICLE.c.vehicle, VEHICLE.c.spec_sheet).where(
            VEHICLE.c.spec_sheet != "", self._in_sight()
        )
        if vehicle is not None:
            query = query.where(VEHICLE.c.vehicle == clean(vehicle))
        return {row.vehicle: row.spec_sheet for row in self._connection.execute(query)}

    def put_aliases(self, rows: Sequence[Alias], now: datetime, *, who: str = "system") -> Loads:
        """Keep aliases; scope, scope_id and name say which one, the rest may change.

        When any is new or changed, stored snapshots are to be read again: see `reread_step`. A manifold
        vacuum as MAP is refused while no stored snapshot carries both it and BARO.
        """
        kept = {(row.scope, row.scope_id, row.name): row for row in self.aliases()}
        added = changed = same = 0
        refused: list[Refusal] = []
        for index, row in enumerate(rows):
            key = (row.scope, row.scope_id, row.name)
            before = kept.get(key)
            if before == row:
                same += 1
                continue
            if is_vacuum(row.name, row.parameter) and not self.comes_with_barometer(row):
                refused.append(_no_barometer(index, row))
                continue
            added += before is None
            changed += before is not None
            kept[key] = row
            values = {"parameter": row.parameter, "unit": row.unit, "put_by": who, "put_at": now}
            statement = self._insert(ALIAS).values(
                scope=row.scope, scope_id=row.scope_id, name=row.name, **values
            )
            self._connection.execute(
                statement.on_conflict_do_update(index_elements=["scope", "scope_id", "name"], set_=values)
            )
        if added or changed:
            self.want_reread(now, who=who)
        return Loads(added=added, changed=changed, same=same, refused=tuple(refused))

    def drop_alias(self, scope: str, scope_id: str, name: str) -> None:
        """Take an alias out of use; values read with it stay.

        Raises
        ------
        NotFound
            There is none.
        """
        statement = delete(ALIAS).where(
            ALIAS.c.scope == scope, ALIAS.c.scope_id == scope_id, ALIAS.c.name == name
        )
        if not self._connection.execute(statement).rowcount:
            raise NotFound("alias", name)

    def depots(self) -> tuple[str, ...]:
        """Give the names of the depots in sight, sorted; vehicles without one are passed over."""
        query = select(VEHICLE.c.depot).where(VEHICLE.c.depot != "", self._in_sight()).distinct()
        return tuple(sorted(self._connection.scalars(query)))

    def aliases(self) -> tuple[Alias, ...]:
        """Give all aliases, sorted by scope, scope_id and name."""
        query = select(
            ALIAS.c.scope, ALIAS.c.scope_id, ALIAS.c.name, ALIAS.c.parameter, ALIAS.c.unit
        ).order_by(ALIAS.c.scope, ALIAS.c.scope_id, ALIAS.c.name)
        return tuple(Alias(**row._mapping) for row in self._connection.execute(query))

    def _vehicle_rows(self, names: Sequence[str]) -> dict[str, dict[str, Any]]:
        found: dict[str, dict[str, Any]] = {}
        for some in chunks(sorted(set(names)), PARAMETERS_PER_STATEMENT):
            for row in self._connection.execute(
                select(VEHICLE).where(VEHICLE.c.vehicle.in_(some), self._in_sight())
            ):
                found[row.vehicle] = dict(row._mapping)
        return found

    def _vehicle_values(self, row: Vehicle) -> dict[str, Any]:
        return {
            "vehicle": row.vehicle,
            "vin": row.vin,
            "spec_sheet": row.spec_sheet,
            "depot": row.depot,
            "time_zone": row.time_zone,
            "zone": row.time_zone or self._fleet_zone,
            "in_service_on": None if row.in_service_on is None else to_day(row.in_service_on),
            "odometer_km": row.odometer_km,
            "notes": row.notes,
        }

    def _add_vehicle(self, values: dict[str, Any], now: datetime) -> None:
        self._connection.execute(VEHICLE.insert().values(**values, created_at=now, changed_at=now))
        number = self._vehicle_numbers([values["vehicle"]])[values["vehicle"]]
        self._connection.execute(
            VEHICLE_PLACE.insert().values(vehicle_no=number, from_us=_FROM_THE_START, depot=values["depot"])
        )

    def _change_vehicle(self, before: Any, values: dict[str, Any], now: datetime, who: str) -> None:
        number = before["vehicle_no"]
        self._connection.execute(
            update(VEHICLE).where(VEHICLE.c.vehicle_no == number).values(**values, changed_at=now)
        )
        if before["depot"] != values["depot"]:
            place = self._insert(VEHICLE_PLACE).values(
                vehicle_no=number, from_us=to_us(now), depot=values["depot"]
            )
            self._connection.execute(
                place.on_conflict_do_update(
                    index_elements=["vehicle_no", "from_us"], set_={"depot": values["depot"]}
                )
            )
        if before["zone"] != values["zone"]:
            self._move_to_zone(number, values["zone"])
        if before["spec_sheet"] != values["spec_sheet"]:
            self._mark_all_days([number])
            if values["spec_sheet"]:  # the sheet may bring names of its own
                self.want_reread(now, who=who)


def _to_vehicle(row: Mapping[str, Any]) -> Vehicle:
    day = row["in_service_on"]
    return Vehicle(
        vehicle=row["vehicle"],
        vin=row["vin"],
        spec_sheet=row["spec_sheet"],
        depot=row["depot"],
        time_zone=row["time_zone"],
        in_service_on=None if day is None else from_day(day),
        odometer_km=row["odometer_km"],
        notes=row["notes"],
    )


def _no_barometer(index: int, row: Alias) -> Refusal:
    return Refusal(
        index=index,
        code="alias-not-absolute",
        field="parameter",
        detail=f"{row.name!r} is a vacuum, {row.parameter} is absolute: only the barometric pressure (BARO) "
        "of the same snapshot can convert it, and no stored snapshot carries both. Let the logger send BARO "
        "as well, or map the name it has for BARO first; the vacuum stays kept as it came until then.",
    )


def _unknown_zone(index: int, row: Vehicle) -> Refusal:
    return Refusal(
        index=index,
        code="unknown-time-zone",
        field="time_zone",
        detail=f"{row.time_zone!r} is not a name of the IANA time zone database, such as America/Chicago.",
        vehicle=row.vehicle,
    )
