"""Sentences made from numbers."""

from dataclasses import replace

import pytest

from dashboards.frame import Units
from dashboards.rows import Counts
from dashboards.sentences import chart_brief, chart_sentence, limits_text, numbers_row, week_sentence
from service.tickets.sentence import describe
from tests.dashboards import samples


def test_hours_that_do_not_suffice_are_said() -> None:
    """A week with more work than hours says how many hours are too few."""
    assert "23.2 h of your 20.0 h, 3.2 h too few" in week_sentence(samples.COUNTS, 23.2, 20.0, 0)


def test_quiet_week_says_how_many_were_judged() -> None:
    """Nothing to pull in is never just a tick: the number judged stands with it."""
    counts = Counts(in_service=412, pull_in_now=0, plan_this_week=0, watch=3, steady=386, cannot_say=23)

    sentence = week_sentence(counts, None, None, 0)

    assert sentence == "No vehicle needs pulling in; 3 to watch; nothing past due; 389 of 412 judged."


def test_one_vehicle_is_singular() -> None:
    """One vehicle and one ticket are written in the singular."""
    counts = replace(samples.COUNTS, pull_in_now=1, plan_this_week=0)

    assert week_sentence(counts, 1.0, None, 1).startswith("1 vehicle should come in this week (1.0 h;")
    assert "1 ticket past due" in week_sentence(counts, 1.0, None, 1)


def test_limit_names_sheet_revision_and_source() -> None:
    """A limit is never shown without the place where a person can look it up."""
    assert (
        limits_text(samples.chart())
        == "Sheet HARROW-24 revision 2 (shop manual p. 6-12) allows 15.0 to 28.0 %."
    )


@pytest.mark.parametrize(
    ("low", "high", "words"), [(None, 28.0, "at most 28.0 %"), (15.0, None, "at least 15.0 %")]
)
def test_one_sided_limits(low: float | None, high: float | None, words: str) -> None:
    """A sheet that names one side only is told as such."""
    assert words in limits_text(samples.chart(limit_low=low, limit_high=high))


def test_no_sheet_makes_no_statement_about_limits() -> None:
    """Without a sheet the sentence says what is compared, and no limit is reached."""
    text = chart_sentence(samples.chart(sheet="", limit_low=None, limit_high=None))

    assert "No spec sheet: compared with its own history and like vehicles only." in text
    assert "leaves" not in text


def test_learning_chart_counts() -> None:
    """A series without a baseline says how many readings it has of how many."""
    assert "Learning: 3 of 20 readings." in chart_sentence(samples.charts()[4])


def test_verdict_is_not_rounded() -> None:
    """A level that rounds to the limit but lies inside it is not called outside."""
    text = chart_sentence(samples.chart(level=27.96, outside=False))

    assert "now 28.0 %" in text
    assert "outside" not in text


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("series", ["IAC@warm_idle", "ECT-IAT@koeo_soak", "ln MAF@cruise"])
def test_table_and_evidence_sentence_agree(series: str, units: str) -> None:
    """The numbers of the evidence sentence stand in the table, rounded alike, in both systems of units."""
    unit = "degC" if series.startswith("ECT") else "%"
    reading = samples.reading(series, unit=unit, limit_low=None, limit_high=None, state=series.split("@")[1])
    sentence = describe(
        "V-0017", reading, quiet=(), sheet=None, as_of_day=samples.DAY, units=units,  # type: ignore[arg-type]
    )  # fmt: skip

    row = numbers_row(reading, units)  # type: ignore[arg-type]

    level = row.level.split(" ")[0]
    assert level in sentence
    if not series.startswith("ln"):
        assert row.baseline.split(" ")[0] in sentence
        assert row.peers.split(" ")[0] in sentence
    assert row.drift.split(" ")[0] in sentence


def test_hours_not_given_are_said() -> None:
    """Without the workshop's hours the sentence says so; without needed hours it leaves them out."""
    assert "(14.5 h; workshop hours not given)" in week_sentence(samples.COUNTS, 14.5, None, 0)
    assert "this week; 31 to watch" in week_sentence(samples.COUNTS, None, 20.0, 0)


def test_week_in_which_all_are_judged() -> None:
    """When nobody is silent the sentence says that all were judged."""
    assert week_sentence(replace(samples.COUNTS, cannot_say=0), 1.0, 2.0, 0).endswith(
        "all 412 in service judged."
    )


def test_series_without_readings_says_so() -> None:
    """A chart without readings says that there are none, and nothing of levels."""
    assert chart_sentence(samples.chart(points=())).endswith("No readings yet.")


def test_level_outside_is_said() -> None:
    """A level outside the sheet's limits is told in words."""
    assert "It is outside these limits now." in chart_sentence(samples.chart(outside=True))


def test_a_level_beyond_that_is_not_clearly_outside_leaves_nothing_later() -> None:
    """A level past the limit that readings have not clearly left is not said to leave it some day."""
    chart = samples.chart(level=29.0, outside=False)

    assert "This level lies beyond them" in chart_sentence(chart)
    assert "Beyond the sheet's limits, not clearly yet." in chart_brief(chart)
    assert "At this rate" not in chart_sentence(chart)


def test_limit_reached_without_interval() -> None:
    """A date with an open interval names the open end; one without interval stands alone."""
    assert "15 Sep 2031 to not within a year" in chart_sentence(samples.chart(reaches_limit_high=None))
    assert "about 22 Sep 2031. 11 like" in chart_sentence(samples.chart(reaches_limit_low=None))


def test_slope_that_is_not_known_is_left_out() -> None:
    """Without a slope the sentence gives levels alone."""
    assert "now 26.0 %. Sheet" in chart_sentence(samples.chart(drift_per_week=None))


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [(None, 28.0, "at most 28.0 %"), (15.0, None, "at least 15.0 %"), (None, None, "none on a sheet")],
)
def test_one_sided_limits_in_the_table(low: float | None, high: float | None, words: str) -> None:
    """The table names a limit with one side as the sheet does."""
    assert numbers_row(samples.reading(limit_low=low, limit_high=high)).limits == words


@pytest.mark.parametrize("units", ["metric", "us"])
def test_verdict_is_from_before_rounding(units: Units) -> None:
    """A level that rounds onto the limit is told outside, or inside, as it was judged, in either unit."""
    out = samples.chart(level=28.004, limit_high=28.0, outside=True)
    inside = samples.chart(level=27.996, limit_high=28.0, outside=False, reaches_limit_on=None)

    assert "It is outside these limits now." in chart_sentence(out, units)
    assert "outside" not in chart_sentence(inside, units)


def test_a_gap_of_temperatures_is_converted_as_a_difference() -> None:
    """A gap of 15 degrees Celsius between two sensors is one of 27 degrees Fahrenheit, not of 59."""
    gap = samples.charts()[2]
    wide = replace(gap, baseline=15.0, level=15.0)

    assert "Own baseline 27.0 °F" in chart_sentence(wide, "us")
    assert "Own baseline 15.0 °C" in chart_sentence(wide, "metric")
    assert "59" not in chart_brief(wide, "us")


def test_a_level_of_temperature_is_converted_as_a_level() -> None:
    """A coolant at 15 degrees Celsius is at 59 degrees Fahrenheit."""
    level = samples.chart(series="ECT@cruise", unit="degC", kind="level", baseline=15.0, level=15.0)

    assert "Own baseline 59.0 °F" in chart_sentence(level, "us")
