"""Order and words of tickets: monotone, reproducible, and never good news from silence."""

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.findings import VehicleState
from service.tickets.costs import CostTable, starting_costs
from service.tickets.priority import (
    Stakes,
    due_by,
    gain_of,
    is_thin,
    rank_key,
    ranked,
    vehicle_words,
    word_for,
)
from service.tickets.ticket import PRIORITIES, Ticket

AT = datetime(2031, 3, 3, tzinfo=UTC)
STAKES = Stakes(
    probability_30d=0.3,
    probability_crossing=0.4,
    probability_fault=0.8,
    consequence=2,
    causes=(("unmetered_air", 0.8), ("unknown", 0.2)),
    recent_days=20,
    states=2,
    has_sheet=True,
)
WORSE = {word: -place for place, word in enumerate(PRIORITIES)}


def _ticket(**changes: object) -> Ticket:
    plain = Ticket(ticket="V-1-T1", vehicle="V-1", raised_at=AT, updated_at=AT, probability_30d=0.3)
    return replace(plain, **changes)  # type: ignore[arg-type]


@given(
    low=st.floats(0, 1),
    high=st.floats(0, 1),
    consequence=st.sampled_from([1, 2, 3, 4]),
    costs=st.sampled_from([None, starting_costs()]),
)
def test_a_higher_probability_never_lowers_the_word(
    low: float, high: float, consequence: int, costs: CostTable | None
) -> None:
    """Raise the probability alone: the word stays or gets more urgent."""
    low, high = sorted((low, high))
    calm = replace(STAKES, probability_30d=low, consequence=consequence)
    tense = replace(STAKES, probability_30d=high, consequence=consequence)

    assert WORSE[word_for(tense, costs)] >= WORSE[word_for(calm, costs)]


def test_a_dearer_breakdown_never_lowers_the_gain() -> None:
    """Raise the unplanned cost alone: the gain of acting now grows."""
    cheap = starting_costs()
    row = replace(cheap.causes["unmetered_air"], downtime=5_000.0)
    dear = replace(cheap, causes={**cheap.causes, "unmetered_air": row})

    assert gain_of(STAKES, dear) > gain_of(STAKES, cheap)


def test_the_gain_is_the_sum_of_its_parts() -> None:
    """P (unplanned - planned) less (1 - P_fault) times the cost of looking."""
    costs = starting_costs()
    saved = costs.unplanned(STAKES.causes) - costs.planned(STAKES.causes)

    assert gain_of(STAKES, costs) == pytest.approx(0.3 * saved - 0.2 * costs.look())


@given(
    others=st.lists(st.tuples(st.floats(0, 1), st.sampled_from([1, 2, 3, 4])), max_size=8),
    low=st.floats(0, 1),
    high=st.floats(0, 1),
    consequence=st.sampled_from([1, 2, 3, 4]),
    stop=st.floats(0, 10_000),
)
def test_a_rank_never_falls(
    others: list[tuple[float, int]], low: float, high: float, consequence: int, stop: float
) -> None:
    """Among whatever tickets: raise one's probability, or what its breakdown costs, and it never sinks."""
    low, high = sorted((low, high))
    cheap = starting_costs()
    row = cheap.causes["unmetered_air"]
    dear = replace(
        cheap, causes={**cheap.causes, "unmetered_air": replace(row, downtime=row.downtime + stop)}
    )
    rest = [_priced(f"V-{place}-T1", p, kind, cheap) for place, (p, kind) in enumerate(others, start=2)]

    def place_of(probability: float, costs: CostTable) -> int:
        mine = _priced("V-1-T1", probability, consequence, costs)
        return [one.ticket for one in ranked([mine, *rest])].index("V-1-T1")

    assert place_of(high, cheap) <= place_of(low, cheap)
    assert place_of(low, dear) <= place_of(low, cheap)


def _priced(number: str, probability: float, consequence: int, costs: CostTable) -> Ticket:
    stakes = replace(STAKES, probability_30d=probability, consequence=consequence)
    return _ticket(
        ticket=number,
        probability_30d=probability,
        consequence=consequence,
        priority=word_for(stakes, costs),
        gain=gain_of(stakes, costs),
    )


def test_a_loss_is_watched_unless_the_vehicle_may_stall() -> None:
    """Where acting now costs more than it saves the word is Watch; class 1 precedes all the same."""
    doubtful = replace(STAKES, probability_fault=0.25, probability_30d=0.25)
    dear_look = replace(starting_costs(), look_hours=3.0)

    assert word_for(doubtful, starting_costs()) == "plan_this_week"
    assert word_for(doubtful, dear_look) == "watch"
    assert word_for(replace(doubtful, consequence=1), dear_look) == "pull_in_now"


def test_a_fault_without_limits_has_a_gain_too() -> None:
    """Where no sheet names a limit nothing can be left, and the fault may still grow into a complaint."""
    unlimited = replace(STAKES, probability_crossing=0.0)

    assert gain_of(unlimited, starting_costs()) == gain_of(STAKES, starting_costs()) > 0


def test_thin_evidence_is_watched_unless_class_1() -> None:
    """Two of few days, one state, no sheet cap at Watch."""
    thin = replace(STAKES, probability_30d=0.9, states=1, has_sheet=False)

    assert is_thin(thin)
    assert word_for(thin, None) == "watch"
    assert word_for(replace(thin, consequence=1), None) == "pull_in_now"
    assert word_for(replace(thin, states=2), None) == "pull_in_now"


def test_due_by_is_the_earlier_of_class_and_limit_and_never_moves_out() -> None:
    """Class default, or the early end of the limit date; once promised it only moves forward."""
    raised = date(2031, 3, 3)

    assert due_by(raised, 2, None, as_of=raised, before=None) == date(2031, 3, 17)
    assert due_by(raised, 2, date(2031, 3, 10), as_of=raised, before=None) == date(2031, 3, 10)
    assert due_by(raised, 2, date(2031, 2, 1), as_of=raised, before=None) == date(2031, 3, 4)
    assert due_by(raised, 4, None, as_of=raised, before=date(2031, 3, 10)) == date(2031, 3, 10)


def test_class_1_precedes_and_resting_sinks() -> None:
    """A likely stall precedes a dear nuisance; a resting ticket comes last; ties go by number."""
    stall = _ticket(ticket="c", consequence=1, priority="pull_in_now", gain=1.0)
    dear = _ticket(ticket="a", priority="pull_in_now", gain=900.0)
    same = _ticket(ticket="b", priority="pull_in_now", gain=900.0)
    resting = _ticket(ticket="d", priority="pull_in_now", gain=9_000.0, resting_since=date(2031, 3, 1))

    order = [ticket.ticket for ticket in ranked([resting, same, dear, stall])]

    assert order == ["c", "a", "b", "d"]
    assert rank_key(dear) < rank_key(same)


def test_each_vehicle_has_one_word_its_worst() -> None:
    """Tickets first; awaiting proof, resting and deferred are Watch; learning and silent are Cannot say."""
    words = {"steady": "steady", "watch": "watch", "learning": "learning", "silent": "cannot_say"}
    states = [
        VehicleState(vehicle=name, word=word, reason="", last_day=1, readings=1)
        for name, word in (
            *words.items(),
            ("urgent", "steady"),
            ("done", "steady"),
            ("deferred", "steady"),
            ("mute", "cannot_say"),
        )
    ]
    tickets = [
        _ticket(vehicle="urgent", priority="watch"),
        _ticket(vehicle="urgent", priority="pull_in_now"),
        _ticket(vehicle="done", priority="pull_in_now", status="done"),
        _ticket(vehicle="deferred", priority="pull_in_now", status="deferred"),
        _ticket(vehicle="mute", priority="plan_this_week"),
        _ticket(vehicle="steady", priority="pull_in_now", status="verified", closed_at=AT),
        _ticket(vehicle="unregistered", priority="pull_in_now"),
    ]

    assert vehicle_words(states, tickets) == {
        "steady": "steady",
        "watch": "watch",
        "learning": "cannot_say",
        "silent": "cannot_say",
        "urgent": "pull_in_now",
        "done": "watch",
        "deferred": "watch",
        "mute": "plan_this_week",
    }
