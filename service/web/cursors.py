"""Opaque cursors: where a list goes on, bound to the list, its filters and its as-of."""

import base64
import hashlib
from collections.abc import Mapping, Sequence
from typing import Final

import orjson

from service.web.errors import BadCursor

VERSION: Final = 1
"""Raised when the meaning of a cursor's keys changes, so that old ones are refused, not misread."""


def _binding(dataset: str, filters: Mapping[str, object]) -> str:
    text = orjson.dumps(
        [dataset, {name: str(value) for name, value in filters.items()}], option=orjson.OPT_SORT_KEYS
    )
    return hashlib.sha256(text).hexdigest()[:16]


def write_cursor(dataset: str, filters: Mapping[str, object], key: Sequence[str]) -> str:
    """Write the place after which a list goes on.

    Parameters
    ----------
    dataset : str
        Name of the list.
    filters : mapping
        Every filter of the request, as-of included.
    key : sequence of str
        Sort key of the last row given out.

    Returns
    -------
    str
        URL-safe text without meaning to the caller.
    """
    body = orjson.dumps([VERSION, _binding(dataset, filters), list(key)])
    return base64.urlsafe_b64encode(body).decode("ascii").rstrip("=")


def read_cursor(dataset: str, filters: Mapping[str, object], cursor: str) -> tuple[str, ...]:
    """Read a cursor back.

    Parameters
    ----------
    dataset, filters
        As in `write_cursor`; they must be those of the first page.
    cursor : str
        As the caller sent it.

    Returns
    -------
    tuple of str
        Sort key of the last row given out.

    Raises
    ------
    BadCursor
        Not one of ours, of another list, or of other filters.
    """
    try:
        body = orjson.loads(
            base64.b64decode(cursor + "=" * (-len(cursor) % 4), altchars=b"-_", validate=True)
        )
    except ValueError as err:
        raise BadCursor from err
    if not isinstance(body, list) or len(body) != 3 or body[:2] != [VERSION, _binding(dataset, filters)]:
        raise BadCursor
    key = body[2]
    if not isinstance(key, list) or not key or any(not isinstance(part, str) for part in key):
        raise BadCursor
    return tuple(key)
