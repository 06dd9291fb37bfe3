"""Daily summaries: folded from touched days, loaded for evaluation."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final, TypeVar

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import delete, func, select, tuple_

from ingest.parameters import CODES, STATES, SWITCHES
from models.panel import Daily, Readings
from service.store.binary import write_fixed
from service.store.columnar import copy_out_pieces, joined, read_readings
from service.store.engine import wait_as_long_as_it_takes
from service.store.sheets import Sheets
from service.store.tables import DAILY, TOUCHED, VEHICLE
from service.store.unit import PARAMETERS_PER_STATEMENT, chunks
from service.store.zones import DAY_US, WIDEST_OFFSET_US

Scalar = TypeVar("Scalar", np.int32, np.float64)

Summarise = Callable[[Readings, NDArray[np.float64]], Daily]
"""Signature of `models.summarise.summarise`: readings and soak hours per vehicle in, daily rows out."""

_WIDTH: Final = len(CODES) + len(SWITCHES)
_KINDS: Final = (
    ("vehicle_no", ">i4"),
    ("day", ">i4"),
    ("state", ">i2"),
    ("readings", ">i4"),
    ("body", f"V{8 * _WIDTH}"),
)
_FOLD_LOCK: Final = 0x666F6C64
"""Number of the advisory lock; any number of our own will do."""
_GAP_DAYS: Final = 14
"""Marks no further apart are folded in one go, the days between included; chosen by us: reading a fortnight
more costs less than another query, and folding a day again gives the same."""
_ROWS_PER_READ: Final = 50_000
"""Rows of SQLite unpacked at a time; chosen by us: some twenty megabytes."""
_VEHICLES_PER_READ: Final = 500
"""Vehicles read at once; chosen by us: about 10,000 snapshots of two days, 200,000 of six weeks."""


FIRST: Final = (-1, 0)
"""Before every vehicle-day."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Folded:
    """What one call folded.

    Parameters
    ----------
    count : int
        Vehicle-days.
    last : (vehicle, day)
        The last of them, by inner number and local day.
    """

    count: int
    last: tuple[int, int]


class Summaries(Sheets):
    """Daily summaries."""

    def touched_count(self) -> int:
        """Count vehicle-days that wait to be folded."""
        days = select(TOUCHED.c.vehicle_no, TOUCHED.c.day).distinct().subquery()
        return int(self._connection.scalar(select(func.count()).select_from(days)) or 0)

    def fold_touched(
        self, summarise: Summarise, *, after: tuple[int, int] = FIRST, limit: int = 5_000
    ) -> Folded:
        """Fold the next touched vehicle-days into daily summaries; commit after each call.

        Parameters
        ----------
        summarise : callable
            `models.summarise.summarise`.
        after : (vehicle, day)
            `last` of the call before: days are taken in one order, so that a walk ends while more arrive.
        limit : int
            Most vehicle-days in this call.

        Returns
        -------
        Folded
            Without any when none is left behind `after`. Marks are cleared in the same transaction.
        """
        if self._is_postgresql:  # two folding processes take turns; SQLite's writers do anyway
            wait_as_long_as_it_takes(self._connection)
            self._connection.execute(select(func.pg_advisory_xact_lock(_FOLD_LOCK)))
        marks = self._take_marks(after, limit)
        if not marks:
            return Folded(count=0, last=after)
        runs = _runs(self._foldable(marks))
        for vehicle, first, last in runs:
            self._connection.execute(
                delete(DAILY).where(DAILY.c.vehicle_no == vehicle, DAILY.c.day.between(first, last))
            )
        soak = self._soak_hours(sorted({vehicle for vehicle, _, _ in runs}))
        spans: dict[tuple[int, int], list[int]] = {}
        for vehicle, first, last in runs:
            spans.setdefault((first, last), []).append(vehicle)
        for span, vehicles in spans.items():
            for some in chunks(vehicles, _VEHICLES_PER_READ):
                self._fold_span(summarise, list(some), span, soak)
        return Folded(count=len(marks), last=marks[-1])

    def daily(
        self,
        vehicles: Sequence[str] | None = None,
        *,
        from_day: int | None = None,
        up_to_day: int | None = None,
    ) -> Daily:
        """Load daily summaries.

        Parameters
        ----------
        vehicles : sequence of str or None
            `vehicle` in the result is the place in this list; by default all vehicles sorted by number.
            Those nobody registered have no rows.
        from_day, up_to_day : int or None
            First and last local day, both included [days since 1970-01-01].

        Returns
        -------
        Daily
            Sorted by vehicle, day, state.
        """
        names = self._all_names() if vehicles is None else list(vehicles)
        known = self._vehicle_numbers(names)
        place_of = {known[name]: place for place, name in enumerate(names) if name in known}
        every = vehicles is None
        whole, values = self._read_daily(None if every else sorted(place_of), from_day, up_to_day)
        lookup = np.full(max(place_of, default=0) + 1, -1, dtype=np.int32)
        for number, place in place_of.items():
            lookup[number] = place
        vehicle = lookup[whole[:, 0]] if len(whole) else np.empty(0, dtype=np.int32)
        order = _order(vehicle, whole[:, 1], whole[:, 2])
        return Daily(
            vehicle=vehicle[order],
            day=whole[order, 1].astype(np.int32),
            state=whole[order, 2].astype(np.int8),
            readings=whole[order, 3].astype(np.int32),
            values=values[order, : len(CODES)],
            switched_on=values[order, len(CODES) :],
        )

    def days_in_state(self, state: str, vehicles: Sequence[str], *, up_to_day: int) -> dict[str, int]:
        """Count the days on which each vehicle had readings in an operating state, up to a local day."""
        query = (
            select(VEHICLE.c.vehicle, func.count())
            .join(DAILY, DAILY.c.vehicle_no == VEHICLE.c.vehicle_no)
            .where(DAILY.c.state == STATES.index(state), DAILY.c.day <= up_to_day, self._in_sight())
            .group_by(VEHICLE.c.vehicle)
        )
        found: dict[str, int] = dict.fromkeys(vehicles, 0)
        for some in chunks(vehicles, PARAMETERS_PER_STATEMENT):
            for name, count in self._connection.execute(query.where(VEHICLE.c.vehicle.in_(some))):
                found[name] = count
        return found

    def day_range(self) -> tuple[int, int] | None:
        """Give the first and last local day with a summary; None where there is none.

        Vehicle by vehicle, because the key begins with it: two looks each instead of a walk over all rows.
        """
        first, last = (
            select(edge(DAILY.c.day)).where(DAILY.c.vehicle_no == VEHICLE.c.vehicle_no).scalar_subquery()
            for edge in (func.min, func.max)
        )
        days = select(first.label("first"), last.label("last")).select_from(VEHICLE).subquery()
        whole = self._connection.execute(select(func.min(days.c.first), func.max(days.c.last))).one()
        return None if whole[0] is None else (whole[0], whole[1])

    def _all_names(self) -> list[str]:
        return list(self._connection.scalars(select(VEHICLE.c.vehicle).order_by(VEHICLE.c.vehicle)))

    def _take_marks(self, after: tuple[int, int], limit: int) -> list[tuple[int, int]]:
        """Take the next marks off the table, sorted.

        They are taken before the readings are looked at: a reading that comes later brings its own mark,
        one that came earlier is seen.
        """
        key = (TOUCHED.c.vehicle_no, TOUCHED.c.day)
        behind = tuple_(*key) > after
        following = self._connection.execute(
            select(*key).where(behind).distinct().order_by(*key).limit(limit)
        ).all()
        if not following:
            return []
        taken = self._connection.execute(
            delete(TOUCHED).where(behind, tuple_(*key) <= tuple(following[-1])).returning(*key)
        )
        return sorted({(vehicle, day) for vehicle, day in taken})

    def _foldable(self, marks: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
        """Leave out days whose readings retention has removed: their summaries stay as they were folded."""
        kept_from: dict[int, int] = {}
        for some in chunks(sorted({vehicle for vehicle, _ in marks}), PARAMETERS_PER_STATEMENT):
            query = select(VEHICLE.c.vehicle_no, VEHICLE.c.kept_from_day).where(
                VEHICLE.c.vehicle_no.in_(some), VEHICLE.c.kept_from_day.is_not(None)
            )
            kept_from.update((number, day) for number, day in self._connection.execute(query))
        return [(vehicle, day) for vehicle, day in marks if day >= kept_from.get(vehicle, day)]

    def _soak_hours(self, numbers: Sequence[int]) -> dict[int, float]:
        """Give the soak that each vehicle's sheet asks for [h]; NaN where it does not say."""
        of_sheet = {sheet.sheet: sheet.soak_hours for sheet in self.sheets()}
        hours: dict[int, float] = {}
        for some in chunks(numbers, PARAMETERS_PER_STATEMENT):
            query = select(VEHICLE.c.vehicle_no, VEHICLE.c.spec_sheet).where(VEHICLE.c.vehicle_no.in_(some))
            for number, sheet in self._connection.execute(query):
                found = of_sheet.get(sheet)
                hours[number] = np.nan if found is None else found
        return hours

    def _fold_span(
        self, summarise: Summarise, vehicles: list[int], span: tuple[int, int], soak: dict[int, float]
    ) -> None:
        first, last = span
        # The day before is read too, and only read: it tells how long the first soak was.
        found = read_readings(
            self._connection,
            vehicles,
            (first - 1) * DAY_US - WIDEST_OFFSET_US,
            (last + 1) * DAY_US + WIDEST_OFFSET_US,
            (first - 1, last),
        )
        numbers = np.array(vehicles, dtype=np.int32)
        places = np.searchsorted(numbers, found.vehicle).astype(np.int32)
        readings = Readings(
            vehicle=places,
            taken_us=found.taken_us,
            day=found.day,
            state=found.state,
            values=found.values,
            switches=found.switches,
        )
        table = summarise(readings, np.array([soak[number] for number in vehicles], dtype=np.float64))
        self._write_daily(table, numbers, table.day >= first)

    def _write_daily(self, table: Daily, numbers: NDArray[np.int32], keep: NDArray[np.bool_]) -> None:
        whole: list[NDArray[Any]] = [
            numbers[table.vehicle[keep]],
            table.day[keep],
            table.state[keep],
            table.readings[keep],
        ]
        packed = np.ascontiguousarray(np.hstack((table.values[keep], table.switched_on[keep])), dtype="<f8")
        if not len(packed):
            return
        with self._cursor() as cursor:
            if self._is_postgresql:
                with cursor.copy("COPY daily FROM STDIN (FORMAT BINARY)") as copy:
                    copy.write(write_fixed([*whole, packed], _KINDS))
            else:
                rows = zip(*(column.tolist() for column in whole), map(bytes, packed), strict=True)
                cursor.executemany("INSERT INTO daily VALUES (?, ?, ?, ?, ?)", rows)

    def _read_daily(
        self, numbers: Sequence[int] | None, from_day: int | None, up_to_day: int | None
    ) -> tuple[NDArray[np.int32], NDArray[np.float64]]:
        """Read whole-number columns and packed values of some vehicles (None for all) and days."""
        conditions = [] if numbers is None else [f"vehicle_no IN ({', '.join(map(str, numbers)) or 'NULL'})"]
        if from_day is not None:
            conditions.append(f"day >= {int(from_day)}")
        if up_to_day is not None:
            conditions.append(f"day <= {int(up_to_day)}")
        where = f" WHERE {' AND '.join(conditions)}" if conditions else ""
        query = f"SELECT vehicle_no, day, state, readings, body FROM daily{where}"  # noqa: S608 (whole numbers)
        if self._is_postgresql:
            parts = [_parted(piece) for piece in copy_out_pieces(self._connection, query, _KINDS)]
        else:
            with self._cursor() as cursor:
                cursor.execute(query)
                parts = [_parted_rows(rows) for rows in iter(lambda: cursor.fetchmany(_ROWS_PER_READ), [])]
        if not parts:
            return np.empty((0, 4), dtype=np.int32), np.empty((0, _WIDTH))
        return _under_each_other([one for one, _ in parts]), _under_each_other([one for _, one in parts])


def _parted(table: NDArray[np.void]) -> tuple[NDArray[np.int32], NDArray[np.float64]]:
    whole = np.column_stack([table[name].astype(np.int32) for name, _ in _KINDS[:4]])
    values = np.ascontiguousarray(table["body"]).view("<f8").reshape(-1, _WIDTH)
    return whole, values.astype(np.float64, copy=False)


def _parted_rows(rows: Sequence[Any]) -> tuple[NDArray[np.int32], NDArray[np.float64]]:
    whole = np.array([row[:4] for row in rows], dtype=np.int32).reshape(len(rows), 4)
    return whole, joined([row[4] for row in rows], _WIDTH)


def _under_each_other(parts: list[NDArray[Scalar]]) -> NDArray[Scalar]:
    """Join pieces, letting each go once it is copied: a large fleet's history is held once, not thrice."""
    made = np.empty((sum(map(len, parts)), parts[0].shape[1]), dtype=parts[0].dtype)
    start = 0
    for place, part in enumerate(parts):
        made[start : start + len(part)] = part
        start += len(part)
        parts[place] = part[:0].copy()
    return made


def _runs(marks: Sequence[tuple[int, int]]) -> list[tuple[int, int, int]]:
    """Join sorted marks of a vehicle that lie close together: (vehicle, first day, last day)."""
    runs: list[tuple[int, int, int]] = []
    for vehicle, day in marks:
        if runs and runs[-1][0] == vehicle and day - runs[-1][2] <= _GAP_DAYS:
            runs[-1] = (vehicle, runs[-1][1], day)
        else:
            runs.append((vehicle, day, day))
    return runs


def _order(
    vehicle: NDArray[np.int32], day: NDArray[np.int32], state: NDArray[np.int32]
) -> NDArray[np.intp] | slice:
    """Give the order by vehicle, day and state; rows mostly come in it, and leaving them saves a copy."""
    key = (vehicle.astype(np.int64) << 40) + (day.astype(np.int64) << 8) + state
    if bool(np.all(key[1:] > key[:-1])):
        return slice(None)
    return np.argsort(key, kind="stable")
