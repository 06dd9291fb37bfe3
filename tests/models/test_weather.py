"""Air temperature of readings, told or not."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from ingest.parameters import CODES, COLUMN, STATES, SWITCHES
from models.panel import Daily, Fleet
from models.weather import LEAST_READINGS, read_air

IDLE, CRUISE = (STATES.index(name) for name in ("warm_idle", "cruise"))
DAY: Final = 19_700


def _fleet(depots: list[int]) -> Fleet:
    return Fleet(
        vehicles=tuple(f"V-{place}" for place in range(len(depots))),
        sheet=np.full(len(depots), -1, np.int32),
        sheets=(),
        depot=np.array(depots, np.int32),
        depots=("North", "South"),
    )


def _daily(rows: list[tuple[int, int, float, float]], day: int = DAY) -> Daily:
    """One row for each (vehicle, state, outside air, intake air)."""
    values = np.full((len(rows), len(CODES)), np.nan)
    values[:, COLUMN["AAT"]] = [row[2] for row in rows]
    values[:, COLUMN["IAT"]] = [row[3] for row in rows]
    return Daily(
        vehicle=np.array([row[0] for row in rows], np.int32),
        day=np.full(len(rows), day, np.int32),
        state=np.array([row[1] for row in rows], np.int8),
        readings=np.ones(len(rows), np.int32),
        values=values,
        switched_on=np.full((len(rows), len(SWITCHES)), np.nan),
    )


def _air(depots: list[int], rows: list[tuple[int, int, float, float]]) -> NDArray[np.float64]:
    return read_air(_fleet(depots), _daily(rows))


def test_outside_air_comes_before_the_intake() -> None:
    """What a vehicle reads itself is taken as it is, outside air first."""
    air = _air([0, 0], [(0, IDLE, 8.0, 20.0), (1, IDLE, np.nan, 21.0)])

    assert air.tolist() == [8.0, 21.0]


def test_the_depot_stands_in_by_state() -> None:
    """A vehicle that tells none has the median of its depot's idles, not of the colder road."""
    told = [(place, IDLE, np.nan, 20.0 + place) for place in range(3)]
    road = [(place, CRUISE, np.nan, 5.0) for place in range(3)]

    air = _air([0, 0, 0, 0], [*told, *road, (3, IDLE, np.nan, np.nan)])

    assert air[-1] == 21.0


def test_another_state_stands_in_where_too_few_tell() -> None:
    """Two idles are no crowd, with three cruises there are five readings of the day."""
    rows = [(0, IDLE, np.nan, 30.0), (1, IDLE, np.nan, 30.0)]
    rows += [(place, CRUISE, 6.0, np.nan) for place in range(3)]

    air = _air([0, 0, 0, 0], [*rows, (3, IDLE, np.nan, np.nan)])

    assert air[-1] == 6.0


def test_nobody_else_stands_in() -> None:
    """Another depot's air, too few readings and a vehicle without a depot stay unknown."""
    told = [(place, IDLE, 12.0, np.nan) for place in range(LEAST_READINGS)]
    few = told[: LEAST_READINGS - 1]

    assert np.isnan(_air([0, 0, 0, 1], [*told, (3, IDLE, np.nan, np.nan)])[-1])
    assert np.isnan(_air([0, 0, 0, 0], [*few, (3, IDLE, np.nan, np.nan)])[-1])
    assert np.isnan(_air([-1, -1, -1, -1], [*told, (3, IDLE, np.nan, np.nan)])[-1])


def test_a_stand_in_is_nobodys_reading() -> None:
    """What was filled in by state does not count towards the whole day."""
    rows = [(0, IDLE, np.nan, 30.0), (1, IDLE, np.nan, 30.0), (2, IDLE, np.nan, np.nan)]

    assert np.isnan(_air([0, 0, 0], rows)[-1])


def test_days_are_kept_apart() -> None:
    """Yesterday's weather is not today's."""
    told = _daily([(place, IDLE, 12.0, np.nan) for place in range(LEAST_READINGS)])
    silent = _daily([(3, IDLE, np.nan, np.nan)], DAY + 1)
    both = Daily(
        **{
            name: np.concatenate((getattr(told, name), getattr(silent, name)))
            for name in ("vehicle", "day", "state", "readings", "values", "switched_on")
        }
    )

    assert np.isnan(read_air(_fleet([0] * 4), both)[-1])


def test_no_rows() -> None:
    """An empty fleet has no weather."""
    assert len(_air([], [])) == 0
