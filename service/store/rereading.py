"""Stored snapshots read again after a name got a meaning: in bounded steps that may stop and go on."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import bindparam, func, or_, select, update

from ingest.aliases import AliasTable
from ingest.records import Alias
from ingest.reread import reread
from ingest.states import judge
from ingest.text import write_json
from service.store.incoming import contents
from service.store.tables import PARAMETER_COLUMNS, REREADING, SNAPSHOT, SWITCH_COLUMNS, VEHICLE
from service.store.unit import Unit
from service.store.values import Rereading

STEP: Final = 2_000
"""Snapshots looked at in one transaction; chosen by us: well under a second, so that senders never wait."""

_CHANGE: Final = (
    update(SNAPSHOT)
    .where(SNAPSHOT.c.identity == bindparam("which"))
    .values(
        {name: bindparam(f"new_{name}") for name in ("content", "state", "state_note", "extra")}
        | {name: bindparam(f"new_{name}") for name in PARAMETER_COLUMNS}
    )
)


class Rereads(Unit):
    """Reading stored snapshots again."""

    def want_reread(self, now: datetime, *, who: str) -> None:
        """Ask that all stored snapshots be read again; one that is under way begins anew."""
        waiting = select(REREADING.c.number).where(REREADING.c.finished_at.is_(None))
        number = self._connection.scalar(waiting)
        if number is None:
            self._connection.execute(
                REREADING.insert().values(put_by=who, put_at=now, after=b"", seen=0, changed=0, unconverted=0)
            )
        else:
            self._connection.execute(
                update(REREADING)
                .where(REREADING.c.number == number)
                .values(after=b"", put_by=who, put_at=now, seen=0, unconverted=0)
            )

    def last_reread(self) -> Rereading | None:
        """Give the newest reading-again, under way or done; None where there never was one."""
        query = select(REREADING).order_by(REREADING.c.number.desc()).limit(1)
        row = self._connection.execute(query).one_or_none()
        if row is None:
            return None
        return Rereading(
            put_by=row.put_by,
            put_at=row.put_at,
            seen=row.seen,
            changed=row.changed,
            unconverted=row.unconverted,
            finished_at=row.finished_at,
        )

    def reread_step(self, table: AliasTable, now: datetime, *, limit: int = STEP) -> int | None:
        """Read the next stored snapshots again that have something without a column; commit after each.

        Parameters
        ----------
        table : AliasTable
            Every alias in force, those on spec sheets included.
        now : datetime
            Aware.
        limit : int
            Most snapshots looked at.

        Returns
        -------
        int or None
            Snapshots changed; None when nothing is asked for or left. What was kept with a value of its own
            keeps it; state and content are judged anew, and the days are marked for folding.
        """
        waiting = select(REREADING).where(REREADING.c.finished_at.is_(None))
        job = self._connection.execute(waiting.with_for_update()).one_or_none()
        if job is None:
            return None
        rows = self._next_with_extra(job.after, limit)
        changed, unconverted = self._read_again(rows, table) if rows else (0, 0)
        done = len(rows) < limit
        self._connection.execute(
            update(REREADING)
            .where(REREADING.c.number == job.number)
            .values(
                after=rows[-1].identity if rows else job.after,
                seen=job.seen + len(rows),
                changed=job.changed + changed,
                unconverted=job.unconverted + unconverted,
                finished_at=now if done else None,
            )
        )
        return changed

    def wants_reread(self) -> bool:
        """Tell whether stored snapshots are to be read again, or are in the middle of it."""
        waiting = select(REREADING.c.number).where(REREADING.c.finished_at.is_(None))
        return self._connection.scalar(waiting) is not None

    def comes_with_barometer(self, row: Alias) -> bool:
        """Tell whether a stored snapshot within an alias's scope carries both its name and BARO."""
        key = write_json(row.name)
        query = (
            select(SNAPSHOT.c.identity)
            .join(VEHICLE, VEHICLE.c.vehicle_no == SNAPSHOT.c.vehicle_no)
            .where(
                SNAPSHOT.c.extra.is_not(None),
                SNAPSHOT.c.baro.is_not(None),
                # As it came alone, or with a unit in brackets behind it.
                or_(
                    SNAPSHOT.c.extra.contains(f"{key}:", autoescape=True),
                    SNAPSHOT.c.extra.contains(f"{key[:-1]} [", autoescape=True),
                ),
            )
            .limit(1)
        )
        if row.scope == "device":
            query = query.where(SNAPSHOT.c.device == row.scope_id)
        if row.scope == "sheet":
            query = query.where(VEHICLE.c.spec_sheet == row.scope_id)
        return self._connection.execute(query).first() is not None

    def extras_count(self) -> int:
        """Count stored snapshots that have something without a column."""
        query = select(func.count()).select_from(SNAPSHOT).where(SNAPSHOT.c.extra.is_not(None))
        return int(self._connection.scalar(query) or 0)

    def _next_with_extra(self, after: bytes, limit: int) -> Sequence[Any]:
        query = (
            select(SNAPSHOT, VEHICLE.c.vehicle, VEHICLE.c.spec_sheet)
            .join(VEHICLE, VEHICLE.c.vehicle_no == SNAPSHOT.c.vehicle_no)
            .where(SNAPSHOT.c.extra.is_not(None))
            .order_by(SNAPSHOT.c.identity)
            .limit(limit)
        )
        if after:
            query = query.where(SNAPSHOT.c.identity > after)
        return self._connection.execute(query).all()

    def _read_again(self, rows: Sequence[Any], table: AliasTable) -> tuple[int, int]:
        """Give how many snapshots gained a value, and how many vacuums stay as they came."""
        kept = _numbers(rows, PARAMETER_COLUMNS)
        again = reread(
            [row.extra for row in rows],
            [row.device for row in rows],
            [row.spec_sheet for row in rows],
            table,
            kept,
        )
        news = np.isnan(kept) & ~np.isnan(again.values)
        clash = ~np.isnan(kept) & ~np.isnan(again.values) & (kept != again.values)
        which = np.flatnonzero(news.any(axis=1) & ~clash.any(axis=1)).tolist()
        if not which:
            return 0, again.unconverted
        changed = [rows[place] for place in which]
        values = np.where(news[which], again.values[which], kept[which])
        extra = [again.extra[place] for place in which]
        self._write(changed, values, extra)
        pairs = np.unique([(row.vehicle_no, row.day) for row in changed], axis=0).astype(np.int64)
        # The day after is touched too: whether a soak was long enough depends on the day before.
        self._mark(np.unique(np.vstack((pairs, pairs + np.array([0, 1]))), axis=0))
        return len(changed), again.unconverted

    def _write(self, rows: Sequence[Any], values: NDArray[np.float64], extra: Sequence[str | None]) -> None:
        switches = np.array([[getattr(row, name) for name in SWITCH_COLUMNS] for row in rows], dtype=np.int8)
        claim = np.array([row.claim for row in rows], dtype=np.int8)
        state, notes = judge(values, switches, claim)
        content = contents(
            [row.vehicle for row in rows],
            np.array([row.taken_us for row in rows], dtype=np.int64),
            [row.device for row in rows],
            np.column_stack((claim, switches)).astype(np.int16),
            np.column_stack((_numbers(rows, ("odometer_km",)), values)) + 0.0,
            extra,
        )
        self._connection.execute(
            _CHANGE,
            [
                {
                    "which": row.identity,
                    "new_content": int(content[place]),
                    "new_state": int(state[place]),
                    "new_state_note": notes[place],
                    "new_extra": extra[place],
                }
                | {
                    f"new_{name}": None if np.isnan(number) else float(number)
                    for name, number in zip(PARAMETER_COLUMNS, values[place], strict=True)
                }
                for place, row in enumerate(rows)
            ],
        )


def _numbers(rows: Sequence[Any], names: Sequence[str]) -> NDArray[np.float64]:
    """Give columns as numbers, NaN where missing; shape (n, len(names))."""
    found = [[getattr(row, name) for name in names] for row in rows]
    return np.array(found, dtype=np.float64).reshape(len(rows), len(names))
