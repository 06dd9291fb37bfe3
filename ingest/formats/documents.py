"""JSON bodies: one snapshot, an array of them, or an object that holds the array."""

import msgspec

from ingest.cells import Cells
from ingest.errors import UnreadableBody
from ingest.formats.amounts import MOST_ITEMS, check_items
from ingest.formats.items import read_items
from ingest.text import strip_mark


class _Envelope(msgspec.Struct):
    """An object that may hold the array; its other keys are not looked at."""

    snapshots: list[msgspec.Raw] | msgspec.UnsetType = msgspec.UNSET


_COMMAS = 10
"""Commas of one snapshot that a body may have on average before it is split; a plain one has thirty in some
five hundred bytes, so that a body within the limits never comes near."""

_ARRAY = msgspec.json.Decoder(list[msgspec.Raw])
_ENVELOPE = msgspec.json.Decoder(_Envelope)


def read_document(body: bytes) -> Cells:
    """Read a JSON body into cells.

    Raises
    ------
    UnreadableBody
        The body as a whole is not JSON (``bad-json``), or is empty (``empty-body``).

    Examples
    --------
    >>> len(read_document(b'{"snapshots": [{"vehicle": "V-1"}, {"vehicle": "V-2"}]}'))
    2
    """
    text, marked = strip_mark(body)
    text = text.strip()
    if not text:
        raise UnreadableBody("empty-body", "The body is empty; send a snapshot or an array of them.")
    # A list of millions of nothings is large before it can be counted.
    if text.count(b",") > _COMMAS * MOST_ITEMS:
        check_items(text.count(b","))
    try:
        items = _split(text)
    except (ValueError, RecursionError) as error:
        detail = f"The body is not JSON that holds a snapshot, an array or {{'snapshots': [...]}}: {error}."
        raise UnreadableBody("bad-json", detail) from error
    check_items(len(items))
    cells = read_items(items)
    if marked:
        cells.notes["byte-order-mark"] = 1
    return cells


def _split(text: bytes) -> list[bytes] | list[msgspec.Raw]:
    if text.startswith(b"["):
        return _ARRAY.decode(text)
    if not text.startswith(b"{"):
        raise ValueError("it starts with neither { nor [")
    found = _ENVELOPE.decode(text).snapshots
    return [text] if isinstance(found, msgspec.UnsetType) else found
