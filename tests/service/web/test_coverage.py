"""What the coverage page says of doubt and chance, and how readings are smoothed."""

from datetime import UTC, datetime, timedelta

import pytest

from dashboards.chart import Point
from dashboards.coverage import FalseAlarms
from service.web.pages.charts import smooth
from service.web.pages.coverage import false_alarms_of
from service.web.pages.report import fuel_of


def _points(values: list[float], excluded: str = "") -> list[Point]:
    start = datetime(2031, 3, 4, tzinfo=UTC)
    return [
        Point(at=start + timedelta(days=n), value=value, excluded=excluded if n == 1 else "")
        for n, value in enumerate(values)
    ]


def test_a_wish_without_drifts_still_means_its_months() -> None:
    """With nothing shown only the meaning of the wish is said."""
    assert false_alarms_of(["run_length:1000"]) == FalseAlarms(months=1000)
    assert false_alarms_of(["run_length:1000", "chance:7:3"]) == FalseAlarms(months=1000, shown=7, chance=3)


def test_old_assessments_say_nothing() -> None:
    """An assessment kept before there were such notes has no sentence."""
    assert false_alarms_of([]) is None


def test_smoothing_weighs_the_newest_by_a_fifth() -> None:
    """The line starts at the first reading and takes a fifth of each new one."""
    assert smooth(_points([10.0, 20.0, 20.0])) == pytest.approx((10.0, 12.0, 13.6))


def test_what_does_not_count_leaves_the_line_alone() -> None:
    """An excluded reading has no place on the line and does not move it."""
    line = smooth(_points([10.0, 90.0, 20.0], "open_loop"))

    assert (line[0], line[1]) == (10.0, None)
    assert line[2] == pytest.approx(12.0)
    assert smooth([]) == ()


def test_a_fuel_hint_is_read() -> None:
    """The event's hint becomes the two shares of ethanol; none stays none."""
    assert (fuel_of("blend:0:10"), fuel_of("")) == (("0", "10"), None)
