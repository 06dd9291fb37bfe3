"""Walk past dates in turn, as a nightly run would have met them.

Each date sees only readings taken, and work done, by its end; sheets and depots are those in force now.

A store that already has evaluations or ticket changes in or after the span is refused, because tickets live
forward only. `restart` takes those back first: assessments from the first date on go, tickets return to how
they stood before it, newer ones vanish. What people did to tickets is never taken back: then even a restart
is refused, with the tickets named. Weekly reports that are frozen stay as they are.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import Final

from service.schedule.engine import Engine, Terms
from service.schedule.errors import ReplayRefused, WrongSpan
from service.schedule.evaluate import Report, act, load_material, make_report
from service.schedule.weekly import freeze_week
from service.store import Store
from service.store.rewind import Standing, rewind, standing_since
from service.store.work import Work
from service.tickets.byhand import Changed
from service.tickets.reconcile import Action
from service.tickets.ticket import Ticket
from service.tickets.words import listed, to_date, to_day

DAYS_PER_COMMIT: Final = 14
"""Dates written in one transaction; chosen by us: few enough to lose little, many enough to be quick."""

People = Callable[[date, tuple[Ticket, ...]], Sequence[Changed]]
"""What people do on a day before its evaluation: the day and every ticket in, the changed ones out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """Dates to evaluate: from the first, by steps of `every` days, up to the last."""

    first: date
    last: date
    every: int = 1

    def days(self) -> range:
        """Give the days since 1970-01-01.

        Raises
        ------
        WrongSpan
            The last date lies before the first, or the step is no step.
        """
        if self.last < self.first:
            raise WrongSpan(
                f"the last date {self.last.isoformat()} lies before the first, {self.first.isoformat()}."
            )
        if self.every < 1:
            raise WrongSpan(f"the step must be at least 1 day, was {self.every}.")
        return range(to_day(self.first), to_day(self.last) + 1, self.every)


@dataclass(frozen=True, slots=True, kw_only=True)
class Walk:
    """What a replay did.

    Parameters
    ----------
    first, last : date
        First and last date evaluated.
    dates : int
        Dates evaluated.
    folded : int
        Vehicle-days folded before.
    findings : int
        Findings of both tiers over all dates.
    actions : Counter
        Ticket actions by kind.
    reports : tuple of str
        Weeks whose report was frozen.
    """

    first: date
    last: date
    dates: int = 0
    folded: int = 0
    findings: int = 0
    actions: Counter[str] = field(default_factory=Counter)
    reports: tuple[str, ...] = ()

    def with_date(self, report: Report, week: str) -> "Walk":
        """Add one date."""
        return replace(
            self,
            dates=self.dates + 1,
            findings=self.findings + report.findings,
            actions=self.actions + Counter(report.actions),
            reports=(*self.reports, week) if week else self.reports,
        )


def replay(  # noqa: PLR0913 - each is one choice of the caller
    store: Store,
    span: Span,
    *,
    restart: bool = False,
    reports: bool = False,
    now: datetime,
    terms: Terms,
    engine: Engine,
    told: Callable[[Report], None] | None = None,
    people: People | None = None,
) -> Walk:
    """Evaluate as of each date in turn.

    Parameters
    ----------
    store : Store
        Open and migrated.
    span : Span
        Dates to evaluate.
    restart : bool
        Takes back what evaluations did from the first date on.
    reports : bool
        Freezes the weekly report on each Monday of the span, as the schedule would have.
    now : datetime
        When it is done, aware.
    terms, engine
        As in `evaluate`.
    told : callable or None
        Called after each date, for progress.
    people : callable or None
        Lets somebody act on tickets between dates, which a walk in one go leaves no room for: a made-up
        workshop whose tickets would otherwise all stay as they were raised. Asked before each date but the
        first; what it changes is kept with that date.

    Raises
    ------
    WrongSpan
        The dates make no span.
    ReplayRefused
        Evaluations or people's steps stand in the way.
    """
    days = span.days()
    _clear(store, days[0], restart=restart)
    store.reread_all(now)
    folded = store.fold_all(engine.summarise)
    with store.begin(readonly=True) as work:
        material = load_material(work, up_to_day=days[-1], terms=terms)
        daily = work.daily(up_to_day=days[-1])
        tickets = {ticket.ticket: ticket for ticket in work.tickets()}
    walker = engine.walker(material.fleet, daily, terms.wish)
    repaired = (material.fleet.vehicles, daily)
    walk = Walk(first=span.first, last=to_date(days[-1]), folded=folded)
    for start in range(0, len(days), DAYS_PER_COMMIT):
        with store.begin() as work:
            for day in days[start : start + DAYS_PER_COMMIT]:
                if people is not None and day != days[0]:
                    _keep(work, people(to_date(day), tuple(tickets.values())), tickets)
                assessment = walker.at(day)
                trends = walker.trends(day) if day == days[-1] else None  # the store keeps the newest day's
                work.put_assessment(assessment, now, trends=trends)
                if day == days[-1]:
                    work.put_corrected(day, walker.corrected(day))
                actions = act(
                    tuple(tickets.values()), assessment, material=material, repaired=repaired, terms=terms
                )
                _keep(work, actions, tickets)
                report = make_report(assessment, actions, folded=0)
                week = freeze_week(work, after_day=day, now=now, terms=terms) if reports else ""
                walk = walk.with_date(report, week)
                if told is not None:
                    told(report)
            work.commit()
    return walk


def _clear(store: Store, first_day: int, *, restart: bool) -> None:
    with store.begin() as work:
        standing = standing_since(work, first_day)
        _refuse(standing, restart=restart)
        if standing.assessments or standing.tickets:
            rewind(work, first_day)
            work.commit()


def _refuse(standing: Standing, *, restart: bool) -> None:
    if standing.touched_by_people:
        raise ReplayRefused(
            f"people acted on tickets since the first date: {listed(standing.touched_by_people)}. "
            "Choose a later first date, or replay into a copy of the store."
        )
    if (standing.assessments or standing.tickets) and not restart:
        raise ReplayRefused(
            f"the store has {standing.assessments} evaluations and {standing.tickets} changed tickets "
            "from the first date on. Choose a later first date, or say --restart to take them back."
        )


def _keep(work: Work, actions: Iterable[Action | Changed], tickets: dict[str, Ticket]) -> None:
    for action in actions:
        work.put_ticket(action.ticket, action.events, read_version=action.read_version)
        tickets[action.ticket.ticket] = action.ticket
