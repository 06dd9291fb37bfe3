"""Loading files of every kind: one way for command line, API and pages, with a dry run of each.

A dry run does everything that a load does and keeps nothing of it: what it counts is what a load would do.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from typing import Any, Final, Protocol

from ingest import formats
from ingest.aliases import COLUMNS as ALIAS_COLUMNS
from ingest.aliases import AliasTable, read_aliases
from ingest.batch import Arrival, Refusal
from ingest.costs import COLUMNS as COST_COLUMNS
from ingest.costs import read_costs
from ingest.mending import without_reasons
from ingest.records import Loaded
from ingest.sheets import FIELDS, read_sheets
from ingest.vehicles import COLUMNS as VEHICLE_COLUMNS
from ingest.vehicles import read_vehicles
from ingest.work import COLUMNS as WORK_COLUMNS
from ingest.work import read_work
from service.settings import Settings
from service.store import Loads, Receipt, Store, Work
from service.store.columns import to_us
from service.web.directory import SheetsAsNeeded

REREAD_AT_ONCE: Final = 20_000
"""Stored snapshots read again within one request; chosen by us: a few seconds. The schedule does the rest."""


class Put(Protocol):
    """How rows of one kind are kept."""

    def __call__(self, work: Work, rows: Sequence[Any], now: datetime, /, *, who: str) -> Loads:
        """Keep rows; nothing is kept before the commit."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind of file.

    Parameters
    ----------
    read : callable
        Body and format in, rows and refusals out.
    put : callable
        Keeps the rows.
    columns : frozenset of str
        Columns or keys that have a place.
    """

    read: Callable[[bytes, str], Loaded[Any]]
    put: Put
    columns: frozenset[str]


KINDS: Final[Mapping[str, Kind]] = {
    "vehicles": Kind(read=read_vehicles, put=Work.put_vehicles, columns=VEHICLE_COLUMNS),
    "specs": Kind(read=read_sheets, put=Work.put_sheets, columns=FIELDS),
    "aliases": Kind(read=read_aliases, put=Work.put_aliases, columns=ALIAS_COLUMNS),
    "work": Kind(read=read_work, put=Work.put_work, columns=WORK_COLUMNS),
    "costs": Kind(read=read_costs, put=Work.put_costs, columns=COST_COLUMNS),
}
"""Kinds of files with one row for each item; snapshots go their own way."""


def kind_for(name: str, settings: Settings) -> Kind:
    """Give one of `KINDS` as this installation reads it: a fleet may have mistyped VINs refused."""
    kind = KINDS[name]
    if name != "vehicles" or not settings.strict_vin:
        return kind
    return replace(kind, read=partial(read_vehicles, strict_vin=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What became of one file.

    Parameters
    ----------
    counts : mapping of str to int
        added, changed, same; for snapshots accepted, duplicates, quarantined, rejected.
    refused : tuple of Refusal
        With their places in the file.
    warnings : tuple of Refusal
        Accepted, and worth a look.
    unknown : mapping of str to int
        Columns, keys or names without a meaning.
    personal_fields : int
        Driver and position fields dropped at the door.
    """

    counts: Mapping[str, int]
    refused: tuple[Refusal, ...] = ()
    warnings: tuple[Refusal, ...] = ()
    unknown: Mapping[str, int]
    personal_fields: int = 0


def load_rows(store: Store, kind: Kind, body: bytes, how: str, *, now: datetime, who: str) -> Outcome:
    """Load a file of rows.

    Parameters
    ----------
    store : Store
        Open and migrated.
    kind : Kind
        One of `KINDS`.
    body : bytes
        Unpacked.
    how : str
        Format that the kind's reader knows.
    now : datetime
        Aware.
    who : str
        Who loads it.

    Raises
    ------
    IngestError
        The file as a whole cannot be read.
    """
    return _rows(store, kind, body, how, now=now, who=who, keep=True)


def try_rows(store: Store, kind: Kind, body: bytes, how: str, *, now: datetime, who: str) -> Outcome:
    """Say what `load_rows` would do, and do nothing.

    Raises
    ------
    IngestError
        The file as a whole cannot be read.
    """
    return _rows(store, kind, body, how, now=now, who=who, keep=False)


def _rows(store: Store, kind: Kind, body: bytes, how: str, *, now: datetime, who: str, keep: bool) -> Outcome:
    loaded = kind.read(without_reasons(body, how), how)
    with store.begin() as work:
        loads = kind.put(work, loaded.rows, now, who=who)
        if keep:
            work.commit()
    refused = sorted((*loaded.rejected, *placed(loads.refused, loaded)), key=lambda one: one.index)
    return Outcome(
        counts={"added": loads.added, "changed": loads.changed, "same": loads.same},
        refused=tuple(refused),
        warnings=loaded.warnings,
        unknown=dict(loaded.unknown_columns),
        personal_fields=loaded.personal_fields,
    )


def placed(refusals: Sequence[Refusal], loaded: Loaded[Any]) -> list[Refusal]:
    """Tell the store's refusals by their place in the file: the store has counted only rows that were read.

    Parameters
    ----------
    refusals : sequence of Refusal
        With places among `loaded.rows`.
    loaded : Loaded
        What the reader made of the file.

    Returns
    -------
    list of Refusal
        With places in the file.
    """
    skipped = {refusal.index for refusal in loaded.rejected}
    total = len(loaded.rows) + len(skipped)
    places = [place for place in range(total) if place not in skipped]
    return [replace(one, index=places[one.index]) if one.index >= 0 else one for one in refusals]


def read_arrival(store: Store, body: bytes, how: str, now: datetime) -> Arrival:
    """Read snapshots under the names that hold now.

    Raises
    ------
    IngestError
        The body as a whole cannot be read.
    """
    with store.begin(readonly=True) as work:
        table = AliasTable.from_rows(work.aliases(), work.sheets())
    # Read outside the writing transaction: a SQLite store has one writer at a time.
    return formats.read_snapshots(
        without_reasons(body, how),
        kind=how,
        now_us=to_us(now),
        aliases=table,
        sheet_of=SheetsAsNeeded(store) if table.has_scopes() else {},
    )


def load_snapshots(store: Store, body: bytes, how: str, *, now: datetime, source: str) -> Outcome:
    """Load a file of snapshots; arguments and errors as of `load_rows`."""
    return _snapshots(store, body, how, now=now, source=source, keep=True)


def try_snapshots(store: Store, body: bytes, how: str, *, now: datetime, source: str) -> Outcome:
    """Say what `load_snapshots` would do, and do nothing."""
    return _snapshots(store, body, how, now=now, source=source, keep=False)


def _snapshots(store: Store, body: bytes, how: str, *, now: datetime, source: str, keep: bool) -> Outcome:
    arrival = read_arrival(store, body, how, now)
    with store.begin() as work:
        receipt: Receipt = work.add_arrival(arrival, received_at=now, source=source)
        if keep:
            work.commit()
    refused = sorted((*receipt.quarantined, *receipt.rejected), key=lambda one: one.index)
    return Outcome(
        counts={
            "accepted": receipt.accepted,
            "duplicates": receipt.duplicates,
            "quarantined": len(receipt.quarantined),
            "rejected": len(receipt.rejected),
        },
        refused=tuple(refused),
        unknown=dict(arrival.unknown_names),
        personal_fields=arrival.personal_fields,
    )
