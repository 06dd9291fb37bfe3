"""Work files: ``vehicle, done_at, kind, cause, ticket, parts_cost, labour_hours, notes``.

`done_at` is a time with an offset or a plain date, which is taken as noon UTC.
"""

from typing import Final

from ingest.errors import BadTime
from ingest.listing import BadItem, Item, date_fault, load, read_listing, take_number, take_text, take_word
from ingest.parameters import CAUSES
from ingest.records import WORK_KINDS, Loaded, WorkRecord
from ingest.times import read_time_or_day
from ingest.vehicles import take_name

COLUMNS: Final = frozenset(
    ("vehicle", "done_at", "kind", "cause", "ticket", "parts_cost", "labour_hours", "notes")
)
MOST_HOURS: Final = 10_000.0
"""Most labour hours of one record [h]; chosen by us: more is a typing error."""


def read_work(body: bytes, kind: str) -> Loaded[WorkRecord]:
    """Read a work file.

    Parameters
    ----------
    body : bytes
        The file.
    kind : {"csv", "json"}
        JSON is an array, one object, or ``{"work": [...]}``.

    Raises
    ------
    UnknownKind, UnreadableBody
        The file as a whole cannot be read.

    Examples
    --------
    >>> read_work(b'{"vehicle": "V-1", "done_at": "2031-03-04", "kind": "repair"}', "json").rows[0].kind
    'repair'
    """
    return load(read_listing(body, kind, "work", COLUMNS), COLUMNS, _build)


def _build(item: Item) -> WorkRecord:
    text = take_text(item, "done_at", required=True)
    try:
        done_at = read_time_or_day(text)
    except BadTime as fault:
        raise date_fault("done_at", fault) from fault
    except OverflowError:
        raise BadItem("bad-time", "done_at", f"done_at: {text!r} lies outside the calendar.") from None
    return WorkRecord(
        vehicle=take_name(item, "vehicle", required=True),
        done_at=done_at,
        kind=take_word(item, "kind", WORK_KINDS, required=True),
        cause=take_word(item, "cause", CAUSES),
        ticket=take_name(item, "ticket"),
        parts_cost=take_number(item, "parts_cost", low=0.0),
        labour_hours=take_number(item, "labour_hours", low=0.0, high=MOST_HOURS),
        notes=take_text(item, "notes"),
    )
