"""How soon a ticket wants its vehicle, and in which order tickets stand."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from models.findings import VehicleState
from service.tickets.costs import CostTable, cost_at_risk
from service.tickets.ticket import Priority, Ticket, is_calm, is_open

DUE_DAYS: Final[Mapping[int, int]] = {1: 7, 2: 14, 3: 30, 4: 60}
"""Days from raising to due-by for each consequence class; defaults chosen by us."""

FIRST_CLASS_PROBABILITY: Final = 0.2
"""From this probability on a ticket of class 1 precedes all others (default)."""

_BANDS: Final = (0.05, 0.2, 0.5)
_W: Final[Priority] = "watch"
_P: Final[Priority] = "plan_this_week"
_N: Final[Priority] = "pull_in_now"
_WORDS: Final[Mapping[int, tuple[Priority, Priority, Priority, Priority]]] = {
    1: (_W, _P, _N, _N),
    2: (_W, _W, _P, _N),
    3: (_W, _W, _P, _P),
    4: (_W, _W, _W, _P),
}
"""Written table: consequence class and band of probability below 5, 20, 50 % and above; chosen by us."""

THIN_DAYS: Final = 5
"""Fewer days with readings than this are few; chosen by us."""

_ORDER: Final[Mapping[str, int]] = {"pull_in_now": 0, "plan_this_week": 1, "watch": 2}


@dataclass(frozen=True, slots=True, kw_only=True)
class Stakes:
    """What a priority rests on.

    Parameters
    ----------
    probability_30d : float
        The fault is there, and leads to a complaint or out of the limits within 30 days.
    probability_crossing : float
        Leaving the limits within 30 days.
    probability_fault : float
        An inspection would find something.
    consequence : int
        1 may stall or not start, 2 complaint, 3 fuel or emissions, 4 nuisance.
    causes : tuple of (code, probability)
        Ranked causes.
    recent_days, states : int
        Days with readings and operating states behind the verdict.
    has_sheet : bool
        Whether a spec sheet is in force.
    """

    probability_30d: float
    probability_crossing: float
    probability_fault: float
    consequence: int
    causes: tuple[tuple[str, float], ...]
    recent_days: int
    states: int
    has_sheet: bool


def gain_of(stakes: Stakes, costs: CostTable) -> float:
    """Give the expected gain of acting now [currency].

    P (C_unplanned - C_planned) - (1 - P_fault) C_look: the cost at risk, less what looking for nothing
    costs.
    """
    return saved_by(stakes, costs) - (1.0 - stakes.probability_fault) * costs.look(stakes.causes)


def saved_by(stakes: Stakes, costs: CostTable) -> float:
    """Give what acting now is expected to save [currency], before looking for nothing is paid."""
    return cost_at_risk(stakes.probability_30d, stakes.causes, costs)


def is_thin(stakes: Stakes) -> bool:
    """Tell whether the evidence is thin: two of few days, one state, no sheet."""
    faults = (stakes.recent_days < THIN_DAYS, stakes.states < 2, not stakes.has_sheet)
    return sum(faults) >= 2


def word_for(stakes: Stakes, costs: CostTable | None) -> Priority:
    """Choose the word: by the gain of acting now with a cost table, by the written table without."""
    probability = stakes.probability_30d
    if stakes.consequence == 1 and probability >= FIRST_CLASS_PROBABILITY:
        return "pull_in_now"
    band = sum(probability >= edge for edge in _BANDS)
    word = _WORDS[stakes.consequence][band]
    if is_thin(stakes) and stakes.consequence != 1:
        return "watch"
    if costs is None:
        return word
    if gain_of(stakes, costs) < 0:
        return "watch"
    return "plan_this_week" if word == "watch" else word


def due_by(
    raised_on: date, consequence: int, limit_low: date | None, *, as_of: date, before: date | None
) -> date:
    """Choose the day by which a vehicle should be seen.

    The earlier of the class default and the early end of the limit date, not before the day after the
    evaluation that first says so, and never later than promised before.
    """
    wanted = raised_on + timedelta(days=DUE_DAYS[consequence])
    if limit_low is not None:
        wanted = min(wanted, max(limit_low, as_of + timedelta(days=1)))
    return wanted if before is None else min(wanted, before)


def rank_key(ticket: Ticket) -> tuple[int, int, float, int, date, object, str]:
    """Give the sorting key of a ticket: first comes first.

    Class 1 with a fair probability precedes all; then the word, then the gain where costs are known;
    ties by class, due-by, age and number. Resting tickets sink.
    """
    first = ticket.consequence == 1 and (ticket.probability_30d or 0.0) >= FIRST_CLASS_PROBABILITY
    awake = ticket.resting_since is None
    return (
        0 if first and awake else 1,
        _ORDER[ticket.priority] if awake else len(_ORDER),
        -(ticket.gain if ticket.gain is not None else ticket.probability_30d or 0.0),
        ticket.consequence,
        ticket.due_by or date.max,
        ticket.raised_at,
        ticket.ticket,
    )


def ranked(tickets: Iterable[Ticket]) -> tuple[Ticket, ...]:
    """Sort tickets, the most urgent first."""
    return tuple(sorted(tickets, key=rank_key))


def vehicle_words(states: Sequence[VehicleState], tickets: Iterable[Ticket]) -> dict[str, str]:
    """Give each vehicle its one word, its worst: tickets first, then how well it could be judged.

    A repair that awaits proof, a resting and a deferred ticket count under Watch. A vehicle that is still
    learning, or silent, counts under Cannot say, never under Steady.
    """
    words = {
        state.vehicle: {"steady": "steady", "watch": "watch"}.get(state.word, "cannot_say")
        for state in states
    }
    for ticket in tickets:
        if not is_open(ticket) or ticket.vehicle not in words:
            continue
        word = "watch" if is_calm(ticket) else ticket.priority
        if _severity(word) < _severity(words[ticket.vehicle]):
            words[ticket.vehicle] = word
    return words


def _severity(word: str) -> float:
    # Watch outranks Cannot say: an open ticket on a silent vehicle must not vanish from the list.
    return {"pull_in_now": 0, "plan_this_week": 1, "watch": 2, "cannot_say": 3, "steady": 4}[word]
