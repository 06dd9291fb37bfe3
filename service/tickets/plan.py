"""Which vehicles fit the workshop's hours: the ordered list, cut where the hours end.

The unit is the visit of a vehicle: it is set up once, however many tickets it has. The list is cut, not
packed: a short visit further down never overtakes a long one. What is in the plan is what the order says.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from statistics import median
from typing import Final, Literal, get_args

from service.tickets.costs import CostTable
from service.tickets.expected import expected_hours
from service.tickets.priority import rank_key
from service.tickets.rules import Rules
from service.tickets.ticket import Ticket, is_calm, is_open

Why = Literal["in_work", "class_1", "past_due", "pinned", "rank"]
"""Why a visit stands where it stands, the most pressing first."""

LeftOutReason = Literal["by_hand", "parts", "vehicle_away", "hours_end"]
"""Why a visit is not in the plan."""

WHYS: Final[tuple[Why, ...]] = get_args(Why)

_MUST: Final = frozenset({"in_work", "class_1", "past_due"})
_SLACK_HOURS: Final = 1e-9
"""Sums of hours are compared up to rounding of floats."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """One vehicle in the workshop once.

    Parameters
    ----------
    vehicle, depot : str
        Fleet's own number and depot.
    tickets : tuple of Ticket
        What is to be done, the most urgent first.
    work_hours : tuple of float
        Expected hours of each ticket [h].
    setup_hours : float
        Bringing it in and out [h].
    why : Why
        Why it stands where it stands.
    is_pinned : bool
        A person wants it in the plan.
    """

    vehicle: str
    depot: str
    tickets: tuple[Ticket, ...]
    work_hours: tuple[float, ...]
    setup_hours: float
    why: Why
    is_pinned: bool

    @property
    def hours(self) -> float:
        """All hours of the visit [h], to the hundredth."""
        return round(self.setup_hours + sum(self.work_hours), 2)

    @property
    def is_must(self) -> bool:
        """Whether it goes before everything that only ranks high."""
        return self.why in _MUST


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """A visit that is not in the plan, and why."""

    visit: Visit
    reason: LeftOutReason


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What fits.

    Parameters
    ----------
    hours : float
        Hours that the workshop has [h].
    usable : float
        The same less the reserve [h].
    visits : tuple of Visit
        In order; their hours never exceed `usable`.
    left_out : tuple of LeftOut
        In the same order.
    pins_lack, musts_lack : float
        Hours that pinned visits, and visits that must come in, need beyond `usable` [h]; 0 when they fit.
    """

    hours: float
    usable: float
    visits: tuple[Visit, ...]
    left_out: tuple[LeftOut, ...]
    pins_lack: float
    musts_lack: float

    @property
    def used(self) -> float:
        """Hours of the visits in the plan [h]."""
        return round(sum(one.hours for one in self.visits), 2)


def usual_hours(repairs: Iterable[tuple[str, float]], *, least: int) -> dict[str, float]:
    """Give the median hours of repairs by cause, where enough are on record.

    Parameters
    ----------
    repairs : iterable of (cause, hours)
        Recorded repairs with hours [h].
    least : int
        Fewer records than this of a cause are too few: its hours come from the cost table.

    Returns
    -------
    dict of str to float
        Causes with enough records only [h].

    Examples
    --------
    >>> usual_hours([("unmetered_air", 1.0), ("unmetered_air", 3.0), ("charging_low", 2.0)], least=2)
    {'unmetered_air': 2.0}
    """
    by_cause: dict[str, list[float]] = {}
    for cause, hours in repairs:
        by_cause.setdefault(cause, []).append(hours)
    return {cause: float(median(found)) for cause, found in sorted(by_cause.items()) if len(found) >= least}


def make_visits(
    tickets: Iterable[Ticket],
    *,
    late: Collection[str],
    today: date,
    costs: CostTable,
    usual: Mapping[str, float] | None = None,
    rules: Rules | None = None,
) -> tuple[Visit, ...]:
    """Group the tickets that ask for the workshop into visits, in the order of the plan.

    Parameters
    ----------
    tickets : iterable of Ticket
        Closed ones, and those that ask for nothing now, are passed over. One under Watch counts only when a
        person pinned it, or it is in work.
    late : collection of str
        Numbers of tickets past due.
    today : date
        A pin that ended before does not count.
    costs : CostTable
        For hours of causes without enough records.
    usual : mapping of str to float, optional
        Hours by cause, from records [h].
    rules : Rules, optional
        The owner's settings.

    Returns
    -------
    tuple of Visit
        In work first, then what must come in, then pinned ones, then by rank; the same tickets give the same
        order.
    """
    rules = rules or Rules()
    wanted: dict[str, list[Ticket]] = {}
    for ticket in tickets:
        if _is_wanted(ticket, today):
            wanted.setdefault(ticket.vehicle, []).append(ticket)
    visits = []
    for vehicle, own in wanted.items():
        own.sort(key=rank_key)
        visits.append(
            Visit(
                vehicle=vehicle,
                depot=own[0].depot,
                tickets=tuple(own),
                work_hours=tuple(expected_hours(one, costs, usual or {}) for one in own),
                setup_hours=rules.setup_hours,
                why=min((_why(one, late, today) for one in own), key=WHYS.index),
                is_pinned=any(_is_pinned(one, today) for one in own),
            )
        )
    visits.sort(key=lambda one: (WHYS.index(one.why), *rank_key(one.tickets[0])))
    return tuple(visits)


def make_plan(
    visits: Sequence[Visit],
    hours: float,
    *,
    without: Collection[str] = (),
    rules: Rules | None = None,
) -> Plan:
    """Cut the list of visits where the hours end.

    Pinned visits have their hours set aside first, so that nothing above them in the list can push them
    out. Everything else follows its order until one does not fit; from there on all are left out.

    Parameters
    ----------
    visits : sequence of Visit
        In order.
    hours : float
        Hours that the workshop has [h]; not negative.
    without : collection of str
        Vehicles that the planner leaves out.
    rules : Rules, optional
        The owner's settings.

    Returns
    -------
    Plan
        Its hours never exceed the usable ones, even when pins alone would.
    """
    rules = rules or Rules()
    usable = hours * (1.0 - rules.plan_reserve)
    left = {one.vehicle: _held(one, without) for one in visits}
    able = [one for one in visits if left[one.vehicle] is None]
    pinned = _fitting([one for one in able if one.is_pinned], usable)
    kept = pinned | _fitting([one for one in able if not one.is_pinned], usable - _sum(able, pinned))
    return Plan(
        hours=hours,
        usable=round(usable, 2),
        visits=tuple(one for one in able if one.vehicle in kept),
        left_out=tuple(
            LeftOut(visit=one, reason=left[one.vehicle] or "hours_end")
            for one in visits
            if one.vehicle not in kept
        ),
        pins_lack=_lack([one for one in able if one.is_pinned], usable),
        musts_lack=_lack([one for one in able if one.is_must or one.is_pinned], usable),
    )


def propose_days(plan: Plan, today: date, *, rules: Rules | None = None) -> dict[str, date]:
    """Propose a day for each visit: the hours spread evenly over a week's working days from tomorrow on.

    Parameters
    ----------
    plan : Plan
        What fits.
    today : date
        In the fleet's zone.
    rules : Rules, optional
        The owner's settings.

    Returns
    -------
    dict of str to date
        By vehicle. A day that is booked already stays where it lies in that week, today included; visits in
        work get none.
    """
    rules = rules or Rules()
    days = _working_days(today, rules)
    share = plan.usable / len(days)
    found, gone = {}, 0.0
    for one in plan.visits:
        if one.why == "in_work":
            continue
        given = [ticket.booked_on for ticket in one.tickets if ticket.booked_on]
        booked = [day for day in given if today <= day <= days[-1]]
        place = int((gone + _SLACK_HOURS) / share) if share > 0 else 0
        found[one.vehicle] = min(booked) if booked else days[min(place, len(days) - 1)]
        gone += one.hours
    return found


def _working_days(today: date, rules: Rules) -> list[date]:
    coming = (today + timedelta(days=ahead) for ahead in range(1, 8))
    return [day for day in coming if day.weekday() in rules.working_days]


def _is_wanted(ticket: Ticket, today: date) -> bool:
    if not is_open(ticket) or ticket.status in {"done", "deferred"}:
        return False
    if ticket.status == "in_work" or _is_pinned(ticket, today):
        return True
    return not is_calm(ticket) and ticket.priority != "watch"


def _is_pinned(ticket: Ticket, today: date) -> bool:
    return ticket.pinned_until is not None and ticket.pinned_until >= today


def _why(ticket: Ticket, late: Collection[str], today: date) -> Why:
    if ticket.status == "in_work":
        return "in_work"
    if ticket.consequence == 1 and ticket.priority == "pull_in_now":
        return "class_1"
    if ticket.ticket in late:
        return "past_due"
    return "pinned" if _is_pinned(ticket, today) else "rank"


def _held(visit: Visit, without: Collection[str]) -> LeftOutReason | None:
    if visit.vehicle in without:
        return "by_hand"
    lead = visit.tickets[0]
    if lead.status != "accepted" or lead.booked_on is not None or visit.is_pinned:
        return None
    if lead.reason == "parts":
        return "parts"
    return "vehicle_away" if lead.reason == "vehicle_away" else None


def _fitting(visits: Sequence[Visit], room: float) -> set[str]:
    kept, gone = set(), 0.0
    for one in visits:
        gone += one.hours
        if gone > room + _SLACK_HOURS:
            break
        kept.add(one.vehicle)
    return kept


def _sum(visits: Iterable[Visit], kept: Collection[str]) -> float:
    return sum(one.hours for one in visits if one.vehicle in kept)


def _lack(visits: Sequence[Visit], usable: float) -> float:
    return round(max(0.0, sum(one.hours for one in visits) - usable), 2)
