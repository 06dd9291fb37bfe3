"""How much one body or piece may hold, whatever its format: a small body may name very many items."""

from typing import Final

from ingest.errors import UnreadableBody

MOST_ITEMS: Final = 500_000
"""Most snapshots of one body; chosen by us: five times what the service is asked to take at once."""

MOST_COLUMNS: Final = 1_000
"""Most columns of a table; chosen by us: twice the values that one snapshot may have."""

MOST_CELLS: Final = 5_000_000
"""Most cells of one piece of a table, empty ones included; chosen by us: some 200 MB while it is read."""


def check_items(items: int, columns: int = 1) -> None:
    """Check how many snapshots a body holds, and how many cells where it is a table.

    Raises
    ------
    UnreadableBody
        Too many (``too-large``).

    Examples
    --------
    >>> check_items(500_001)
    Traceback (most recent call last):
    ...
    ingest.errors.UnreadableBody: The body holds 500,001 items; ... at most 500,000. Send it in parts.
    """
    if items > MOST_ITEMS:
        raise _too_large(f"{items:,} items", MOST_ITEMS)
    check_cells(items, columns)


def check_cells(rows: int, columns: int) -> None:
    """Check how many cells a table, or a piece of one, has.

    Raises
    ------
    UnreadableBody
        Too many (``too-large``).
    """
    if rows * columns > MOST_CELLS:
        raise _too_large(f"{rows * columns:,} cells", MOST_CELLS)


def check_columns(columns: int) -> None:
    """Check how many columns a table has.

    Raises
    ------
    UnreadableBody
        Too many (``too-large``).
    """
    if columns > MOST_COLUMNS:
        raise _too_large(f"{columns:,} columns", MOST_COLUMNS)


def most_rows(columns: int) -> int:
    """Give the most rows of one piece of a table."""
    return max(1, MOST_CELLS // max(1, columns))


def _too_large(found: str, most: int) -> UnreadableBody:
    return UnreadableBody(
        "too-large", f"The body holds {found}; one may hold at most {most:,}. Send it in parts."
    )
