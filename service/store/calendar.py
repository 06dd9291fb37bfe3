"""Which local day a reading belongs to, when a vehicle's time zone changes."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from sqlalchemy import ColumnElement, Table, bindparam, delete, select, update

from ingest.parameters import CODES, SWITCHES
from service.store.columnar import joined
from service.store.tables import DAILY, PREFERENCE, SNAPSHOT, TOUCHED, VEHICLE, WORK_RECORD
from service.store.unit import PARAMETERS_PER_STATEMENT, Unit, chunks
from service.store.zones import local_days

_LAYOUT: Final = "_daily_layout"
"""Name of the inner mark; a leading underscore keeps it out of the settings that people see."""


class Calendar(Unit):
    """Local days of vehicles."""

    def settle_zones(self) -> int:
        """Give vehicles without a zone of their own the fleet's present one; gives how many changed."""
        query = (
            select(VEHICLE.c.vehicle_no)
            .where(VEHICLE.c.time_zone == "", VEHICLE.c.zone != self._fleet_zone)
            .order_by(VEHICLE.c.vehicle_no)
        )
        numbers = self._connection.scalars(query).all()
        for number in numbers:
            self._move_to_zone(number, self._fleet_zone)
        return len(numbers)

    def settle_layout(self) -> int:
        """Mark every day when summaries were packed in another order of parameters; gives 1 then, else 0.

        Those of days whose readings retention has removed cannot be folded again: they are packed anew.
        """
        wanted = ",".join((*CODES, *SWITCHES))
        kept = self._connection.scalar(select(PREFERENCE.c.value).where(PREFERENCE.c.name == _LAYOUT))
        if kept == wanted:
            return 0
        self._mark_all_days(self._connection.scalars(select(VEHICLE.c.vehicle_no)).all())
        gone = select(VEHICLE.c.vehicle_no).where(
            VEHICLE.c.vehicle_no == DAILY.c.vehicle_no, DAILY.c.day < VEHICLE.c.kept_from_day
        )
        if kept is not None:
            self._pack_anew(gone.exists(), kept.split(","), wanted.split(","))
        self._connection.execute(delete(DAILY).where(~gone.exists()))
        self._connection.execute(delete(PREFERENCE).where(PREFERENCE.c.name == _LAYOUT))
        self._connection.execute(PREFERENCE.insert().values(name=_LAYOUT, value=wanted))
        return 1

    def _pack_anew(self, which: ColumnElement[bool], before: list[str], after: list[str]) -> None:
        """Put packed summaries in the new order where no readings are left to fold them from again."""
        places = [before.index(name) if name in before else -1 for name in after]
        key = (DAILY.c.vehicle_no, DAILY.c.day, DAILY.c.state)
        rows = self._connection.execute(select(*key, DAILY.c.body).where(which)).all()
        for some in chunks(rows, PARAMETERS_PER_STATEMENT):
            old = joined([row.body for row in some], len(before))
            new = np.full((len(some), len(after)), np.nan)
            known = np.array([place >= 0 for place in places])
            new[:, known] = old[:, [place for place in places if place >= 0]]
            mine = [DAILY.c[name] == bindparam(f"which_{name}") for name in ("vehicle_no", "day", "state")]
            self._connection.execute(
                update(DAILY).where(*mine).values(body=bindparam("new_body")),
                [
                    {
                        "which_vehicle_no": row.vehicle_no,
                        "which_day": row.day,
                        "which_state": row.state,
                        "new_body": body.astype("<f8").tobytes(),
                    }
                    for row, body in zip(some, new, strict=True)
                ],
            )

    def _move_to_zone(self, number: int, zone: str) -> None:
        """Count a vehicle's days in another zone; mark the days it had and those it has now."""
        self._mark_all_days([number])
        self._connection.execute(update(VEHICLE).where(VEHICLE.c.vehicle_no == number).values(zone=zone))
        self._recount_days(SNAPSHOT, "taken_us", number, zone)
        self._recount_days(WORK_RECORD, "done_us", number, zone)
        self._mark_all_days([number])

    def _recount_days(self, table: Table, moment: str, number: int, zone: str) -> None:
        query = select(table.c.identity, table.c[moment], table.c.day).where(table.c.vehicle_no == number)
        rows = self._connection.execute(query).all()
        days = local_days(np.array([row[1] for row in rows], dtype=np.int64), zone).tolist()
        moved = [
            {"which": row[0], "new_day": day} for row, day in zip(rows, days, strict=True) if row[2] != day
        ]
        if moved:
            self._connection.execute(
                update(table).where(table.c.identity == bindparam("which")).values(day=bindparam("new_day")),
                moved,
            )

    def _mark_all_days(self, numbers: Sequence[int]) -> None:
        """Mark every day of these vehicles that has readings or a summary."""
        for some in chunks(sorted(numbers), PARAMETERS_PER_STATEMENT):
            for table in (DAILY, SNAPSHOT):
                days = select(table.c.vehicle_no, table.c.day).where(table.c.vehicle_no.in_(some)).distinct()
                self._connection.execute(TOUCHED.insert().from_select(["vehicle_no", "day"], days))
