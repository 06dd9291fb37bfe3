"""Keeping what arrives: new snapshots, and marks on the vehicle-days that they touch."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

import numpy as np
import orjson
from sqlalchemy import select

from ingest.batch import Arrival, Batch, Refusal
from service.store.binary import write_snapshots
from service.store.columns import to_us
from service.store.incoming import Incoming, as_rows, prepare
from service.store.payloads import snapshot_payload
from service.store.refusals import Refusals
from service.store.tables import SNAPSHOT, VEHICLE_DEVICE
from service.store.unit import PARAMETERS_PER_STATEMENT, Place, chunks
from service.store.values import Receipt
from service.store.zones import local_days

_COLUMNS = ", ".join(SNAPSHOT.c.keys())
_SQLITE_INSERT = f"INSERT OR IGNORE INTO snapshot ({_COLUMNS}) VALUES ({', '.join('?' * len(SNAPSHOT.c))})"  # noqa: S608 (names of our own table)
_SAID_TWICE = "duplicate-in-batch"
"""Note of ingest: repeats within the body that it has left out of the batch already."""

_SAMPLE_LENGTH = 60
"""Characters of a sample value that are kept; chosen by us: any number and unit fits."""

_CONTENT = "SELECT identity, content FROM snapshot WHERE identity"
# An array, not a join with the stage: the planner knows nothing of a stage and would read the whole table.
_CONTENT_OF = f"{_CONTENT} = ANY(%s)"
_STAGE = "CREATE TEMPORARY TABLE IF NOT EXISTS stage (LIKE snapshot) ON COMMIT DELETE ROWS"
_COPY = f"COPY stage ({_COLUMNS}) FROM STDIN (FORMAT BINARY)"
# Ordered, so that two writers with the same snapshots take turns and never wait in a ring.
_FROM_STAGE = (
    f"INSERT INTO snapshot ({_COLUMNS}) SELECT {_COLUMNS} FROM stage ORDER BY identity ON CONFLICT DO NOTHING"  # noqa: S608 (as above)
)


@dataclass(slots=True)
class _Sorted:
    """Rows of one arrival by what becomes of them; places in the prepared rows."""

    fresh: list[int]
    conflicting: list[int]
    duplicates: int


class Arrivals(Refusals):
    """Arrivals of snapshots."""

    def add_arrival(self, arrival: Arrival, *, received_at: datetime, source: str) -> Receipt:
        """Keep an arrival; nothing is kept before `commit`.

        Parameters
        ----------
        arrival : Arrival
            As ingest gave it. The same snapshot again is counted as a duplicate.
        received_at : datetime
            Aware.
        source : str
            Who sent it: name of a token or file.

        Returns
        -------
        Receipt
            Beside ingest's own: quarantined are snapshots of a vehicle nobody registered
            (`unknown-vehicle`) and those whose identity is kept with other content (`conflicting-repeat`).
            Rejected, and kept nowhere, are those of days whose readings retention has removed
            (`day-removed`): a resent old batch neither comes back nor is folded from its half.
        """
        batch = arrival.batch
        registered = self._places(batch.vehicle)
        days = _days(batch, registered)
        places = [place for place in days if not _is_gone(batch, place, days, registered)]
        strangers = [place for place, name in enumerate(batch.vehicle) if name not in registered]
        gone = [_day_removed(batch, place) for place in days if _is_gone(batch, place, days, registered)]
        rejected = tuple(sorted((*arrival.rejected, *gone), key=lambda refusal: refusal.index))
        rows = prepare(
            batch,
            places,
            vehicle_no=np.array([registered[batch.vehicle[one]].number for one in places], dtype=np.int32),
            day=np.array([days[place] for place in places], dtype=np.int32),
            received_us=to_us(received_at),
        )
        outcome = _sort_within(rows)
        self._keep(rows, outcome)
        refused = [
            *arrival.quarantined,
            *(_unknown_vehicle(batch, place) for place in strangers),
            *(_conflict(batch, places[row]) for row in outcome.conflicting),
        ]
        refused.sort(key=lambda refusal: refusal.index)
        self.add_refusals(refused, kind="quarantined", received_at=received_at, source=source)
        self.add_refusals(rejected, kind="rejected", received_at=received_at, source=source)
        self.add_unknown_names(
            arrival.unknown_names, arrival.personal_fields, received_at=received_at, source=source
        )
        if arrival.unknown_names:
            self.add_samples(_sample_names(batch, arrival.unknown_names))
        return Receipt(
            accepted=len(outcome.fresh),
            duplicates=outcome.duplicates + arrival.notes.get(_SAID_TWICE, 0),
            quarantined=tuple(refused),
            rejected=rejected,
        )

    def _keep(self, rows: Incoming, outcome: _Sorted) -> None:
        """Write those first of their identity that are not kept yet, their devices and their marks."""
        if not outcome.fresh:
            return
        candidates = rows.take(outcome.fresh)
        if not (self._is_postgresql and self._copy_if_all_new(candidates)):
            _sort_against(rows, outcome, self._kept_content(candidates))
            if not outcome.fresh:
                return
            candidates = rows.take(outcome.fresh)
            written = self._insert_staged() if self._is_postgresql else self._insert_many(candidates)
            if written != len(candidates):
                self._sort_out_race(candidates, outcome)
        fresh = rows.take(outcome.fresh)
        self._note_devices(fresh)
        pairs = np.unique(np.column_stack((fresh.vehicle_no, fresh.day)), axis=0)
        # The day after is touched too: whether a soak was long enough depends on the day before.
        self._mark(np.unique(np.vstack((pairs, pairs + np.array([0, 1]))), axis=0))

    def _copy_if_all_new(self, rows: Incoming) -> bool:
        """Write rows through the stage table if none is kept yet, as mostly; else leave them staged only."""
        with self._cursor() as cursor:
            cursor.execute(_STAGE)
            if self._has_staged:
                cursor.execute("DELETE FROM stage")
            with cursor.copy(_COPY) as copy:
                copy.write(write_snapshots(rows))
            self._has_staged = True
            cursor.execute("SAVEPOINT optimistic")
            cursor.execute(_FROM_STAGE)
            if cursor.rowcount == len(rows):
                cursor.execute("RELEASE SAVEPOINT optimistic")
                return True
            cursor.execute("ROLLBACK TO SAVEPOINT optimistic")
            return False

    def _kept_content(self, rows: Incoming) -> dict[bytes, int]:
        """Give the content digests of those that are kept."""
        kept: dict[bytes, int] = {}
        with self._cursor() as cursor:
            if self._is_postgresql:
                cursor.execute(_CONTENT_OF, (rows.identity,))
                return dict(cursor.fetchall())
            for some in chunks(rows.identity, PARAMETERS_PER_STATEMENT):
                cursor.execute(f"{_CONTENT} IN ({', '.join('?' * len(some))})", some)
                kept.update(cursor.fetchall())
        return kept

    def _insert_many(self, rows: Incoming) -> int:
        with self._cursor() as cursor:
            cursor.executemany(_SQLITE_INSERT, as_rows(rows))
            return int(cursor.rowcount)

    def _insert_staged(self) -> int:
        with self._cursor() as cursor:
            cursor.execute(_FROM_STAGE)
            return int(cursor.rowcount)

    def _sort_out_race(self, fresh: Incoming, outcome: _Sorted) -> None:
        """Another writer kept some of these between our look and our write: count those by what was kept."""
        # Only PostgreSQL gets here: SQLite's writers take turns. What the other one wrote is visible now.
        mine = int(fresh.received_us[0])
        kept: dict[bytes, tuple[int, int]] = {}
        for some in chunks(fresh.identity, PARAMETERS_PER_STATEMENT):
            query = select(SNAPSHOT.c.identity, SNAPSHOT.c.content, SNAPSHOT.c.received_us)
            for identity, content, received in self._connection.execute(
                query.where(SNAPSHOT.c.identity.in_(some))
            ):
                kept[bytes(identity)] = (content, received)
        places, outcome.fresh = outcome.fresh, []
        for place, identity, content in zip(places, fresh.identity, fresh.content.tolist(), strict=True):
            before, received = kept[identity]
            if before != content:
                outcome.conflicting.append(place)
            elif received == mine:
                outcome.fresh.append(place)
            else:
                outcome.duplicates += 1

    def _note_devices(self, rows: Incoming) -> None:
        """Keep since when each device reports each vehicle."""
        first: dict[tuple[int, str], int] = {}
        for number, name, moment in zip(
            rows.vehicle_no.tolist(), rows.device, rows.taken_us.tolist(), strict=True
        ):
            if name and moment < first.get((number, name), moment + 1):
                first[number, name] = moment
        known = sorted(first)
        for some in chunks(known, PARAMETERS_PER_STATEMENT // 2):
            query = select(VEHICLE_DEVICE).where(
                VEHICLE_DEVICE.c.vehicle_no.in_({number for number, _ in some}),
                VEHICLE_DEVICE.c.device.in_({name for _, name in some}),
            )
            for row in self._connection.execute(query):
                if first.get((row.vehicle_no, row.device), row.first_us) >= row.first_us:
                    first.pop((row.vehicle_no, row.device), None)
        if first:
            statement = self._insert(VEHICLE_DEVICE)
            earlier = statement.excluded.first_us
            self._connection.execute(
                statement.on_conflict_do_update(
                    index_elements=["vehicle_no", "device"],
                    set_={"first_us": earlier},
                    where=earlier < VEHICLE_DEVICE.c.first_us,
                ),
                [
                    {"vehicle_no": number, "device": device, "first_us": moment}
                    for (number, device), moment in sorted(first.items())
                ],
            )


def _sort_within(rows: Incoming) -> _Sorted:
    """Tell repeats within the arrival; what is first of its identity counts as new for now."""
    seen: dict[bytes, int] = {}
    outcome = _Sorted(fresh=[], conflicting=[], duplicates=0)
    for place, (identity, content) in enumerate(zip(rows.identity, rows.content.tolist(), strict=True)):
        before = seen.setdefault(identity, content)
        if len(seen) > len(outcome.fresh):
            outcome.fresh.append(place)
        elif before == content:
            outcome.duplicates += 1
        else:
            outcome.conflicting.append(place)
    return outcome


def _sort_against(rows: Incoming, outcome: _Sorted, kept: Mapping[bytes, int]) -> None:
    """Tell repeats of what is kept."""
    if not kept:
        return
    places, outcome.fresh = outcome.fresh, []
    for place in places:
        before = kept.get(rows.identity[place])
        if before is None:
            outcome.fresh.append(place)
        elif before == int(rows.content[place]):
            outcome.duplicates += 1
        else:
            outcome.conflicting.append(place)


def _sample_names(batch: Batch, unknown: Mapping[str, int]) -> dict[tuple[str, str], str]:
    """Take one value of each unknown name from each device."""
    found: dict[tuple[str, str], str] = {}
    for device, extra in zip(batch.device, batch.extra, strict=True):
        for name, value in (orjson.loads(extra) if extra else {}).items():
            if name in unknown:
                found.setdefault((name, device), orjson.dumps(value).decode()[:_SAMPLE_LENGTH])
    return found


def _days(batch: Batch, registered: Mapping[str, Place]) -> dict[int, int]:
    """Give the local day of each snapshot of a registered vehicle, by its place in the batch, in order."""
    places = [place for place, name in enumerate(batch.vehicle) if name in registered]
    index = np.asarray(places, dtype=np.intp)
    zones = [registered[batch.vehicle[place]].zone for place in places]
    day = np.empty(len(places), dtype=np.int32)
    for zone in set(zones):
        here = np.array([one == zone for one in zones], dtype=bool)
        day[here] = local_days(batch.taken_us[index[here]], zone)
    return dict(zip(places, day.tolist(), strict=True))


def _is_gone(batch: Batch, place: int, days: Mapping[int, int], registered: Mapping[str, Place]) -> bool:
    """Tell whether retention has removed the readings of a snapshot's day."""
    kept_from = registered[batch.vehicle[place]].kept_from
    return kept_from is not None and days[place] < kept_from


def _day_removed(batch: Batch, place: int) -> Refusal:
    name = batch.vehicle[place]
    return Refusal(
        index=int(batch.index[place]),
        code="day-removed",
        field="taken_at",
        detail=f"Readings of {name} that are as old have been removed by retention; only summaries are left.",
        payload="",
        vehicle=name,
    )


def _unknown_vehicle(batch: Batch, place: int) -> Refusal:
    name = batch.vehicle[place]
    return Refusal(
        index=int(batch.index[place]),
        code="unknown-vehicle",
        field="vehicle",
        detail=f"Nobody registered a vehicle {name!r}. Register it, then release this snapshot.",
        payload=snapshot_payload(batch, place),
        vehicle=name,
    )


def _conflict(batch: Batch, place: int) -> Refusal:
    name = batch.given_id[place] or f"{batch.vehicle[place]} at this time from device {batch.device[place]!r}"
    return Refusal(
        index=int(batch.index[place]),
        code="conflicting-repeat",
        field="id" if batch.given_id[place] else "",
        detail=f"A snapshot {name!r} is kept with other content; the kept one stays.",
        payload=snapshot_payload(batch, place),
        vehicle=batch.vehicle[place],
    )
