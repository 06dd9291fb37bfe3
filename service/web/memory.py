"""The newest evaluation, kept between requests while it is the newest."""

from dataclasses import dataclass, field
from datetime import datetime

from models.findings import Assessment
from service.store import Work


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
    """

    day: int | None = None
    made_at: datetime | None = None
    assessment: Assessment | None = None


@dataclass(slots=True)
class Memory:
    """Holds one evaluation.

    An evaluation of a whole fleet takes long to load and is replaced once a night. Which one is the newest is
    asked of the store each time, so that one made by another process counts at once.
    """

    _kept: Newest = field(default_factory=Newest)

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
        days = work.assessed_days()
        if not days:
            return Newest()
        made_at = work.assessed_at(days[-1])
        kept = self._kept
        if (kept.day, kept.made_at) != (days[-1], made_at):
            kept = Newest(day=days[-1], made_at=made_at, assessment=work.assessment(days[-1]))
            self._kept = kept
        return kept
