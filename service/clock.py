"""The only reader of the time."""

from collections.abc import Callable
from datetime import UTC, datetime


def _read() -> datetime:
    return datetime.now(UTC)  # noqa: TID251 - the one place that may


class Clock:
    """Tells the time; tests hand in their own reader.

    Parameters
    ----------
    read : callable
        Gives the present time, aware.
    """

    def __init__(self, read: Callable[[], datetime] = _read) -> None:
        self._read = read

    def now(self) -> datetime:
        """Give the present time as an aware UTC datetime.

        Raises
        ------
        ValueError
            The reader gave a time without a zone.
        """
        present = self._read()
        if present.tzinfo is None:
            raise ValueError(f"A clock must tell its zone; it gave {present.isoformat()} without one.")
        return present.astimezone(UTC)
