"""Cost per cause and exposure."""

from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from ingest.parameters import CAUSES
from service.tickets.spending import FEW, Repair, Watched, exposure_of, is_unplanned, money, spent_by_cause

REPAIRS = st.lists(
    st.builds(
        Repair,
        vehicle=st.sampled_from(["V-1", "V-2"]),
        depot=st.just("North"),
        cause=st.sampled_from(CAUSES[:4]),
        day=st.integers(0, 100),
        cost=st.none() | st.floats(0, 1e5).map(lambda cost: round(cost, 2)),
    ),
    max_size=40,
)


@given(repairs=REPAIRS, complaints=st.lists(st.integers(0, 100), max_size=4))
def test_lines_add_up(repairs: list[Repair], complaints: list[int]) -> None:
    """Every repair stands in exactly one line, and the lines add up to all costs to the cent."""
    lines = spent_by_cause(repairs, {"V-1": complaints})

    assert sum(line.planned.count + line.unplanned.count for line in lines) == len(repairs)
    whole = sum((money(one.cost) for one in repairs if one.cost is not None), Decimal("0.00"))
    assert sum((line.total for line in lines), Decimal("0.00")) == whole
    assert sorted(cause for line in lines for cause in line.causes) == sorted({one.cause for one in repairs})


@given(repairs=REPAIRS)
def test_few_are_pooled(repairs: list[Repair]) -> None:
    """Causes with fewer than five repairs stand together, last and marked; the others alone."""
    lines = spent_by_cause(repairs, {})

    for line in lines:
        counts = [sum(one.cause == cause for one in repairs) for cause in line.causes]
        assert line.pooled == all(count < FEW for count in counts)
    assert sum(line.pooled for line in lines) <= 1
    assert not any(line.pooled for line in lines[:-1])


def test_unplanned_is_after_a_complaint() -> None:
    """A repair within thirty days after a complaint on its vehicle was not planned; any other was."""
    repair = Repair(vehicle="V-1", depot="", cause="unknown", day=50, cost=None)

    assert is_unplanned(repair, {"V-1": [20]})
    assert not is_unplanned(repair, {"V-1": [19, 51]})
    assert not is_unplanned(repair, {"V-2": [50]})


def test_wrong_odometers_cover_nothing() -> None:
    """An odometer that ran back or leapt tells no distance; what is covered is told."""
    fine = Watched(
        vehicle="V-1", days=100, odometer_days=100, distance_km=5000, engine_days=100, engine_hours=200
    )
    back = Watched(vehicle="V-2", days=100, odometer_days=10, distance_km=-5, engine_days=0, engine_hours=0)
    leap = Watched(vehicle="V-3", days=100, odometer_days=1, distance_km=1e6, engine_days=0, engine_hours=0)

    found = exposure_of([fine, back, leap])

    assert (found.km, found.km_covered) == (15_000.0, 100 / 300)
    assert (found.hours, found.hours_covered) == (600.0, 100 / 300)
    assert exposure_of([]).km is None
