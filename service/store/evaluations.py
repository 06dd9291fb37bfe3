"""What evaluations said, and the weekly reports made of it."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Final

import numpy as np
from sqlalchemy import delete, func, select

from models.findings import Assessment, Corrected, SeriesReading, Trend
from service.store.packing import pack, unpack
from service.store.tables import ASSESSMENT, CORRECTED, REPORT, TREND, VEHICLE
from service.store.unit import Unit, chunks
from service.store.values import FrozenReport

_MONDAY: Final = 3
"""1970-01-01 was a Thursday: days since then plus three, divided by seven, leave nothing on a Monday."""

_VEHICLES_AT_ONCE: Final = 250
"""Vehicles whose trends are read together; chosen by us: some 9,000 rows."""


class Evaluations(Unit):
    """Assessments, trends and frozen reports."""

    def put_assessment(
        self, assessment: Assessment, now: datetime, *, trends: Sequence[Trend] | None = None
    ) -> None:
        """Keep an assessment under its day.

        Parameters
        ----------
        assessment : Assessment
            Replaces an earlier one of the same day.
        now : datetime
            When it was made, aware.
        trends : sequence of Trend or None
            Kept for Mondays and for the newest day; those of other days give way. None where not computed.
        """
        values = {"method": assessment.method, "made_at": now, "body": pack(assessment)}
        statement = self._insert(ASSESSMENT).values(day=assessment.day, **values)
        self._connection.execute(statement.on_conflict_do_update(index_elements=["day"], set_=values))
        if trends is not None:
            self._put_trends(assessment.day, trends)

    def assessment(self, as_of_day: int | None = None) -> Assessment | None:
        """Give the newest assessment, or the newest not after `as_of_day`; None where there is none."""
        query = select(ASSESSMENT.c.body).order_by(ASSESSMENT.c.day.desc()).limit(1)
        if as_of_day is not None:
            query = query.where(ASSESSMENT.c.day <= as_of_day)
        body = self._connection.scalar(query)
        if body is None:
            return None
        found = unpack(body, Assessment)
        return self._of_depot(found) if self.depot else found

    def _of_depot(self, found: Assessment) -> Assessment:
        """Leave in an assessment what it says of the vehicles of the one depot that is in sight."""
        names = set(self._connection.scalars(select(VEHICLE.c.vehicle).where(self._in_sight())))
        return replace(
            found,
            findings=tuple(one for one in found.findings if one.vehicle in names),
            vehicles=tuple(one for one in found.vehicles if one.vehicle in names),
            unusable=tuple(one for one in found.unusable if one.vehicle in names),
            breaks=tuple(one for one in found.breaks if one.vehicle in names),
        )

    def assessed_days(self) -> tuple[int, ...]:
        """Give the days that have an assessment, in order."""
        return tuple(self._connection.scalars(select(ASSESSMENT.c.day).order_by(ASSESSMENT.c.day)))

    def last_assessed(self) -> tuple[int, datetime] | None:
        """Give the newest day that has an assessment, and when that was made; None before the first."""
        query = select(ASSESSMENT.c.day, ASSESSMENT.c.made_at).order_by(ASSESSMENT.c.day.desc()).limit(1)
        row = self._connection.execute(query).one_or_none()
        return None if row is None else (row.day, row.made_at)

    def assessed_at(self, day: int) -> datetime | None:
        """Tell when the assessment of a day was made; None where there is none."""
        return self._connection.scalar(select(ASSESSMENT.c.made_at).where(ASSESSMENT.c.day == day))

    def trends(self, as_of_day: int | None = None, *, vehicle: str = "") -> tuple[Trend, ...]:
        """Give the trends of `trend_day(as_of_day)`, of one vehicle or all, by vehicle."""
        day = self.trend_day(as_of_day)
        if day is None:
            return ()
        query = select(TREND.c.vehicle, TREND.c.body).where(TREND.c.day == day).order_by(TREND.c.vehicle)
        query = query.where(self._names_in_sight(TREND.c.vehicle))
        if vehicle:
            query = query.where(TREND.c.vehicle == vehicle)
        return tuple(
            Trend(vehicle=name, reading=reading)
            for name, body in self._connection.execute(query)
            for reading in unpack(body, tuple[SeriesReading, ...])
        )

    def trend_pieces(self, day: int, *, vehicle: str = "") -> Iterator[tuple[Trend, ...]]:
        """Give the trends of a day with some, of one vehicle or all, by vehicle and series.

        Of all they come some vehicles after the others: a large fleet's are never held at once.
        """
        mine = [TREND.c.day == day, self._names_in_sight(TREND.c.vehicle)]
        mine += [TREND.c.vehicle == vehicle] if vehicle else []
        names = sorted(self._connection.scalars(select(TREND.c.vehicle).where(*mine)))
        for some in chunks(names, _VEHICLES_AT_ONCE):
            query = select(TREND.c.vehicle, TREND.c.body).where(*mine, TREND.c.vehicle.in_(some))
            found = [
                Trend(vehicle=name, reading=reading)
                for name, body in self._connection.execute(query)
                for reading in unpack(body, tuple[SeriesReading, ...])
            ]
            yield tuple(sorted(found, key=lambda one: (one.vehicle, one.reading.series)))

    def trend_day(self, as_of_day: int | None = None) -> int | None:
        """Give the newest day not after `as_of_day` whose trends are kept; None where there is none."""
        query = select(func.max(TREND.c.day))
        if as_of_day is not None:
            query = query.where(TREND.c.day <= as_of_day)
        day: int | None = self._connection.scalar(query)
        return day

    def put_corrected(self, day: int, corrected: Sequence[Corrected]) -> None:
        """Keep the newest evaluation's corrected daily values; those of an earlier one give way."""
        grouped: dict[str, dict[str, tuple[bytes, bytes]]] = defaultdict(dict)
        for one in corrected:
            grouped[one.vehicle][one.series] = (
                one.day.astype("<i4").tobytes(),
                one.value.astype("<f4").tobytes(),
            )
        rows = [
            {"vehicle": vehicle, "day": day, "body": pack(series)}
            for vehicle, series in sorted(grouped.items())
        ]
        self._connection.execute(delete(CORRECTED))
        self._insert_rows(CORRECTED.insert(), rows)

    def corrected(self, vehicle: str) -> tuple[Corrected, ...]:
        """Give a vehicle's corrected daily values of the newest evaluation, by series; empty for none."""
        body = self._connection.scalar(
            select(CORRECTED.c.body).where(
                CORRECTED.c.vehicle == vehicle, self._names_in_sight(CORRECTED.c.vehicle)
            )
        )
        kept = {} if body is None else unpack(body, dict[str, tuple[bytes, bytes]])
        return tuple(
            Corrected(
                vehicle=vehicle,
                series=series,
                day=np.frombuffer(day, "<i4").astype(np.int32),
                value=np.frombuffer(value, "<f4").astype(np.float32),
            )
            for series, (day, value) in sorted(kept.items())
        )

    def freeze_report(self, week: str, body: str, now: datetime) -> bool:
        """Freeze a week's report, such as `2031-W37`; False when it was frozen before, and stays so."""
        statement = self._insert(REPORT).values(week=week, body=body, frozen_at=now)
        frozen = statement.on_conflict_do_nothing().returning(REPORT.c.week)
        return self._connection.execute(frozen).first() is not None

    def report(self, week: str) -> FrozenReport | None:
        """Give a week's report; None where it is not frozen yet, and to whoever sees one depot only."""
        return None if self.depot else self.whole_report(week)

    def whole_report(self, week: str) -> FrozenReport | None:
        """Give a week's report whoever asks, for `weekly.closed_week`, which leaves in what is in sight."""
        row = self._connection.execute(select(REPORT).where(REPORT.c.week == week)).one_or_none()
        return None if row is None else FrozenReport(**row._mapping)

    def reports(self) -> tuple[str, ...]:
        """Give the weeks that have a report, newest first."""
        return tuple(self._connection.scalars(select(REPORT.c.week).order_by(REPORT.c.week.desc())))

    def reports_of(self, weeks: Sequence[str]) -> tuple[FrozenReport, ...]:
        """Give the reports of some weeks whoever asks, oldest first; weeks without one are left out.

        Who is held to one depot is shown only what is in sight of it.
        """
        query = select(REPORT).where(REPORT.c.week.in_(weeks)).order_by(REPORT.c.week)
        return tuple(FrozenReport(**row._mapping) for row in self._connection.execute(query))

    def _put_trends(self, day: int, trends: Sequence[Trend]) -> None:
        self._connection.execute(delete(TREND).where(TREND.c.day == day))
        grouped: dict[str, list[SeriesReading]] = defaultdict(list)
        for trend in trends:
            grouped[trend.vehicle].append(trend.reading)
        rows = [
            {"day": day, "vehicle": vehicle, "body": pack(readings)} for vehicle, readings in grouped.items()
        ]
        self._insert_rows(TREND.insert(), rows)
        newest = select(func.max(TREND.c.day)).scalar_subquery()
        self._connection.execute(
            delete(TREND).where((TREND.c.day + _MONDAY) % 7 != 0, TREND.c.day != day, TREND.c.day < newest)
        )
