"""Pictures of a series: the small one and the interactive one show the same facts, and no made-up limit."""

import json
import re
from dataclasses import replace
from datetime import date, timedelta
from xml.etree import ElementTree

import plotly.graph_objects as go
import pytest

from dashboards.chart import Mark
from dashboards.chart_svg import draw
from dashboards.charting import build_chart, learning_chart
from dashboards.figures import page_json, trend_figure
from dashboards.scale import AHEAD_DAYS, forecast, smoothed_stretches
from dashboards.sentences import chart_sentence
from tests.dashboards import samples


@pytest.mark.parametrize("place", range(5))
def test_small_picture_is_well_formed_and_says_itself(place: int) -> None:
    """A picture is sound XML, has a role, and carries its sentence as text."""
    chart = samples.charts()[place]

    tree = ElementTree.fromstring(str(draw(chart, key="k")))  # noqa: S314 - our own picture

    assert tree.get("role") == "img"
    assert tree[0].text == chart_sentence(chart)


def test_every_reading_is_a_dot() -> None:
    """All readings are drawn; those that do not count are hollow, late ones ringed."""
    chart = samples.chart()
    counted, hollow, _ = re.findall(r'd="((?:M[\d. -]+h0)+)"', str(draw(chart)))

    assert counted.count("M") == sum(1 for point in chart.points if not point.excluded)
    assert hollow.count("M") == sum(1 for point in chart.points if point.excluded)
    assert str(draw(chart)).count("<circle") == sum(1 for point in chart.points if point.late)


def test_gaps_stay_gaps() -> None:
    """No line joins readings across the days without any, in either picture."""
    assert all(
        trace["mode"] == "markers" or len(trace["x"]) in (2, 4, 5)
        for trace in trend_figure(samples.chart())["data"]
    )
    assert "L" not in "".join(re.findall(r'd="(M[^"]*h0)"', str(draw(samples.chart()))))


def test_the_smoothed_line_breaks_where_readings_pause() -> None:
    """Both pictures draw the smoothed line in stretches: over an excluded reading, not over a long pause."""
    readings = [replace(point, excluded="") for point in samples.points(60, rise=0.0)]
    readings = readings[:10] + readings[-10:]
    readings[4] = replace(readings[4], excluded="open_loop")
    line = [None if point.excluded else point.value for point in readings]

    chart = build_chart("V-0017", samples.reading(), readings, sheet=None, smoothed=line)

    assert [len(stretch) for stretch in smoothed_stretches(chart)] == [9, 10]
    assert str(draw(chart)).count('class="smoothed"') == 2
    trace = next(one for one in trend_figure(chart)["data"] if one["name"].startswith("smoothed"))
    assert trace["y"].count(None) == 1
    assert len(trace["x"]) == len(trace["y"]) == 20


def test_without_sheet_no_limit_is_drawn() -> None:
    """A vehicle without a sheet gets no limit in any picture, even when numbers claim one."""
    chart = build_chart("V-0017", samples.reading(), samples.points(), sheet=None)

    assert (chart.limit_low, chart.limit_high, chart.outside) == (None, None, False)
    assert "sheet" not in re.sub(r"<title>.*?</title>", "", str(draw(chart)))
    assert "url(#" not in str(draw(chart))
    assert not any("fillpattern" in trace for trace in trend_figure(chart)["data"])
    drawn = json.dumps({**trend_figure(chart)["layout"], "meta": None})
    assert "highest" not in drawn
    assert "lowest" not in drawn


def test_stray_limits_without_sheet_are_not_drawn() -> None:
    """Limits that no sheet stands behind are not drawn even when a chart carries them."""
    chart = replace(samples.chart(), sheet="")

    assert "url(#" not in str(draw(chart))
    assert not any("fillpattern" in trace for trace in trend_figure(chart)["data"])


def test_limits_are_hatched_and_labelled_with_their_source() -> None:
    """Beyond the sheet's limits the picture is hatched, and the label names sheet, revision and source."""
    figure = trend_figure(samples.chart())
    hatched = [trace for trace in figure["data"] if "fillpattern" in trace]

    assert [trace["fillpattern"]["shape"] for trace in hatched] == ["/", "/"]
    labels = " ".join(note["text"] for note in figure["layout"]["annotations"])
    assert "highest on HARROW-24 rev. 2 (shop manual p. 6-12): 28.0 %" in labels


def test_repairs_and_resets_are_marked_in_words() -> None:
    """What happened to the vehicle stands on the picture in words."""
    for text in (str(draw(samples.chart())), json.dumps(trend_figure(samples.chart()))):
        assert "Learned values cleared" in text
        assert "Repair" in text


def test_peers_and_baseline_are_told_apart_without_colour() -> None:
    """Own baseline is dashed, like vehicles dotted; each is labelled where it is drawn."""
    traces = {trace["name"]: trace for trace in trend_figure(samples.chart())["data"]}

    assert traces["own baseline 19.0 %"]["line"]["dash"] == "dash"
    assert traces["11 like vehicles, middle 80 %"]["line"]["dash"] == "dot"
    assert {trace["marker"]["symbol"] for trace in traces.values() if "marker" in trace} == {
        "circle",
        "circle-dot",
        "circle-open",
    }


@pytest.mark.parametrize("place", range(5))
@pytest.mark.parametrize("axis", ["date", "km", "hours"])
def test_figures_are_what_the_library_accepts(place: int, axis: str) -> None:
    """Each figure passes the plotting library's own validation."""
    chart = replace(samples.charts()[place], axis=axis)  # type: ignore[arg-type]
    figure = trend_figure(chart)

    assert len(go.Figure(data=figure["data"], layout=figure["layout"]).data) == len(figure["data"])


def test_figures_send_nothing_away() -> None:
    """No upload button, no maker's mark."""
    config = trend_figure(samples.chart())["config"]

    assert config["showSendToCloud"] is False
    assert config["displaylogo"] is False


def test_data_block_cannot_be_left() -> None:
    """The figures' JSON cannot close its script element, and reads back equal."""
    chart = replace(samples.chart(), vehicle="</script><b>&")

    text = str(page_json([chart]))

    assert "<" not in text
    assert json.loads(text)[0]["layout"]["meta"]["text"] == chart_sentence(chart)


def test_differences_have_no_offset_in_us_units() -> None:
    """A gap of 15 degC is drawn at 27 degF."""
    gap = replace(samples.charts()[2], baseline=15.0)

    trace = next(trace for trace in trend_figure(gap, "us")["data"] if trace["name"].startswith("own"))

    assert trace["y"] == [27.0, 27.0]


def test_relative_series_are_shown_as_change() -> None:
    """A series held as a logarithm is shown as change from its own normal: the baseline is 0 %."""
    chart = samples.charts()[3]

    assert chart.kind == "change"
    assert chart.baseline == 0.0
    assert chart.level == pytest.approx(-1.98, abs=0.01)


@pytest.mark.parametrize(
    ("values", "axis"), [((), "date"), ((5.0,), "date"), ((5.0, 5.0), "km"), ((0.0,), "km")]
)
def test_few_readings_still_draw(values: tuple[float, ...], axis: str) -> None:
    """No reading, one reading and equal readings all give a picture."""
    base = samples.points()
    points = tuple(replace(base[place], value=value) for place, value in enumerate(values))
    chart = learning_chart("V-1", "IAC@warm_idle", "%", points, have=1, need=20, axis=axis)  # type: ignore[arg-type]

    ElementTree.fromstring(str(draw(chart)))  # noqa: S314 - our own picture
    assert (
        trend_figure(chart)["layout"]["yaxis"]["range"][0]
        < trend_figure(chart)["layout"]["yaxis"]["range"][1]
    )


def test_readings_without_odometer_leave_the_distance_picture() -> None:
    """By distance, readings without an odometer have no place; none is guessed."""
    points = tuple(replace(point, odometer_km=None) for point in samples.points())
    chart = samples.chart(points=points, axis="km", marks=())

    assert "h0" not in str(draw(chart))


def test_marks_without_a_place_are_left_out() -> None:
    """A mark before the first reading, or by distance without an odometer, has no place on the picture."""
    early = Mark(on=date(2020, 1, 1), kind="repair")
    by_date = samples.chart(marks=(early,))
    by_km = samples.chart(marks=(early,), axis="km")

    assert "Repair" not in str(draw(by_date))
    assert trend_figure(by_km)["layout"]["shapes"] == []


def test_change_without_baseline_is_against_the_middle() -> None:
    """A relative series whose baseline is not known is shown against its own median."""
    reading = samples.reading("ln MAF@cruise", baseline=float("nan"), limit_low=None, limit_high=None)

    chart = build_chart("V-1", reading, samples.points(8, 270, 0), sheet=None)

    assert chart.baseline is None
    values = sorted(point.value for point in chart.points)
    assert values[0] < 0 < values[-1]
    assert build_chart("V-1", reading, (), sheet=None).points == ()


def test_learning_change_is_against_the_middle() -> None:
    """A relative series that still learns is shown as change from its median."""
    chart = learning_chart("V-1", "ln MAF@cruise", "%", samples.points(8, 270, 0), have=7, need=20)

    values = sorted(point.value for point in chart.points)
    assert values[0] < 0 < values[-1]


def test_forecast_fans_out_to_the_limit() -> None:
    """A limit reached soon is drawn from the level now to its early and late days, in both pictures."""
    last = samples.chart().points[-1].at.date()
    near = samples.chart(
        reaches_limit_on=last + timedelta(days=20),
        reaches_limit_low=last + timedelta(days=12),
        reaches_limit_high=last + timedelta(days=200),
        outside=False,
    )

    ahead = forecast(near)

    assert ahead is not None
    assert ahead.cut
    assert ahead.late - ahead.start == AHEAD_DAYS
    assert 'fill-opacity=".45"' in str(draw(near))
    assert "forecast" in {trace["name"] for trace in trend_figure(near)["data"]}


@pytest.mark.parametrize(
    "changes",
    [{"outside": True}, {"sheet": ""}, {"axis": "km"}, {"reaches_limit_on": None}, {"level": None}],
    ids=["outside now", "no sheet", "by distance", "not within a year", "learning"],
)
def test_no_forecast_without_its_facts(changes: dict[str, object]) -> None:
    """Nothing is forecast where it cannot be drawn honestly."""
    last = samples.chart().points[-1].at.date()
    near = samples.chart(reaches_limit_on=last + timedelta(days=20), outside=False)

    assert forecast(near) is not None
    assert forecast(replace(near, **changes)) is None  # type: ignore[arg-type]


def test_corrected_days_are_crosses() -> None:
    """Each corrected day is a cross in both pictures, and stands beside its reading in the table."""
    chart = samples.corrected_chart()

    crosses = re.search(r'd="((?:M[\d. -]+l4 4m-4 0l4 -4)+)"', str(draw(chart)))
    traces = {trace["name"]: trace for trace in trend_figure(chart)["data"]}

    assert crosses is not None
    assert crosses[1].count("M") == len(chart.corrected)
    assert len(traces["corrected"]["x"]) == len(chart.corrected)
    assert chart.corrected_on(chart.points[0].at.date()) == chart.corrected[0].value


def test_many_marks_are_numbered_as_in_the_table() -> None:
    """Where words have no room above their line, the mark's number in the table stands there."""
    first = samples.chart().points[0].at.date()
    marks = tuple(Mark(on=first + timedelta(days=9 + day), kind="memory_cleared") for day in (0, 2, 4, 6))

    drawn = str(draw(samples.chart(marks=marks)))

    assert [number for number in "1234" if f">{number}</text>" in drawn] == ["1", "2", "3"]


def test_change_is_told_from_the_readings_behind_the_baseline() -> None:
    """A share whose baseline the models tell against like vehicles is drawn around its own readings."""
    facts = samples.reading("ln MAF/MAP@cruise", baseline=0.4, level=-6.0, unit="%")
    points = samples.points(60, -480.0, 0)

    chart = build_chart("V-0017", facts, points, sheet=None)

    assert max(abs(point.value) for point in chart.points) < 60
