"""Was the budget right: for past months, what was budgeted before them against what was then spent.

For each month the budget is made anew as of the day before it, from repairs done and tickets as they stood by
then, by the same method and with the present prices. Times of receiving play no part: a history that was
loaded later counts as if it had come in day by day.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Final

from models.money.budget import MINOR
from service.store import Work
from service.tickets.reconcile import stamp
from service.web.budget import forecast, months_ahead
from service.web.ground import Ground, price_of, repairs_of
from service.web.query import number_day

MONTHS_BACK: Final = 12
LEAST_HISTORY_DAYS: Final = 60
"""Days with readings before the first month that is tested; chosen by us: less says next to nothing."""

DRAWS_BACK: Final = 1000
"""Simulated months for each test; chosen by us: half of a budget's, there are twelve of them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TestedMonth:
    """One past month.

    Parameters
    ----------
    month : date
        Its first day.
    mean, low, middle, high : float
        Budgeted before it [currency]: mean, 10, 50 and 90 % points.
    spent : float
        What its repairs cost [currency].
    repairs : int
        How many there were.
    """

    month: date
    mean: float
    low: float
    middle: float
    high: float
    spent: float
    repairs: int

    @property
    def inside(self) -> bool:
        """Whether what was spent lies in the 80 % range."""
        return self.low <= self.spent <= self.high


def tested_months(as_of: date, first_day: int) -> list[date]:
    """Give the first days of the past whole months that can be tested, oldest first, at most twelve.

    Examples
    --------
    >>> [one.isoformat() for one in tested_months(date(2031, 6, 20), number_day(date(2031, 1, 10)))]
    ['2031-04-01', '2031-05-01']
    """
    found: list[date] = []
    month = as_of.replace(day=1)
    while len(found) < MONTHS_BACK:
        month = (month - timedelta(days=1)).replace(day=1)
        if number_day(month) - first_day < LEAST_HISTORY_DAYS:
            break
        found.append(month)
    return found[::-1]


def back_test(work: Work, ground: Ground) -> tuple[TestedMonth, ...]:
    """Test the budget on past months.

    Parameters
    ----------
    work : Work
        A read-only unit of work, for the tickets as they stood.
    ground : Ground
        What is known now.

    Returns
    -------
    tuple of TestedMonth
        Oldest first; empty while the history is short.
    """
    return tuple(_test(work, ground, month) for month in tested_months(ground.as_of, ground.first_day))


def _test(work: Work, ground: Ground, month: date) -> TestedMonth:
    before = month - timedelta(days=1)
    day = number_day(before)
    then = replace(
        ground,
        as_of=before,
        work=tuple(one for one in ground.work if one.day <= day),
        tickets=work.tickets(as_of=stamp(day)),
    )
    budget = forecast(then, months=1, draws=DRAWS_BACK).month
    after = number_day(months_ahead(month, 1)[0])
    costs = [price_of(one, ground.costs) for one in repairs_of(ground) if day < one.day < after]
    return TestedMonth(
        month=month,
        mean=int(budget.mean[0]) / MINOR,
        low=int(budget.p10[0]) / MINOR,
        middle=int(budget.p50[0]) / MINOR,
        high=int(budget.p90[0]) / MINOR,
        spent=round(sum(costs), 2),
        repairs=len(costs),
    )


def inside_of(months: Iterable[TestedMonth]) -> tuple[int, int]:
    """Count months inside their 80 % range, of how many."""
    found = tuple(months)
    return sum(one.inside for one in found), len(found)
