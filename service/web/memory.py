"""What is kept between requests: the newest evaluation while it is, and how past weeks stood."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Final

import orjson

from dashboards.rows import Urgency
from models.findings import Assessment
from service.schedule.timetable import NIGHTLY
from service.store import Work
from service.web.urgency import as_urgency

KEPT_WEEKS: Final = 60
"""Past weeks held at most; chosen by us: somebody who leafs through a year loads none twice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Newest:
    """The newest evaluation; day, time and contents are None before the first.

    Parameters
    ----------
    day : int or None
        Evaluation day [days since 1970-01-01].
    made_at : datetime or None
        When it was made, aware UTC.
    assessment : Assessment or None
        What it says.
    failed_at : datetime or None
        When the night's run failed since, aware UTC; None where it did not, or has been made good.
    """

    day: int | None = None
    made_at: datetime | None = None
    assessment: Assessment | None = None
    failed_at: datetime | None = None


@dataclass(slots=True)
class Memory:
    """Holds one evaluation, whole and as each depot may see it, and the standings of past weeks.

    An evaluation of a whole fleet takes long to load and is replaced once a night. Which one is the newest is
    asked of the store each time, so that one made by another process counts at once. A frozen report never
    changes, so that what it says of the vehicles is read once.
    """

    _kept: dict[str, Newest] = field(default_factory=dict)
    _standings: dict[str, Mapping[str, Urgency]] = field(default_factory=dict)

    def newest(self, work: Work) -> Newest:
        """Give the newest evaluation, from memory while the store has no other.

        Parameters
        ----------
        work : Work
            Unit of work of the request.

        Returns
        -------
        Newest
            Empty before the first evaluation.
        """
        found = work.last_assessed()
        if found is None:
            return Newest()
        day, made_at = found
        kept = self._kept.get(work.depot, Newest())
        if (kept.day, kept.made_at) != found:
            kept = Newest(day=day, made_at=made_at, assessment=work.assessment(day))
            self._kept[work.depot] = kept
        return replace(kept, failed_at=_failed_since(work, made_at))

    def forget(self) -> None:
        """Forget everything: what was kept has been rewritten."""
        self._kept, self._standings = {}, {}

    def standings(self, work: Work, weeks: Sequence[str]) -> list[tuple[str, Mapping[str, Urgency]]]:
        """Give where each vehicle stood in past weeks, by their frozen reports.

        Parameters
        ----------
        work : Work
            Unit of work of the request.
        weeks : sequence of str
            ISO weeks; those without a report are left out.

        Returns
        -------
        list of (ISO week, standing by vehicle)
            Oldest first.
        """
        known = self._standings
        missing = [week for week in weeks if week not in known]
        if len(known) + len(missing) > KEPT_WEEKS:
            known = self._standings = {week: known[week] for week in weeks if week in known}
        for kept in work.reports_of(missing) if missing else ():
            told = orjson.loads(kept.body)["standings"]
            known[kept.week] = {vehicle: as_urgency(one["word"]) for vehicle, one in told.items()}
        found = [(week, known[week]) for week in sorted(weeks) if week in known]
        if not work.depot:
            return found
        # What is kept here is of the whole fleet.
        own = {one.vehicle for one in work.vehicles()}
        return [
            (week, {vehicle: word for vehicle, word in words.items() if vehicle in own})
            for week, words in found
        ]


def _failed_since(work: Work, made_at: datetime) -> datetime | None:
    """Find when the newest nightly run failed, unless an evaluation was made after it."""
    for run in work.runs(job=NIGHTLY, limit=1):
        if run.outcome == "failed" and run.finished_at is not None and run.finished_at > made_at:
            return run.finished_at
    return None
