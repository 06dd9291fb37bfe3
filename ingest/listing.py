"""Files of vehicles, aliases and work records: CSV or JSON into one mapping for each item.

Cells and JSON values come out as they came (text from CSV, typed values from JSON); the readers of each kind
decide what they mean. A quoted CSV cell may hold line breaks here.
"""

import csv
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from math import isfinite
from typing import Final

import msgspec

from ingest.batch import Refusal
from ingest.errors import BadTime, IngestError, UnknownKind, UnreadableBody
from ingest.personal import is_personal, strip_personal
from ingest.records import Loaded, Row
from ingest.text import check_header, decode_text, write_json

KINDS: Final = ("csv", "json")
Item = Mapping[str, object]
_SHOWN = 200


class BadItem(IngestError):  # noqa: N818  (named after the fact)
    """One item that cannot be accepted.

    Parameters
    ----------
    code, column, detail : str
        Stable code, column it is about, and what is wrong and allowed.
    """

    def __init__(self, code: str, column: str, detail: str) -> None:
        self.code = code
        self.column = column
        self.detail = detail
        super().__init__(detail)


@dataclass(slots=True, kw_only=True)
class Listing:
    """Items of a body, as far as they could be told apart.

    Parameters
    ----------
    items : list of (int, mapping)
        Place in the file from 0, and the item without personal fields.
    rejected : list of Refusal
        Items that are no items.
    personal_fields : int
        Fields dropped at the door.
    """

    items: list[tuple[int, Item]] = field(default_factory=list)
    rejected: list[Refusal] = field(default_factory=list)
    personal_fields: int = 0


def read_listing(body: bytes, kind: str, key: str, known: frozenset[str]) -> Listing:
    """Read the items of a body.

    Parameters
    ----------
    body : bytes
        CSV with a header line, or JSON: an array, one object, or an object holding the array under `key`.
    kind : {"csv", "json"}
        How to read it.
    key : str
        Name of the array in JSON, such as ``vehicles``.
    known : frozenset of str
        Columns that have a place; they are never taken for personal ones.

    Raises
    ------
    UnknownKind
        Another kind.
    UnreadableBody
        The body as a whole is not of its kind.

    Examples
    --------
    >>> read_listing(b"vehicle,depot" + bytes([10]) + b"V-1,North", "csv", "vehicles", frozenset()).items
    [(0, {'vehicle': 'V-1', 'depot': 'North'})]
    """
    if kind not in KINDS:
        raise UnknownKind(kind, KINDS)
    return _from_csv(body, known) if kind == "csv" else sort_items(read_json_items(body, key), known)


def read_json_items(body: bytes, key: str) -> list[object]:
    """Read a JSON array, a single object, or an object that holds the array under `key`."""
    text, _ = decode_text(body)
    try:
        document: object = msgspec.json.decode(text)
    except (msgspec.DecodeError, RecursionError) as error:
        raise UnreadableBody("bad-json", f"The body is not JSON: {error}.") from error
    if isinstance(document, dict) and isinstance(document.get(key), list):
        document = document[key]
    if isinstance(document, dict):
        return [document]
    if isinstance(document, list):
        return document
    raise UnreadableBody("bad-json", f"The body must be an object, an array or {{{key!r}: [...]}}.")


def sort_items(documents: Iterable[object], known: frozenset[str]) -> Listing:
    """Part objects from what is none, and take personal fields out."""
    listing = Listing()
    for index, document in enumerate(documents):
        clean, dropped = strip_personal(document, known)
        listing.personal_fields += dropped
        if isinstance(clean, dict):
            listing.items.append((index, clean))
        else:
            detail = "An item must be a JSON object."
            listing.rejected.append(
                Refusal(index=index, code="wrong-type", detail=detail, payload=write_json(clean))
            )
    return listing


def _from_csv(body: bytes, known: frozenset[str]) -> Listing:
    text, _ = decode_text(body)
    reader = csv.reader(text.splitlines(keepends=True), strict=True)
    listing = Listing()
    header: list[str] | None = None
    personal: set[str] = set()
    index = 0
    for cells, fault in _read_rows(reader):
        if header is None:
            if fault:
                raise UnreadableBody("bad-csv", f"The header line cannot be read: {fault}.")
            header = [cell.strip() for cell in cells]
            check_header(header)
            personal = {name for name in header if name not in known and is_personal(name)}
            continue
        if fault or len(cells) != len(header):
            detail = fault or f"The row has {len(cells)} cells, the header {len(header)}."
            listing.rejected.append(Refusal(index=index, code="bad-row", detail=detail))
        else:
            pairs = [(name, cell.strip()) for name, cell in zip(header, cells, strict=True)]
            item = {name: cell for name, cell in pairs if name not in personal}
            listing.personal_fields += sum(bool(cell) for name, cell in pairs if name in personal)
            listing.items.append((index, item))
        index += 1
    if header is None:
        raise UnreadableBody("empty-body", "The file is empty; its first line must name the columns.")
    return listing


def _read_rows(reader: Iterator[list[str]]) -> Iterator[tuple[list[str], str]]:
    """Yield (cells, fault) for each row that is not blank."""
    while True:
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            yield [], f"The row's quotes do not match: {error}."
            continue
        if any(cell.strip() for cell in cells):
            yield cells, ""


def load(
    listing: Listing, known: frozenset[str], build: Callable[[Item], Row], *, vehicle: str = "vehicle"
) -> Loaded[Row]:
    """Build a row from each item; what `build` refuses is rejected with its reason.

    Parameters
    ----------
    listing : Listing
        What `read_listing` gave.
    known : frozenset of str
        Names with a place; others are counted.
    build : callable
        Item in, row out; raises `BadItem` or another `IngestError`.
    vehicle : str
        Column that names the vehicle, for the refusal.
    """
    rows: list[Row] = []
    rejected = list(listing.rejected)
    unknown: Counter[str] = Counter()
    for index, item in listing.items:
        unknown.update(name for name in item if name not in known)
        try:
            rows.append(build(item))
        except IngestError as fault:
            column = fault.column if isinstance(fault, BadItem) else ""
            rejected.append(refuse(index, fault.code, column, str(fault), item, vehicle))
    rejected.sort(key=lambda refusal: refusal.index)
    return Loaded(
        rows=tuple(rows),
        rejected=tuple(rejected),
        unknown_columns=dict(unknown),
        personal_fields=listing.personal_fields,
    )


def refuse(index: int, code: str, column: str, detail: str, item: Item, vehicle: str = "vehicle") -> Refusal:
    """Write a refusal that carries the item."""
    name = item.get(vehicle)
    return Refusal(
        index=index,
        code=code,
        field=column,
        detail=detail,
        payload=write_json(item),
        vehicle=name if isinstance(name, str) else "",
    )


def take_text(item: Item, name: str, *, required: bool = False) -> str:
    """Take a text; missing ones are empty.

    Raises
    ------
    BadItem
        Not a text, missing though required, or with control characters, which no store takes.
    """
    value = item.get(name)
    if value is None or (isinstance(value, str) and not value.strip()):
        if required:
            raise BadItem("missing-column", name, f"{name} is required.")
        return ""
    if not isinstance(value, str):
        raise BadItem("wrong-type", name, f"{name} must be a text, was {write_json(value)[:_SHOWN]}.")
    text = value.strip()
    if any(ord(letter) < 32 and letter not in "\n\r\t" for letter in text):
        raise BadItem("bad-name", name, f"{name} must not hold control characters.")
    return text


def take_word(item: Item, name: str, allowed: tuple[str, ...], *, required: bool = False) -> str:
    """Take a text that must be one of `allowed`; a missing one is empty.

    Raises
    ------
    BadItem
        Another word, or none though required.
    """
    text = take_text(item, name, required=required)
    if text and text not in allowed:
        raise BadItem("unknown-word", name, f"{name} must be one of {', '.join(allowed)}, was {text!r}.")
    return text


def take_number(
    item: Item, name: str, *, low: float = -1e12, high: float = 1e12, whole: bool = False
) -> float | None:
    """Take a number; None where missing.

    Raises
    ------
    BadItem
        Not a finite number, outside `low` to `high`, or not whole though asked.
    """
    value = item.get(name)
    if value is None or (isinstance(value, str) and not value.strip()):
        return None
    number = _to_number(value, name)
    if not low <= number <= high:
        raise BadItem("out-of-range", name, f"{name} must be {low:g} to {high:g}, was {number:g}.")
    if whole and number != int(number):
        raise BadItem("wrong-type", name, f"{name} must be a whole number, was {number:g}.")
    return number


def _to_number(value: object, name: str) -> float:
    fault = BadItem("wrong-type", name, f"{name} must be a number, was {write_json(value)[:_SHOWN]}.")
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise fault
    if isinstance(value, str) and (not value.isascii() or "_" in value):
        raise fault
    try:
        number = float(value)
    except (ValueError, OverflowError):
        raise fault from None
    if not isfinite(number):
        raise fault
    return number


def date_fault(name: str, fault: BadTime) -> BadItem:
    """Tie a time that cannot be read to its column."""
    return BadItem(fault.code, name, f"{name}: {fault.detail}")
