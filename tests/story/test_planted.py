"""Half a year of a sound fleet, and a year of one with planted faults: what is raised, when, and as what."""

from statistics import median
from typing import Final

import pytest

from service.demo.fleet import History, healthy_fleet, make_fleet
from service.demo.sheets import TYPES
from tests.bench.calibration import Forecast, leaves_band
from tests.bench.routes import by_columns
from tests.bench.score import Case, Truth, tally

pytestmark = pytest.mark.slow

MOST_FALSE: Final = 8
"""False tickets that 500 vehicles may have in 26 weeks where 3 are wished for; a Poisson count above it is
rarer than one in two hundred."""

LEAST_DAYS: Final = 14

KINDS: Final = {
    "dirty bore": ("throttle_deposits",),
    "stuck load switch": ("load_switch_stuck",),
    "vacuum leak": ("unmetered_air",),
    "weak charging": ("charging_low",),
    "sensor bias": ("coolant_sensor_bias", "air_sensor_bias", "map_sensor_bias"),
}


@pytest.fixture(scope="module")
def false_tickets() -> int:
    """Count what is raised on 500 sound vehicles in 26 weeks, evaluated each night."""
    return len(by_columns(healthy_fleet(1031, vehicles=500, weeks=26)).tickets)


def test_few_false_tickets(false_tickets: int) -> None:
    """A sound fleet of 500 has at most eight tickets in 26 weeks."""
    assert false_tickets <= MOST_FALSE


def test_no_flood_of_false_tickets(false_tickets: int) -> None:
    """However young the fleet, one false ticket in a thousand vehicle-weeks is not passed."""
    assert false_tickets <= 500 * 26 / 1_000


@pytest.fixture(scope="module")
def history() -> History:
    """Give a year of one fleet with planted faults."""
    return make_fleet(1033)


@pytest.fixture(scope="module")
def planted(history: History) -> tuple[Case, ...]:
    """Give its faults of the five kinds with their first tickets."""
    found = tally(history, by_columns(history).tickets).cases
    return tuple(case for case in found if case.truth.cause in sum(KINDS.values(), ()))


@pytest.fixture(scope="module")
def cases(planted: tuple[Case, ...]) -> tuple[Case, ...]:
    """Give those that led to a complaint."""
    return tuple(case for case in planted if case.complained)


def _limit_day(history: History, truth: Truth) -> int | None:
    """Find the day on which the true readings leave the sheet's limits; None where they do not in time.

    True readings are those before logger and line; limits that they lay beyond at the onset say nothing of
    the fault. Later than the repair nobody can tell.
    """
    kind = TYPES[history.roster.kind[history.roster.names.index(truth.vehicle)]]
    days = [
        leaves_band(history, _at_onset(truth, code, state, low, high))
        for code, state, low, high, *_ in kind.limits
    ]
    left = [day for day in days if day is not None and truth.onset < day < truth.end]
    return min(left, default=None)


def _at_onset(truth: Truth, code: str, state: str, low: float | None, high: float | None) -> Forecast:
    return Forecast(
        vehicle=truth.vehicle,
        day=truth.onset,
        age=0,
        parameter=code,
        state=state,
        limit_low=low,
        limit_high=high,
        reaches_low=None,
        reaches_high=None,
        probability_30d=None,
    )


def test_found_a_fortnight_before_the_limit(history: History, planted: tuple[Case, ...]) -> None:
    """Where a drift leaves time for it, the ticket comes a fortnight before the true value leaves its limits.

    Time is left where the best that any method can do, counted from the onset, is a fortnight earlier; a
    fault without a ticket by then counts as found on the day itself.
    """
    leads = []
    for case in planted:
        truth = case.truth
        limit_day = _limit_day(history, truth) if truth.shape == "ramp" else None
        if limit_day is None or truth.bound_days is None:
            continue
        if limit_day - truth.onset - truth.bound_days < LEAST_DAYS:
            continue
        leads.append(max(0, limit_day - case.first.day) if case.first else 0)

    assert len(leads) >= 5
    assert median(leads) >= LEAST_DAYS


@pytest.mark.parametrize("kind", KINDS)
def test_each_kind_is_found_and_named(cases: tuple[Case, ...], kind: str) -> None:
    """Of each kind most are found before the complaint, the true cause among the first three."""
    ours = [case for case in cases if case.truth.cause in KINDS[kind]]
    warned = [case.first for case in ours if case.in_time and case.first is not None]
    named = [case for case in ours if case.first and case.truth.cause in case.first.causes[:3]]

    assert ours
    assert len(warned) >= 0.6 * len(ours)
    assert len(named) >= 0.9 * len(warned)
