"""What another revision of a sheet would say of the readings that are there."""

import numpy as np
import pytest

from ingest.parameters import CODES, COLUMN, STATES
from models.findings import Trend
from models.panel import Daily, Fleet, SheetFacts
from models.whatif import Move, compare_sheets
from tests.service.findings import make_reading

DAYS = 30
TODAY = 22_000
WARM_IDLE = STATES.index("warm_idle")


def _sheet(revision: int, low: float | None, high: float | None) -> SheetFacts:
    return SheetFacts(
        sheet="HARROW-24",
        revision=revision,
        source="card 7",
        limits=(("LONGFT1", "warm_idle", low, high),),
    )


def _fleet(*names: str) -> Fleet:
    return Fleet(
        vehicles=names,
        sheet=np.full(len(names), -1, np.int32),
        sheets=(),
        depot=np.full(len(names), -1, np.int32),
        depots=(),
    )


def _daily(levels: list[float], days: int = DAYS) -> Daily:
    count = len(levels) * days
    values = np.full((count, len(CODES)), np.nan)
    values[:, COLUMN["LONGFT1"]] = np.repeat(levels, days)
    return Daily(
        vehicle=np.repeat(np.arange(len(levels), dtype=np.int32), days),
        day=np.tile(np.arange(TODAY - days + 1, TODAY + 1, dtype=np.int32), len(levels)),
        state=np.full(count, WARM_IDLE, np.int8),
        readings=np.ones(count, np.int32),
        values=values,
        switched_on=np.zeros((count, 3)),
    )


def _trends(fleet: Fleet) -> list[Trend]:
    return [
        Trend(vehicle=name, reading=make_reading(TODAY, segment_from=0, limit_margin=0.25))
        for name in fleet.vehicles
    ]


def _compare(
    levels: list[float], before: SheetFacts | None, after: SheetFacts, days: int = DAYS
) -> tuple[Move, ...]:
    fleet = _fleet(*(f"V-{place}" for place in range(len(levels))))
    return compare_sheets(fleet, _daily(levels, days), _trends(fleet), sheets=(before, after), day=TODAY)


def test_a_narrower_band_puts_vehicles_outside_and_a_wider_one_takes_them_back() -> None:
    """Only series that change sides are told, with the value and the new band."""
    moves = _compare([2.0, 6.0, 9.0], _sheet(1, -8, 8), _sheet(2, -5, 5))

    assert [(one.vehicle, one.before, one.after) for one in moves] == [("V-1", 0, 1)]
    assert (moves[0].value, moves[0].low, moves[0].high) == (6.0, -5.0, 5.0)
    assert [
        (one.vehicle, one.before, one.after)
        for one in _compare([2.0, 6.0, 9.0], _sheet(1, -8, 8), _sheet(2, -8, 10))
    ] == [("V-2", 1, 0)]


def test_the_same_limits_change_nothing() -> None:
    """A revision with the same band moves nobody, an empty history neither."""
    assert _compare([2.0, 9.0], _sheet(1, -8, 8), _sheet(2, -8, 8)) == ()
    assert _compare([], None, _sheet(2, -8, 8)) == ()


def test_a_first_sheet_is_held_against_no_band() -> None:
    """Where no revision is in force, whoever lies outside the draft's band is told."""
    assert [one.vehicle for one in _compare([2.0, -9.0], None, _sheet(1, -8, 8))] == ["V-1"]


@pytest.mark.parametrize("days", [3, 8])
def test_too_few_readings_are_not_judged(days: int) -> None:
    """What the evaluation would not judge is not judged here."""
    assert _compare([20.0], None, _sheet(1, -8, 8), days) == ()


def test_a_trend_without_a_margin_is_not_judged() -> None:
    """Where the evaluation had no median to judge, a draft is not held against one either."""
    fleet = _fleet("V-0")
    bare = Trend(vehicle="V-0", reading=make_reading(TODAY, segment_from=0, limit_margin=None))
    sheets = (_sheet(1, -8, 8), _sheet(2, -5, 5))

    assert compare_sheets(fleet, _daily([6.0]), [bare], sheets=sheets, day=TODAY) == ()
    assert len(_compare([6.0], *sheets)) == 1


def test_a_value_on_the_limit_stays_inside() -> None:
    """As in the evaluation a median must lie clearly beyond the limit."""
    assert _compare([8.2], None, _sheet(1, -8, 8)) == ()
    assert len(_compare([8.3], None, _sheet(1, -8, 8))) == 1
