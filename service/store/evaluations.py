"""What evaluations said, and the weekly reports made of it."""

from collections.abc import Sequence
from datetime import datetime

from models.findings import Assessment, Trend
from service.store.unit import Unit
from service.store.values import FrozenReport


class Evaluations(Unit):
    """Assessments, trends and frozen reports."""

    def put_assessment(
        self, assessment: Assessment, now: datetime, *, trends: Sequence[Trend] | None = None
    ) -> None:
        """Keep an assessment under its day, replacing an earlier one; trends stay for Mondays and the newest day."""
        raise NotImplementedError

    def assessment(self, as_of_day: int | None = None) -> Assessment | None:
        """Give the newest assessment, or the newest of a day not after `as_of_day`; None where there is none."""
        raise NotImplementedError

    def assessed_days(self) -> tuple[int, ...]:
        """Give the days that have an assessment, in order."""
        raise NotImplementedError

    def assessed_at(self, day: int) -> datetime | None:
        """Tell when the assessment of a day was made; None where there is none."""
        raise NotImplementedError

    def trends(self, as_of_day: int | None = None, *, vehicle: str = "") -> tuple[Trend, ...]:
        """Give the trends of the newest day that has them and is not after `as_of_day`, of one vehicle or all."""
        raise NotImplementedError

    def trend_day(self, as_of_day: int | None = None) -> int | None:
        """Give the day whose trends `trends` would return; None where there is none."""
        raise NotImplementedError

    def freeze_report(self, week: str, body: str, now: datetime) -> bool:
        """Freeze a week's report (`2031-W37`); False when it was frozen before, which stays as it is."""
        raise NotImplementedError

    def report(self, week: str) -> FrozenReport | None:
        """Give a week's report; None where it is not frozen yet."""
        raise NotImplementedError

    def reports(self) -> tuple[str, ...]:
        """Give the weeks that have a report, newest first."""
        raise NotImplementedError
