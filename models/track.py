"""Is this any good: what became of tickets, and of complaints that had none.

One idea: every figure carries its number and its 95 % interval, and below ten it says that it cannot say.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from scipy import special

from models.arguments import demand_positive
from models.errors import OutOfRangeError
from models.proportion import CONFIDENCE, poisson_rate, wilson

ENOUGH: Final = 10
"""Number below which a figure is too few to say [1]; the fleet manager's rule."""

Verdict = Literal["fault_found", "nothing_found", "open"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TicketOutcome:
    """What became of one ticket.

    Parameters
    ----------
    raised_day : int
        Day it was raised [days since 1970-01-01].
    verdict : {"fault_found", "nothing_found", "open"}
        What the inspection found; `open` while nobody has looked, which counts neither way.
    trouble_day : int or None
        Day of the first complaint or of leaving the limits, whichever came first; None if neither did.
    repaired : bool
        Whether a repair was recorded.
    came_back : bool
        Whether it was reopened, or a later ticket is linked to it as a comeback.
    """

    raised_day: int
    verdict: Verdict
    trouble_day: int | None = None
    repaired: bool = False
    came_back: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One number of the track record.

    Parameters
    ----------
    name : str
        confirmed, missed, warning_days, comebacks or false_tickets.
    value, low, high : float
        Estimate and its 95 % interval; NaN where there is nothing to count. Shares [1], days, or tickets
        per 100 vehicle-months.
    count : int
        Tickets, complaints or repairs behind it; whole vehicle-months for `false_tickets`.
    events : int
        Of these, how many are counted.
    enough : bool
        False where the count is below ten: show "too few to say".
    """

    name: str
    value: float
    low: float
    high: float
    count: int
    events: int
    enough: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackRecord:
    """The five figures.

    Parameters
    ----------
    confirmed : Figure
        Share of inspected tickets with a fault found (Wilson).
    missed : Figure
        Share of complaints with no ticket before them (Wilson).
    warning_days : Figure
        Median days from ticket to complaint or limit, among tickets with a fault found that saw either;
        interval from the order of the days (binomial).
    comebacks : Figure
        Share of repaired tickets that came back (Wilson).
    false_tickets : Figure
        Tickets with nothing found per 100 vehicle-months (exact Poisson).
    """

    confirmed: Figure
    missed: Figure
    warning_days: Figure
    comebacks: Figure
    false_tickets: Figure


def track_record(
    tickets: Sequence[TicketOutcome], complaints_foreseen: Sequence[bool], vehicle_months: float
) -> TrackRecord:
    """Count what became of tickets and complaints.

    Parameters
    ----------
    tickets : sequence of TicketOutcome
        Tickets of the period, whatever their state.
    complaints_foreseen : sequence of bool
        For each complaint of the period, whether a ticket for that fault stood before it.
    vehicle_months : float
        Vehicle-months judged in the period, above zero.

    Returns
    -------
    TrackRecord

    Raises
    ------
    OutOfRangeError
        For vehicle-months that are not positive, or a verdict that does not exist.

    Examples
    --------
    >>> seen = [TicketOutcome(raised_day=0, verdict="fault_found", trouble_day=30 + n) for n in range(8)]
    >>> seen += [TicketOutcome(raised_day=5, verdict="nothing_found")] * 2
    >>> record = track_record(seen, [True, False], 2000.0)
    >>> record.confirmed.value, round(record.confirmed.low, 4), record.confirmed.enough
    (0.8, 0.4902, True)
    >>> record.warning_days.value, record.warning_days.enough, record.false_tickets.value
    (33.5, False, 0.1)
    """
    demand_positive(vehicle_months, "vehicle_months")
    allowed = ("fault_found", "nothing_found", "open")
    for one in tickets:
        if one.verdict not in allowed:
            raise OutOfRangeError("verdict", f"one of {', '.join(allowed)}", one.verdict)
    found = [one for one in tickets if one.verdict == "fault_found"]
    empty = sum(one.verdict == "nothing_found" for one in tickets)
    repaired = [one for one in tickets if one.repaired]
    warned = [
        float(one.trouble_day - one.raised_day)
        for one in found
        if one.trouble_day is not None and one.trouble_day >= one.raised_day
    ]
    return TrackRecord(
        confirmed=_share("confirmed", len(found), len(found) + empty),
        missed=_share("missed", sum(not one for one in complaints_foreseen), len(complaints_foreseen)),
        warning_days=_middle_days(warned),
        comebacks=_share("comebacks", sum(one.came_back for one in repaired), len(repaired)),
        false_tickets=_rate(empty, vehicle_months),
    )


def median_interval(values: Sequence[float], confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Give an interval for a median from the order of the values alone.

    Parameters
    ----------
    values : sequence of float, length n
        Finite values.
    confidence : float
        Least share of such intervals that hold the true median [1].

    Returns
    -------
    tuple of float
        The two order statistics; minus and plus infinity where n is too small for the confidence.

    Examples
    --------
    >>> median_interval([5, 1, 4, 2, 3, 6, 8, 7, 9, 10])
    (2.0, 9.0)
    >>> median_interval([1, 2, 3])
    (-inf, inf)
    """
    ordered = np.sort(np.asarray(values, dtype=np.float64))
    count = len(ordered)
    risk = 0.5 * (1.0 - confidence)
    ranks = np.arange(count // 2)
    inside = np.flatnonzero(special.bdtr(ranks, count, 0.5) <= risk) if count > 1 else ranks[:0]
    if not len(inside):
        return -math.inf, math.inf
    rank = int(inside[-1])
    return float(ordered[rank]), float(ordered[count - 1 - rank])


def _share(name: str, events: int, count: int) -> Figure:
    """Give a share with Wilson's interval."""
    low, high = wilson(events, count)
    value = events / count if count else math.nan
    return Figure(
        name=name, value=value, low=low, high=high, count=count, events=events, enough=count >= ENOUGH
    )


def _middle_days(days: list[float]) -> Figure:
    """Give the median warning with its interval."""
    low, high = median_interval(days)
    return Figure(
        name="warning_days",
        value=float(np.median(days)) if days else math.nan,
        low=max(0.0, low),
        high=high,
        count=len(days),
        events=len(days),
        enough=len(days) >= ENOUGH,
    )


def _rate(events: int, vehicle_months: float) -> Figure:
    """Give false tickets per 100 vehicle-months with the exact interval."""
    low, high = poisson_rate(events, vehicle_months / 100.0)
    return Figure(
        name="false_tickets",
        value=100.0 * events / vehicle_months,
        low=low,
        high=high,
        count=int(vehicle_months),
        events=events,
        enough=vehicle_months >= ENOUGH,
    )
