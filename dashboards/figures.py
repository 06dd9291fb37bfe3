"""Interactive figures as plain dicts for the plotly script; tests validate them with the library itself.

Plain dicts because building graph objects costs thirty times the serialising on the server.
"""

import html
import json
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any, Final

from markupsafe import Markup

from dashboards import formats, scale, sentences
from dashboards.chart import Chart, Point, used
from dashboards.frame import Units
from dashboards.palette import TOKENS
from dashboards.scale import Range
from dashboards.series import series_name, split
from dashboards.words import AXES, EXCLUDED, MARKS, say

Figure = dict[str, Any]

CONFIG: Final[Mapping[str, Any]] = {
    "displaylogo": False,
    "displayModeBar": False,
    "showSendToCloud": False,
    "responsive": True,
    "scrollZoom": False,
    "locale": "en",
}
"""Settings of every figure: nothing leaves the page, no maker's mark."""

_EPOCH: Final = datetime(1970, 1, 1)  # noqa: DTZ001 - places are days in the vehicle's own zone

HEIGHT: Final = 420
"""Height of the figure [px]; one fits on a laptop with its sentence."""

FEW_MARKS: Final = 4
"""Marks up to which words stand above them; more are numbered as in the table beside the picture."""


def trend_figure(chart: Chart, units: Units = "metric") -> Figure:
    """Build the figure of one series.

    Parameters
    ----------
    chart : Chart
        What to draw, values in default units.
    units : {"metric", "us"}
        Units shown.

    Returns
    -------
    dict
        `data`, `layout` and `config` as the plotly script reads them. Without a sheet there is no trace
        that speaks of limits.
    """
    span = _span(chart)
    data = [
        *_peers(chart, span, units),
        *_limits(chart, span, units),
        *_baseline(chart, span, units),
        *_forecast(chart, units),
        *_corrected(chart, units),
        *_readings(chart, units),
        *_smoothed(chart, units),
    ]
    return {"data": data, "layout": _layout(chart, units), "config": dict(CONFIG)}


def page_json(charts: Sequence[Chart], units: Units = "metric") -> Markup:
    """Write the figures of a page as JSON that is safe inside a `script` data block."""
    text = json.dumps(
        [trend_figure(chart, units) for chart in charts], separators=(",", ":"), allow_nan=False
    )
    for sign, escaped in (("<", "\\u003c"), (">", "\\u003e"), ("&", "\\u0026")):
        text = text.replace(sign, escaped)
    return Markup(text)  # noqa: S704 - signs that could end the block are escaped above


def _shown(chart: Chart, value: float, units: Units) -> float:
    return round(formats.converted(value, chart.unit, units, difference=chart.kind != "level"), 4)


def _where(chart: Chart, point: Point) -> str | float | None:
    if chart.axis != "date":
        return used(point, chart.axis)
    return point.at.strftime("%Y-%m-%d %H:%M:%S")


def _ends(chart: Chart) -> Range:
    return scale.across(chart)


def _at(chart: Chart, place: float) -> str | float:
    """Write a place of the horizontal axis as the script reads it."""
    if chart.axis != "date":
        return round(place, 1)
    return (_EPOCH + timedelta(days=place)).strftime("%Y-%m-%d %H:%M:%S")


def _span(chart: Chart) -> tuple[str | float, str | float]:
    ends = _ends(chart)
    return _at(chart, ends.low), _at(chart, ends.high)


def _readings(chart: Chart, units: Units) -> list[Figure]:
    groups = (
        ("reading", [p for p in chart.points if not p.excluded and not p.late], "circle", "dot"),
        ("late reading", [p for p in chart.points if not p.excluded and p.late], "circle-dot", "dot"),
        ("not counted", [p for p in chart.points if p.excluded], "circle-open", "dot"),
    )
    return [
        _scatter(
            name,
            [_where(chart, point) for point in points],
            [_shown(chart, point.value, units) for point in points],
            mode="markers",
            marker={"symbol": symbol, "size": 7 if symbol == "circle" else 10, "color": TOKENS[colour]},
            text=[say(EXCLUDED, point.excluded) if point.excluded else "" for point in points],
            hovertemplate="%{x}<br>%{y} "
            + formats.shown_unit(chart.unit, units)
            + "<br>%{text}<extra></extra>",
        )
        for name, points, symbol, colour in groups
        if points
    ]


def _forecast(chart: Chart, units: Units) -> list[Figure]:
    ahead = scale.forecast(chart)
    if ahead is None:
        return []
    level, limit = _shown(chart, ahead.level, units), _shown(chart, ahead.limit, units)
    start, early, middle, late = (
        _at(chart, place) for place in (ahead.start, ahead.early, ahead.middle, ahead.late)
    )
    fan = _scatter(
        "forecast, 80 % of it",
        [start, early, late, start],
        [level, limit, limit, level],
        mode="lines",
        fill="toself",
        fillcolor=TOKENS["watch"],
        line={"color": TOKENS["plan"], "width": 1, "dash": "dot"},
        hoverinfo="name",
    )
    line = {"color": TOKENS["pull"], "width": 2, "dash": "dash"}
    return [
        fan,
        _scatter("forecast", [start, middle], [level, limit], mode="lines", line=line, hoverinfo="name"),
    ]


def _corrected(chart: Chart, units: Units) -> list[Figure]:
    placed = [(scale.corrected_place(chart, one), one.value) for one in chart.corrected]
    known = [(place, value) for place, value in placed if place is not None]
    if not known:
        return []
    marker = {"symbol": "x-thin", "size": 6, "line": {"color": TOKENS["limit"], "width": 1.2}}
    return [
        _scatter(
            "corrected",
            [_at(chart, place) for place, _ in known],
            [_shown(chart, value, units) for _, value in known],
            mode="markers",
            marker=marker,
            hovertemplate="%{x}<br>%{y} "
            + formats.shown_unit(chart.unit, units)
            + "<br>corrected<extra></extra>",
        )
    ]


def _smoothed(chart: Chart, units: Units) -> list[Figure]:
    across: list[str | float | None] = []
    up: list[float | None] = []
    for stretch in scale.smoothed_stretches(chart):
        across += [*(_where(chart, chart.points[number]) for number in stretch), None]
        values = [chart.smoothed[number] for number in stretch]
        up += [*(None if value is None else _shown(chart, value, units) for value in values), None]
    if not up:
        return []
    line = {"color": TOKENS["ink"], "width": 1}
    return [_scatter("smoothed (EWMA 0.2)", across[:-1], up[:-1], mode="lines", line=line, hoverinfo="name")]


def _scatter(name: str, across: Sequence[Any], up: Sequence[Any], **more: object) -> Figure:
    return {"type": "scatter", "name": name, "x": list(across), "y": list(up), "connectgaps": False, **more}


def _band(name: str, span: tuple[Any, Any], low: float, high: float, **more: object) -> Figure:
    across = [span[0], span[1], span[1], span[0], span[0]]
    up = [low, low, high, high, low]
    return _scatter(name, across, up, mode="lines", fill="toself", hoverinfo="skip", **more)


def _peers(chart: Chart, span: tuple[Any, Any], units: Units) -> list[Figure]:
    if chart.peers_low is None or chart.peers_high is None:
        return []
    low, high = (_shown(chart, value, units) for value in (chart.peers_low, chart.peers_high))
    return [
        _band(
            f"{chart.peers} like vehicles, middle 80 %",
            span,
            low,
            high,
            fillcolor=TOKENS["peers"],
            line={"color": TOKENS["peers-edge"], "width": 1, "dash": "dot"},
        )
    ]


def _limits(chart: Chart, span: tuple[Any, Any], units: Units) -> list[Figure]:
    if not chart.sheet:
        return []
    ends = scale.value_range(chart)
    found = []
    for word, value, end in (
        ("highest", chart.limit_high, ends.high),
        ("lowest", chart.limit_low, ends.low),
    ):
        if value is None:
            continue
        edge, outer = _shown(chart, value, units), _shown(chart, end, units)
        name = _limit_words(chart, word, value, units)
        pattern = {
            "shape": "/",
            "fgcolor": TOKENS["limit"],
            "bgcolor": TOKENS["card"],
            "size": 6,
            "solidity": 0.2,
        }
        found.append(
            _band(name, span, edge, outer, fillpattern=pattern, line={"color": TOKENS["limit"], "width": 1.5})
        )
    return found


def _baseline(chart: Chart, span: tuple[Any, Any], units: Units) -> list[Figure]:
    if chart.baseline is None:
        return []
    at = _shown(chart, chart.baseline, units)
    name = f"own baseline {formats.quantity(chart.baseline, chart.unit, units, chart.kind)}"
    line = {"color": TOKENS["baseline"], "width": 2, "dash": "dash"}
    return [_scatter(name, list(span), [at, at], mode="lines", line=line, hoverinfo="name")]


def _layout(chart: Chart, units: Units) -> Figure:
    ends = scale.value_range(chart)
    low, high = (_shown(chart, end, units) for end in (ends.low, ends.high))
    across: Figure = {"title": {"text": AXES[chart.axis]}} if chart.axis in AXES else {"type": "date"}
    shapes, notes = _marks(chart)
    return {
        "height": HEIGHT,
        "margin": {"l": 60, "r": 12, "t": 46, "b": 40},
        "paper_bgcolor": TOKENS["card"],
        "plot_bgcolor": TOKENS["card"],
        "font": {"color": TOKENS["ink"], "size": 13},
        "xaxis": {
            **across,
            "range": list(_span(chart)),
            "gridcolor": TOKENS["hair"],
            "automargin": True,
            "zeroline": False,
        },
        "yaxis": {
            "title": {"text": _axis_title(chart, units)},
            "range": [low, high],
            "gridcolor": TOKENS["hair"],
            "zeroline": False,
        },
        "showlegend": False,
        "shapes": shapes,
        "annotations": [*notes, *_labels(chart, units)],
        "hovermode": "closest",
        "meta": {"label": series_name(chart.series), "text": sentences.chart_sentence(chart, units)},
    }


def _axis_title(chart: Chart, units: Units) -> str:
    formula = split(chart.series)[0].removeprefix("ln ")
    unit = formats.shown_unit(chart.unit, units)
    name = f"{formula}, change" if chart.kind == "change" else formula
    return f"{name} [{unit}]" if unit else name


def _labels(chart: Chart, units: Units) -> list[Figure]:
    """Name limits, baseline and peers where they are drawn, so that no legend is needed."""
    found = []
    if chart.baseline is not None:
        words = f"own baseline {formats.quantity(chart.baseline, chart.unit, units, chart.kind)}"
        found.append(_label(_shown(chart, chart.baseline, units), words, "baseline", left=True))
    if chart.peers_low is not None:
        words = f"{chart.peers} like vehicles, middle 80 %"
        found.append(
            _label(_shown(chart, chart.peers_low, units), words, "peers-edge", left=True, below=True)
        )
    if chart.sheet:
        for word, value, below in (("highest", chart.limit_high, True), ("lowest", chart.limit_low, False)):
            if value is not None:
                words = _limit_words(chart, word, value, units)
                found.append(_label(_shown(chart, value, units), words, "limit", below=below))
    return found


def _label(y: float, words: str, colour: str, *, left: bool = False, below: bool = False) -> Figure:
    return {
        "xref": "paper",
        "x": 0.01 if left else 0.99,
        "xanchor": "left" if left else "right",
        "y": y,
        "yanchor": "top" if below else "bottom",
        "text": words,
        "showarrow": False,
        "bgcolor": "rgba(255,255,255,0.7)",
        "font": {"color": TOKENS[colour], "size": 12},
    }


def _limit_words(chart: Chart, word: str, value: float, units: Units) -> str:
    return (
        f"{word} on {html.escape(chart.sheet)} rev. {chart.revision} ({html.escape(chart.source)}): "
        f"{formats.quantity(value, chart.unit, units, chart.kind)}"
    )


def _marks(chart: Chart) -> tuple[list[Figure], list[Figure]]:
    shapes: list[Figure] = []
    notes: list[Figure] = []
    placed = scale.placed_marks(chart, _ends(chart))
    for row, (mark, place) in enumerate(placed):
        where = _at(chart, place)
        line = {"color": TOKENS["ink"], "width": 1.2, "dash": "dashdot"}
        shapes.append(
            {"type": "line", "x0": where, "x1": where, "y0": 0, "y1": 1, "yref": "paper", "line": line}
        )
        notes.append(
            {
                "x": where,
                "y": 1,
                "yref": "paper",
                "yanchor": "bottom",
                "yshift": 14 * (row % 2),
                "text": say(MARKS, mark.kind)
                if len(placed) <= FEW_MARKS
                else str(chart.marks.index(mark) + 1),
                "showarrow": False,
            }
        )
    return shapes, notes
