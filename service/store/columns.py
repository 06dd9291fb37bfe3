"""Column types that mean the same in SQLite and in PostgreSQL."""

from datetime import UTC, date, datetime, timedelta
from typing import Any, Final

from sqlalchemy import BigInteger, Dialect, Integer, Text
from sqlalchemy.types import TypeDecorator

EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
EPOCH_DAY: Final = date(1970, 1, 1).toordinal()
_MICROSECOND: Final = timedelta(microseconds=1)
_LARGEST_NUMBER: Final = 2**31 - 1

WORDS: Final = Text().with_variant(Text(collation="C"), "postgresql")
"""Text that sorts by code point in both databases, so that both give the same order."""


def to_us(moment: datetime) -> int:
    """Turn an aware time into microseconds since 1970-01-01T00:00Z.

    Raises
    ------
    ValueError
        The time has no zone.
    """
    if moment.tzinfo is None:
        raise ValueError(f"A stored time needs its zone; {moment.isoformat()} has none.")
    # Whole-number division: a float of seconds would lose the last microsecond.
    return (moment - EPOCH) // _MICROSECOND


def from_us(stored: int) -> datetime:
    """Turn microseconds since 1970-01-01T00:00Z into an aware UTC time."""
    return EPOCH + timedelta(microseconds=stored)


def to_day(calendar: date) -> int:
    """Turn a calendar date into days since 1970-01-01."""
    return calendar.toordinal() - EPOCH_DAY


def from_day(stored: int) -> date:
    """Turn days since 1970-01-01 into a calendar date."""
    return date.fromordinal(stored + EPOCH_DAY)


class RowNumber(TypeDecorator[int]):
    """A row's own number; one that no table can have asks for 0, which no row has.

    Numbers come from addresses and forms: a driver would fail on what does not fit the column.
    """

    impl = Integer
    cache_ok = True

    def process_bind_param(self, value: int | None, dialect: Dialect) -> int | None:  # noqa: ARG002 (signature of the library)
        """Give the number to look for, or to store.

        Examples
        --------
        >>> from sqlalchemy.dialects.sqlite import dialect
        >>> [RowNumber().process_bind_param(number, dialect()) for number in (7, -1, 10**20)]
        [7, 0, 0]
        """
        return value if value is None or 0 < value <= _LARGEST_NUMBER else 0


class UtcDateTime(TypeDecorator[datetime]):
    """Aware UTC datetimes outside, a whole number of microseconds in the table.

    SQLite keeps no zones and PostgreSQL rounds differently; a number is the same in both.
    """

    impl = BigInteger
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> int | None:  # noqa: ARG002 (signature of the library)
        """Give the number to store."""
        return None if value is None else to_us(value)

    def process_result_value(self, value: Any | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002 (signature of the library)
        """Give the aware time."""
        return None if value is None else from_us(value)
