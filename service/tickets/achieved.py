"""Is this any good: how tickets ended, what was missed, and whether stated probabilities came true.

Every figure comes with its number and a 95 % interval. What nobody looked at counts nowhere: no label is not
a negative one. Comebacks are told by cause and kind of work, never by person.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from statistics import NormalDist, median
from typing import Final

from models.statistics.calibration import Bin, brier_score, reliability_table
from models.statistics.proportion import poisson_rate, wilson
from service.tickets.ticket import Ticket
from service.tickets.words import to_day

ENOUGH: Final = 10
"""Below this many cases a share is too few to say (default)."""

REPAIR_DAYS: Final = 60
"""A complaint followed within so many days by a repair with a cause was of a fault (default)."""

HORIZON_DAYS: Final = 30
"""Days within which a stated probability must come true."""

BINS: Final = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """So many of so many, with Wilson's 95 % interval."""

    count: int
    of: int

    @property
    def value(self) -> float | None:
        """The share; None of nothing."""
        return self.count / self.of if self.of else None

    @property
    def interval(self) -> tuple[float, float]:
        """Wilson's 95 % interval; 0 to 1 of nothing."""
        return wilson(self.count, self.of)

    @property
    def enough(self) -> bool:
        """Whether there are enough to say anything."""
        return self.of >= ENOUGH


@dataclass(frozen=True, slots=True, kw_only=True)
class Complaint:
    """One driver's complaint: whose vehicle, and when [days since 1970-01-01]."""

    vehicle: str
    day: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Fixed:
    """One repair that names a cause: whose vehicle, when [days since 1970-01-01], and which."""

    vehicle: str
    day: int
    cause: str
    kind: str = "repair"


@dataclass(frozen=True, slots=True, kw_only=True)
class Warned:
    """Days of warning before the complaint, or before the repair that forestalled it.

    Parameters
    ----------
    middle, low, high : float or None
        Median and its 95 % interval [d]; None of nothing; the interval needs six.
    count : int
        Tickets behind it.
    """

    middle: float | None
    low: float | None
    high: float | None
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Comebacks:
    """Repairs of one cause by one kind of work, and how many came back."""

    cause: str
    kind: str
    share: Share


@dataclass(frozen=True, slots=True, kw_only=True)
class FalseTickets:
    """Tickets with nothing found per 100 vehicle-months, exact Poisson 95 % interval.

    Parameters
    ----------
    count : int
        Inspections that found nothing.
    vehicle_months : float
        In service.
    rate, low, high : float or None
        Per 100 vehicle-months; None without any.
    """

    count: int
    vehicle_months: float
    rate: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Statement:
    """One stated probability and what came of it.

    Parameters
    ----------
    stated : float
        `probability_30d` when the ticket was raised.
    happened : bool or None
        Complaint or limits left within the horizon; None where a repair or the present came first.
    method : str
        Name and version of the method that stated it; empty where the ticket does not say.
    """

    stated: float
    happened: bool | None
    method: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """Statements that could be checked, in bins, with the Brier score; None without any.

    Parameters
    ----------
    by_method : tuple of (str, int, float)
        Method with its version, statements checked, and their own Brier score; in order of the name.
    """

    bins: tuple[Bin, ...]
    brier: float | None
    count: int
    undecided: int
    by_method: tuple[tuple[str, int, float], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Avoided:
    """Complaints avoided: an estimate, with its 80 % range; zero or negative is shown as such.

    Parameters
    ----------
    expected : float
        Sum of P(complaint within the horizon, given a fault) over verified tickets with a fault found.
    came : int
        Complaints of the same causes that still came.
    low, high : float
        80 % range of the difference.
    tickets : int
        Verified tickets with a fault found.
    """

    expected: float
    came: int
    low: float
    high: float
    tickets: int

    @property
    def value(self) -> float:
        """The estimate."""
        return self.expected - self.came


def was_found(ticket: Ticket) -> bool | None:
    """Tell whether an inspection found a fault; None where nobody said."""
    if ticket.done_at is not None:
        return True
    return False if ticket.status == "dismissed" and ticket.reason == "no_fault_found" else None


def fault_found(tickets: Iterable[Ticket]) -> Share:
    """Count tickets with a fault found among those that somebody inspected."""
    told = [found for found in map(was_found, tickets) if found is not None]
    return Share(count=sum(told), of=len(told))


def closings(tickets: Iterable[Ticket]) -> Mapping[str, int]:
    """Count how repairs were closed: `by_data`, `by_hand`, `without_proof`, or `waiting` for proof."""
    counts = dict.fromkeys(("by_data", "by_hand", "without_proof", "waiting"), 0)
    for one in tickets:
        if one.done_at is not None:
            counts[one.closed_detail if one.closed_detail in counts else "waiting"] += 1
    return counts


def missed(complaints: Iterable[Complaint], repairs: Iterable[Fixed], tickets: Iterable[Ticket]) -> Share:
    """Count complaints of a fault for which no ticket stood, among all complaints of a fault.

    A complaint was of a fault when a repair with a cause followed within `REPAIR_DAYS`. A ticket stood when
    it was raised before the complaint and not closed by then.
    """
    by_vehicle: dict[str, list[Ticket]] = defaultdict(list)
    for one in tickets:
        by_vehicle[one.vehicle].append(one)
    fixed: dict[str, list[int]] = defaultdict(list)
    for repair in repairs:
        fixed[repair.vehicle].append(repair.day)
    real = [one for one in complaints if any(0 <= day - one.day <= REPAIR_DAYS for day in fixed[one.vehicle])]
    without = [one for one in real if not any(_stood(ticket, one.day) for ticket in by_vehicle[one.vehicle])]
    return Share(count=len(without), of=len(real))


def _stood(ticket: Ticket, day: int) -> bool:
    closed = ticket.closed_at is not None and to_day(ticket.closed_at.date()) < day
    return to_day(ticket.raised_at.date()) < day and not closed


def warning_days(tickets: Iterable[Ticket]) -> Warned:
    """Give the median days from raising to the first complaint, or to the repair where none came.

    Only tickets with a fault found count. The interval of the median comes from the order of the values.
    """
    days = sorted(
        (min([*one.complaints, one.done_at]) - one.raised_at).total_seconds() / 86_400
        for one in tickets
        if one.done_at is not None
    )
    days = [max(0.0, one) for one in days]
    if not days:
        return Warned(middle=None, low=None, high=None, count=0)
    if len(days) < 6:
        return Warned(middle=median(days), low=None, high=None, count=len(days))
    # Ranks n/2 -+ z sqrt(n)/2 hold the median with 95 %: normal form of the binomial (sign test).
    half = NormalDist().inv_cdf(0.975) * len(days) ** 0.5 / 2
    low = max(0, int(len(days) / 2 - half))
    return Warned(middle=median(days), low=days[low], high=days[len(days) - 1 - low], count=len(days))


def comebacks(tickets: Iterable[Ticket], kinds: Mapping[str, str]) -> tuple[Comebacks, ...]:
    """Count repairs that came back, by cause and kind of work, the most repairs first.

    Parameters
    ----------
    tickets : iterable of Ticket
        Repaired ones count, by the cause that the repair names.
    kinds : mapping of str to str
        Kind of work by number of work record; tickets closed by hand without a record count as repairs.
    """
    found: dict[tuple[str, str], list[bool]] = defaultdict(list)
    for one in tickets:
        if one.done_at is None:
            continue
        kind = next((kinds[number] for number in reversed(one.records) if number in kinds), "repair")
        came = one.comeback_by != "" or one.status == "reopened"
        found[(one.done_cause or "unknown", kind)].append(came)
    rows = [
        Comebacks(cause=cause, kind=kind, share=Share(count=sum(came), of=len(came)))
        for (cause, kind), came in found.items()
    ]
    return tuple(sorted(rows, key=lambda row: (-row.share.of, row.cause, row.kind)))


def false_tickets(tickets: Iterable[Ticket], vehicle_months: float) -> FalseTickets:
    """Count inspections that found nothing over the vehicle-months in service."""
    count = sum(was_found(one) is False for one in tickets)
    if vehicle_months <= 0.0:
        return FalseTickets(count=count, vehicle_months=0.0, rate=None, low=None, high=None)
    hundreds = vehicle_months / 100.0
    low, high = poisson_rate(count, hundreds)
    return FalseTickets(count=count, vehicle_months=vehicle_months, rate=count / hundreds, low=low, high=high)


def statement_of(first: Ticket, later: Ticket, today: int) -> Statement | None:
    """Hold what a ticket stated when it was raised against what it knew `HORIZON_DAYS` later.

    Parameters
    ----------
    first : Ticket
        As raised.
    later : Ticket
        As it stood when the horizon ended, or stands now.
    today : int
        [days since 1970-01-01]

    Returns
    -------
    Statement or None
        None where nothing was stated.
    """
    if first.probability_30d is None:
        return None
    raised = to_day(first.raised_at.date())
    complained = any(0 <= to_day(at.date()) - raised <= HORIZON_DAYS for at in later.complaints)
    left = later.detail is not None and any(one.outside for one in later.detail.readings)
    over = later.done_at is not None or later.status == "dismissed" or today - raised < HORIZON_DAYS
    happened = True if complained or left else (None if over else False)
    method = "" if first.detail is None else first.detail.versions.method
    return Statement(stated=first.probability_30d, happened=happened, method=method)


def calibration(statements: Sequence[Statement]) -> Calibration:
    """Put statements that could be checked into ten bins beside what happened."""
    known = [one for one in statements if one.happened is not None]
    outcome, stated = [float(bool(one.happened)) for one in known], [one.stated for one in known]
    return Calibration(
        bins=reliability_table(outcome, stated, BINS) if known else (),
        brier=brier_score(outcome, stated) if known else None,
        count=len(known),
        undecided=len(statements) - len(known),
        by_method=tuple(
            (
                method,
                len(own),
                brier_score([float(bool(one.happened)) for one in own], [one.stated for one in own]),
            )
            for method in sorted({one.method for one in known})
            for own in [[one for one in known if one.method == method]]
        ),
    )


def complaint_given_fault(ticket: Ticket) -> float:
    """Give P(complaint within the horizon, given a fault) as the ticket last stated it, 0 to 1."""
    if not ticket.probability_30d or not ticket.probability_fault:
        return 0.0
    return min(1.0, ticket.probability_30d / ticket.probability_fault)


def avoided(tickets: Iterable[Ticket], complaints: Iterable[Complaint], repairs: Sequence[Fixed]) -> Avoided:
    """Estimate the complaints that were avoided.

    Sum of P(complaint given a fault) over verified tickets with a fault found, less the complaints of the
    same causes that still came: those followed by a repair of that cause within `REPAIR_DAYS`. The range is
    the normal one of independent events, plus a Poisson one for what came. Tickets with nothing found add
    nothing.
    """
    kept = [one for one in tickets if one.status == "verified" and one.done_at is not None]
    shares = [complaint_given_fault(one) for one in kept]
    causes = {one.done_cause or one.cause_1 for one in kept}
    came = sum(
        any(
            one.vehicle == repair.vehicle
            and repair.cause in causes
            and 0 <= repair.day - one.day <= REPAIR_DAYS
            for repair in repairs
        )
        for one in complaints
    )
    expected = sum(shares)
    half = NormalDist().inv_cdf(0.9) * (sum(p * (1 - p) for p in shares) + came) ** 0.5
    value = expected - came
    return Avoided(expected=expected, came=came, low=value - half, high=value + half, tickets=len(kept))
