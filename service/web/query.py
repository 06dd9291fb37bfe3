"""Parts that queries have in common: how many, where from, as of when."""

from collections.abc import Sequence
from datetime import date
from typing import Any, Final

from fastapi import Query

from service.web.errors import BadQuery

MOST_ROWS: Final = 1000
"""Most rows of one page; chosen by us: a page of trends stays under a megabyte."""

EPOCH: Final = date(1970, 1, 1)

Limit: Final[Any] = Query(100, ge=1, le=MOST_ROWS, description="Rows of a page.")
Cursor: Final[Any] = Query("", description="next_cursor of the page before; the filters must be the same.")
AsOf: Final[Any] = Query(None, description="What was known at the end of this day, YYYY-MM-DD.")


def choose(name: str, given: str, allowed: Sequence[str]) -> str:
    """Take a value out of a closed list.

    Parameters
    ----------
    name : str
        Of the query parameter.
    given : str
        Its value.
    allowed : sequence of str
        What it may be.

    Returns
    -------
    str
        `given`.

    Raises
    ------
    BadQuery
        It is none of them.
    """
    if given not in allowed:
        raise BadQuery(name, given, ", ".join(one for one in allowed if one) or "nothing")
    return given


def number_day(day: date) -> int:
    """Count days since 1970-01-01."""
    return (day - EPOCH).days
