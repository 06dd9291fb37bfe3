"""Retention: what is older than its class is kept goes, month by month, and what went stays counted.

Readings go first and summaries much later, so that evaluations find what they work on. A summary whose
readings are gone cannot be folded again: each vehicle has a first day, before which nothing is taken in or
folded.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any, Final, Literal

from sqlalchemy import (
    ColumnElement,
    Table,
    Text,
    and_,
    case,
    cast,
    delete,
    exists,
    func,
    literal,
    or_,
    select,
    union_all,
    update,
)

from service.store.columns import from_day, from_us, to_day
from service.store.errors import NotFound
from service.store.packing import from_text, unpack
from service.store.tables import (
    ASSESSMENT,
    DAILY,
    ERASURE,
    HOLD,
    REFUSAL,
    REMOVAL,
    SNAPSHOT,
    TICKET,
    TICKET_EVENT,
    TICKET_VERSION,
    TREND,
    VEHICLE,
    WORK_RECORD,
)
from service.store.unit import PARAMETERS_PER_STATEMENT, Place, Unit, chunks
from service.store.values import Lines, Portion, Removal
from service.store.zones import DAY_US
from service.tickets.ticket import Ticket

KINDS: Final = ("readings", "trends", "tickets")
"""Classes, in the order in which they go."""

NEIGHBOUR_DAYS: Final = 1
"""Readings of the day before the first one kept stay too: folding that day asks how long the soak was."""

_Dated = Literal["day", "moment"]
_Named = Literal["vehicle_no", "vehicle", ""]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    """One table of a class.

    Parameters
    ----------
    kind : str
        Its class.
    table : Table
        The table.
    dated : str
        Column that says how old a row is.
    by : "day" or "moment"
        Whether that is a day or a point in time.
    named : "vehicle_no", "vehicle" or ""
        Column that says of which vehicle; empty where a row is of the whole fleet.
    """

    kind: str
    table: Table
    dated: str
    by: _Dated
    named: _Named

    def before(self, day: int) -> ColumnElement[bool]:
        """Give the condition on rows that are older than a day."""
        bound: Any = day if self.by == "day" else from_us(day * DAY_US)
        older: ColumnElement[bool] = self.table.c[self.dated] < bound
        return older

    def of(self, numbers: Any, names: Any) -> ColumnElement[bool]:
        """Give the condition on rows of some vehicles; a row of the whole fleet is of every one of them."""
        if not self.named:
            return exists(numbers)
        return self.table.c[self.named].in_(numbers if self.named == "vehicle_no" else names)


_PARTS: Final = (
    _Part(kind="readings", table=SNAPSHOT, dated="day", by="day", named="vehicle_no"),
    _Part(kind="readings", table=REFUSAL, dated="received_at", by="moment", named="vehicle"),
    _Part(kind="trends", table=DAILY, dated="day", by="day", named="vehicle_no"),
    _Part(kind="trends", table=TREND, dated="day", by="day", named="vehicle"),
    _Part(kind="trends", table=ASSESSMENT, dated="day", by="day", named=""),
    _Part(kind="tickets", table=TICKET, dated="closed_at", by="moment", named="vehicle"),
    _Part(kind="tickets", table=WORK_RECORD, dated="day", by="day", named="vehicle_no"),
)


class Retaining(Unit):
    """Removing what is older than it is kept."""

    def removable(self, lines: Lines, *, held: bool = False) -> tuple[Portion, ...]:
        """Count what is older than the lines, by class, table and month; nothing is changed.

        Parameters
        ----------
        lines : Lines
            First day kept of each class.
        held : bool
            Counts what holds keep instead: it is as old, and stays.
        """
        return tuple(
            portion
            for part in _PARTS
            if (line := _line(part, lines)) is not None
            for portion in self._portions(part, line, self._which(part, held=held))
        )

    def draw_line(self, first_day: int) -> int:
        """Let no reading before a day in again, of vehicles that are not on hold; gives their number."""
        older = or_(VEHICLE.c.kept_from_day.is_(None), VEHICLE.c.kept_from_day < first_day)
        drawn = update(VEHICLE).where(older, VEHICLE.c.vehicle_no.not_in(_held_numbers()))
        return self._connection.execute(drawn.values(kept_from_day=first_day)).rowcount

    def remove(self, portion: Portion, now: datetime, *, who: str) -> Removal | None:
        """Remove what `removable` counted, and keep the count; None where nothing of it is left.

        Parameters
        ----------
        portion : Portion
            One table's month.
        now : datetime
            Aware.
        who : str
            Who wants it.
        """
        part = next(one for one in _PARTS if one.table.name == portion.part)
        which = and_(
            part.before(portion.to_day + 1),
            ~part.before(portion.from_day),
            self._which(part, held=False),
        )
        left = list(self._portions(part, portion.to_day + 1, which))
        if part.table is TICKET:
            self._remove_tickets(which)
        else:
            self._connection.execute(delete(part.table).where(which))
        if not left:
            return None
        found = replace(portion, rows=left[0].rows, vehicles=left[0].vehicles)
        self._connection.execute(
            REMOVAL.insert().values(
                at=now,
                put_by=who,
                kind=found.kind,
                part=found.part,
                from_day=found.from_day,
                to_day=found.to_day,
                vehicles=found.vehicles,
                rows=found.rows,
            )
        )
        return Removal(at=now, put_by=who, portion=found)

    def removals(self, *, limit: int = 100) -> tuple[Removal, ...]:
        """List what was removed, the newest first."""
        query = select(REMOVAL).order_by(REMOVAL.c.number.desc()).limit(limit)
        return tuple(_removal(row) for row in self._connection.execute(query))

    def lost_rows(self, parts: Sequence[str], since: datetime, *, up_to_day: int) -> tuple[int, int]:
        """Count the rows of tables that have gone since a time, in one statement.

        Parameters
        ----------
        parts : sequence of str
            Names of tables.
        since : datetime
            Aware.
        up_to_day : int
            Of what retention took, only months that had begun by then [days since 1970-01-01].

        Returns
        -------
        tuple of (int, int)
            Erased, and removed by retention.
        """
        removed = select(literal("removed").label("how"), cast(func.sum(REMOVAL.c.rows), Text).label("rows"))
        removed = removed.where(
            REMOVAL.c.part.in_(parts), REMOVAL.c.at > since, REMOVAL.c.from_day <= up_to_day
        )
        erased = select(literal("erased"), ERASURE.c.rows).where(ERASURE.c.at > since)
        found = self._connection.execute(union_all(removed, erased)).all()
        tables = [from_text(rows, dict[str, int]) for how, rows in found if how == "erased"]
        return (
            sum(rows.get(part, 0) for rows in tables for part in parts),
            sum(int(rows) for how, rows in found if how == "removed" and rows),
        )

    def place_of(self, vehicle: str) -> Place:
        """Give a vehicle's time zone, and the first day whose readings retention has left.

        Raises
        ------
        NotFound
            Nobody registered the vehicle.
        """
        place = self._places([vehicle]).get(vehicle)
        if place is None:
            raise NotFound("vehicle", vehicle)
        return place

    def _which(self, part: _Part, *, held: bool) -> ColumnElement[bool]:
        of_held = part.of(_held_numbers(), _held_names())
        if held:
            return of_held
        if part.table is TICKET:
            return and_(~of_held, TICKET.c.closed_at.is_not(None), TICKET.c.ticket.not_in(self._needed()))
        return ~of_held

    def _needed(self) -> list[str]:
        """Give the tickets that must stay: open ones, each vehicle's newest, and those these speak of.

        The newest keeps the running count: no number is given out twice.
        """
        known = [unpack(body, Ticket) for body in self._connection.scalars(select(TICKET.c.body))]
        newest = {ticket.vehicle: ticket.ticket for ticket in known}
        needed = {one.ticket for one in known if one.closed_at is None} | set(newest.values())
        links = {one.ticket: {one.comeback_of, one.comeback_by, one.merged_into} - {""} for one in known}
        waiting = list(needed)
        while waiting:
            for other in links.get(waiting.pop(), set()) - needed:
                needed.add(other)
                waiting.append(other)
        return sorted(needed & set(links))

    def _portions(self, part: _Part, line: int, which: ColumnElement[bool]) -> Iterator[Portion]:
        table, column = part.table, part.table.c[part.dated]
        older = and_(part.before(line), which)
        first = self._connection.scalar(select(func.min(column)).where(older))
        if first is None:
            return
        starts = list(_months(first if part.by == "day" else to_day(first.date()), line))
        ends = [*starts[1:], line]
        place = case(*((part.before(end), number) for number, end in enumerate(ends)), else_=len(ends))
        vehicles = func.count(table.c[part.named].distinct()) if part.named else literal(0)
        query = select(place.label("place"), func.count(), vehicles).where(older).group_by("place")
        for number, rows, some in sorted(self._connection.execute(query).all()):
            yield Portion(
                kind=part.kind,
                part=table.name,
                from_day=starts[number],
                to_day=ends[number] - 1,
                vehicles=some,
                rows=rows,
            )

    def _remove_tickets(self, which: ColumnElement[bool]) -> None:
        numbers = list(self._connection.scalars(select(TICKET.c.ticket).where(which)))
        for some in chunks(numbers, PARAMETERS_PER_STATEMENT):
            for table in (TICKET_EVENT, TICKET_VERSION, TICKET):
                self._connection.execute(delete(table).where(table.c.ticket.in_(some)))


def _line(part: _Part, lines: Lines) -> int | None:
    """Give the first day that is kept of a table.

    A repair begins a new stretch of its vehicle's history: its record stays as long as summaries do.
    """
    line: int | None = getattr(lines, part.kind)
    if line is None:
        return None
    if part.table is SNAPSHOT:
        return line - NEIGHBOUR_DAYS
    if part.table is WORK_RECORD:
        return None if lines.trends is None else min(line, lines.trends)
    return line


def _months(first: int, line: int) -> Iterator[int]:
    """Give the first day of each month from the one that a day lies in, up to a line."""
    at: date = from_day(first).replace(day=1)
    while to_day(at) < line:
        yield to_day(at)
        at = at.replace(year=at.year + at.month // 12, month=at.month % 12 + 1)


def _held_numbers() -> Any:
    return select(HOLD.c.vehicle_no).where(HOLD.c.lifted_at.is_(None))


def _held_names() -> Any:
    return select(VEHICLE.c.vehicle).where(VEHICLE.c.vehicle_no.in_(_held_numbers()))


def _removal(row: Any) -> Removal:
    values = dict(row._mapping)
    portion = Portion(**{name: values[name] for name in Portion.__dataclass_fields__})
    return Removal(at=row.at, put_by=row.put_by, portion=portion)
