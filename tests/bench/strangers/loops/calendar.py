"""Days of the history as dates and as local times with their offset."""

from datetime import UTC, date, datetime, timedelta
from functools import cache
from zoneinfo import ZoneInfo


@cache
def _offset(zone: str, day: date) -> str:
    """Give the offset in force at noon; nobody drives when clocks change."""
    noon = datetime(day.year, day.month, day.day, 12, tzinfo=UTC)
    return noon.astimezone(ZoneInfo(zone)).isoformat()[-6:]


class Calendar:
    """Turns days of the history into dates and times."""

    def __init__(self, first: date) -> None:
        self.first = first

    def date(self, day: int) -> date:
        """Give the date of a day."""
        return self.first + timedelta(days=day)

    def moment(self, zone: str, day: int, hour: float) -> str:
        """Give a local time with its offset.

        Examples
        --------
        >>> Calendar(date(2023, 1, 2)).moment("America/Phoenix", 1, 7.5)
        '2023-01-03T07:30:00-07:00'
        """
        today = self.date(day)
        second = min(max(round(hour * 3600.0), 0), 86_399)
        clock = f"{second // 3600:02d}:{second // 60 % 60:02d}:{second % 60:02d}"
        return f"{today.isoformat()}T{clock}{_offset(zone, today)}"
