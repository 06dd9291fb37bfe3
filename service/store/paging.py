"""Opaque cursors: where a list goes on, bound to the list and its filters."""

import base64
import binascii
import hashlib
from collections.abc import Mapping, Sequence
from typing import Final

import orjson

from service.store.errors import BadCursor

LIMIT: Final = 10_000
"""Most rows on one page; chosen by us: a page stays below a few megabytes."""


def write_cursor(name: str, filters: Mapping[str, object], key: Sequence[str | int]) -> str:
    """Write the place after which a list goes on."""
    body = orjson.dumps([_binding(name, filters), list(key)])
    return base64.urlsafe_b64encode(body).decode("ascii").rstrip("=")


def read_cursor(
    name: str, filters: Mapping[str, object], cursor: str, kinds: Sequence[type]
) -> tuple[str | int, ...] | None:
    """Read a cursor back; None for the empty one, which asks for the first page.

    Raises
    ------
    BadCursor
        Not one of ours, of another list, or of other filters.
    """
    if not cursor:
        return None
    try:
        body = orjson.loads(base64.urlsafe_b64decode(cursor + "=" * (-len(cursor) % 4)))
    except (binascii.Error, UnicodeEncodeError, ValueError) as err:
        raise BadCursor("it is not one that this service gave out") from err
    if not isinstance(body, list) or len(body) != 2 or body[0] != _binding(name, filters):
        raise BadCursor("it belongs to another list or to other filters")
    key = body[1]
    if not isinstance(key, list) or [type(part) for part in key] != list(kinds):
        raise BadCursor("its place in the list is damaged")
    return tuple(key)


def check_limit(limit: int) -> int:
    """Pass a page size between 1 and `LIMIT`.

    Raises
    ------
    ValueError
        Outside that range.
    """
    if not 1 <= limit <= LIMIT:
        raise ValueError(f"A page holds 1 to {LIMIT} rows; asked for {limit}.")
    return limit


def _binding(name: str, filters: Mapping[str, object]) -> str:
    text = orjson.dumps([name, sorted((key, str(value)) for key, value in filters.items())])
    return hashlib.sha256(text).hexdigest()[:16]
