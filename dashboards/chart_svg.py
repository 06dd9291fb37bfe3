"""The small picture of a series: hand-made SVG that needs no script, for phone, ticket and print.

Every reading is a dot; hollow ones do not count, ringed ones came late; crosses are days after correction.
What lies beyond the sheet's limits is hatched and labelled; the own baseline is dashed, the band of like
vehicles is tinted with dotted edges; repairs and resets are dash-dotted uprights with words, or with numbers
that the table explains where words have no room; a forecast fans out to the limit. Nothing rests on colour
alone.
"""

from collections.abc import Sequence
from typing import Final

from markupsafe import Markup, escape

from dashboards import formats, scale, sentences
from dashboards.chart import Chart
from dashboards.frame import Units
from dashboards.palette import TOKENS
from dashboards.words import MARKS, say

WIDTH: Final = 380
WIDE: Final = 820
HEIGHT: Final = 250
_LEFT, _RIGHT, _TOP, _BOTTOM = 40, 8, 28, 24
_LINE: Final = 12
"""Height of a line of words [px]."""
_FEW_MARKS: Final = 2
"""Marks whose words may stand on two lines above each other."""
_LETTER: Final = 5.4
"""Rough width of one letter at the picture's text size [px]; only used to keep words inside the frame."""

_SPARE: Final = 6.0
"""Room beside the outermost label for letters that are wider than that [px]."""


class _Frame:
    """Places of one picture: from values and days to pixels."""

    def __init__(self, chart: Chart, width: int) -> None:
        self.chart = chart
        self.width = width
        self.at = scale.places(chart)
        self.values = scale.value_range(chart)
        self.across = scale.across(chart)
        self.marks = scale.placed_marks(chart, self.across)

    def x(self, place: float) -> float:
        share = (place - self.across.low) / self.across.span
        return round(_LEFT + share * (self.width - _LEFT - _RIGHT), 1)

    def y(self, value: float) -> float:
        share = (value - self.values.low) / self.values.span
        return round(HEIGHT - _BOTTOM - share * (HEIGHT - _TOP - _BOTTOM), 1)


def draw(chart: Chart, units: Units = "metric", key: str = "", *, width: int = WIDTH) -> Markup:
    """Draw one series.

    Parameters
    ----------
    chart : Chart
        What to draw.
    units : {"metric", "us"}
        Units of the labels.
    key : str
        Makes the picture's inner names its own when several stand on one page.
    width : int
        Width [px]; letters keep their size.

    Returns
    -------
    Markup
        An `svg` element with a one-sentence text for those who do not see it.
    """
    frame = _Frame(chart, width)
    hatch = f"hatch-{key}"
    parts = [
        f'<svg class="chart" viewBox="0 0 {frame.width} {HEIGHT}" role="img" xmlns="http://www.w3.org/2000/svg"'
        f' font-size="10.5" fill="{TOKENS["ink"]}">',
        f"<title>{escape(sentences.chart_sentence(chart, units))}</title>",
        _hatch(hatch),
        *_peers(frame),
        *_limits(frame, hatch),
        *_axes(frame, units),
        *_baseline(frame),
        *_mark_lines(frame),
        *_forecast(frame),
        *_crosses(frame),
        *_dots(frame),
        *_smoothed(frame),
        *_labels(frame, units),
        "</svg>",
    ]
    return Markup("".join(parts))  # noqa: S704 - every text above is escaped


def _hatch(name: str) -> str:
    colour = TOKENS["limit"]
    return (
        f'<defs><pattern id="{escape(name)}" width="6" height="6" patternUnits="userSpaceOnUse"'
        f' patternTransform="rotate(45)"><path d="M0 0V6" stroke="{colour}" stroke-width="1.2"/>'
        "</pattern></defs>"
    )


def _text(x: float, y: float, words: str, *, anchor: str = "start", colour: str = "ink") -> str:
    halo = f'stroke="{TOKENS["card"]}" stroke-width="3" paint-order="stroke" stroke-linejoin="round"'
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="{TOKENS[colour]}" {halo}>'
        f"{escape(words)}</text>"
    )


def _line(x1: float, y1: float, x2: float, y2: float, colour: str, dash: str = "", width: float = 1.5) -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<path d="M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}" stroke="{TOKENS[colour]}"'
        f' stroke-width="{width}" fill="none"{dashed}/>'
    )


def _box(frame: _Frame, top: float, bottom: float, fill: str) -> str:
    return (
        f'<rect x="{_LEFT}" y="{top:.1f}" width="{frame.width - _LEFT - _RIGHT}"'
        f' height="{max(bottom - top, 0):.1f}" fill="{fill}"/>'
    )


def _peers(frame: _Frame) -> list[str]:
    low, high = frame.chart.peers_low, frame.chart.peers_high
    if low is None or high is None:
        return []
    top, bottom = frame.y(high), frame.y(low)
    right = frame.width - _RIGHT
    return [
        _box(frame, top, bottom, TOKENS["peers"]),
        _line(_LEFT, top, right, top, "peers-edge", "1 3", 1),
        _line(_LEFT, bottom, right, bottom, "peers-edge", "1 3", 1),
    ]


def _edges(chart: Chart) -> tuple[tuple[float | None, float, str, float], ...]:
    """Give each limit with the end of the frame behind it, its word, and how far below its line that goes."""
    if not chart.sheet:
        return ()
    return (
        (chart.limit_high, _TOP, "highest", 11),
        (chart.limit_low, HEIGHT - _BOTTOM, "lowest", -4),
    )


def _limits(frame: _Frame, hatch: str) -> list[str]:
    drawn = []
    for value, end, _, _ in _edges(frame.chart):
        if value is not None:
            at = frame.y(value)
            drawn.append(_box(frame, min(at, end), max(at, end), f"url(#{escape(hatch)})"))
            drawn.append(_line(_LEFT, at, frame.width - _RIGHT, at, "limit", "", 2))
    return drawn


def _baseline(frame: _Frame) -> list[str]:
    if frame.chart.baseline is None:
        return []
    at = frame.y(frame.chart.baseline)
    return [_line(_LEFT, at, frame.width - _RIGHT, at, "baseline", "7 4")]


def _forecast(frame: _Frame) -> list[str]:
    """Fan out from the level now to the early and late ends of the limit's day, its middle dashed."""
    ahead = scale.forecast(frame.chart)
    if ahead is None:
        return []
    x, y = frame.x(ahead.start), frame.y(ahead.level)
    early, middle, late = (frame.x(place) for place in (ahead.early, ahead.middle, ahead.late))
    top = frame.y(ahead.limit)
    fan = (
        f'<path d="M{x} {y}L{early} {top}L{late} {top}Z" fill="{TOKENS["watch"]}" fill-opacity=".45"'
        f' stroke="{TOKENS["plan"]}" stroke-width=".8" stroke-dasharray="1 2"/>'
    )
    bar = _line(early, top, late, top, "pull", "", 4)
    return [fan, _line(x, y, middle, top, "pull", "5 3"), bar]


def _crosses(frame: _Frame) -> list[str]:
    steps = []
    for one in frame.chart.corrected:
        place = scale.corrected_place(frame.chart, one)
        if place is not None and frame.across.low <= place <= frame.across.high:
            x, y = frame.x(place), frame.y(one.value)
            steps.append(f"M{x - 2:.1f} {y - 2:.1f}l4 4m-4 0l4 -4")
    return [f'<path d="{"".join(steps)}" stroke="{TOKENS["limit"]}" stroke-width="1"/>'] if steps else []


def _smoothed(frame: _Frame) -> list[str]:
    drawn = []
    for stretch in scale.smoothed_stretches(frame.chart):
        steps = [
            f"{frame.x(place)} {frame.y(value)}"
            for place, value in ((frame.at[number], frame.chart.smoothed[number]) for number in stretch)
            if place is not None and value is not None
        ]
        drawn.append(
            f'<path d="M{"L".join(steps)}" stroke="{TOKENS["ink"]}" stroke-width="1" fill="none" '
            'class="smoothed"/>'
        )
    return drawn


def _labels(frame: _Frame, units: Units) -> list[str]:
    """Write the words last, so that no dot hides them."""
    chart = frame.chart
    drawn = [*_mark_words(frame)]
    for value, _, word, below in _edges(chart):
        if value is not None:
            words = f"{word} on sheet: {formats.quantity(value, chart.unit, units, chart.kind)}"
            drawn.append(
                _text(frame.width - _RIGHT - 4, frame.y(value) + below, words, anchor="end", colour="limit")
            )
    baseline = None if chart.baseline is None else frame.y(chart.baseline)
    if baseline is not None:
        words = f"own baseline {formats.quantity(chart.baseline, chart.unit, units, chart.kind)}"
        drawn.append(_text(_LEFT + 4, baseline - 4, words))
    if chart.peers_low is not None:
        at = frame.y(chart.peers_low) - 3
        if baseline is not None and abs(at - (baseline - 4)) < _LINE:
            at = max(at, baseline - 4) + _LINE
        words = f"{chart.peers} like vehicles, middle 80 %"
        drawn.append(_text(_LEFT + 4, at, words, colour="peers-edge"))
    return drawn


def _axes(frame: _Frame, units: Units) -> list[str]:
    chart, floor = frame.chart, HEIGHT - _BOTTOM
    drawn = [
        _line(_LEFT, floor, frame.width - _RIGHT, floor, "line", "", 1),
        _line(_LEFT, _TOP, _LEFT, floor, "line", "", 1),
        _text(2, 12, f"{formats.shown_unit(chart.unit, units)}", colour="muted"),
    ]
    low, high = (
        formats.converted(end, chart.unit, units, difference=chart.kind != "level")
        for end in (frame.values.low, frame.values.high)
    )
    for value in scale.steps(low, high):
        y = _TOP + (high - value) / (high - low) * (floor - _TOP)
        drawn.append(_line(_LEFT - 4, y, _LEFT, y, "line", "", 1))
        drawn.append(_text(_LEFT - 6, y + 3.5, f"{value:g}", anchor="end", colour="muted"))
    return drawn + _ticks(frame, floor)


def _ticks(frame: _Frame, floor: float) -> list[str]:
    drawn = []
    for place, words in _tick_words(frame):
        x = frame.x(place)
        half = len(words) * _LETTER / 2 + _SPARE
        middle = min(max(x, _LEFT - 20 + half), frame.width - half)
        drawn.append(_line(x, floor, x, floor + 4, "line", "", 1))
        drawn.append(_text(middle, floor + 16, words, anchor="middle", colour="muted"))
    return drawn


def _tick_words(frame: _Frame) -> Sequence[tuple[float, str]]:
    low, high = frame.across.low, frame.across.high
    if frame.chart.axis != "date":
        unit = {"km": "km", "hours": "h"}[frame.chart.axis]
        return [(place, f"{place:,.0f} {unit}") for place in scale.steps(low, high, 3) if place >= 0]
    if not frame.chart.points:
        return []
    days = scale.months(scale.place_day(low + 1), scale.place_day(high), 5)
    last = ""
    labels: list[tuple[float, str]] = []
    for day in days:
        year = f"{day:%Y}"
        words = formats.short_day(day) if year == last else formats.day(day)
        labels.append((scale.day_place(day), words))
        last = year
    return labels


def _mark_lines(frame: _Frame) -> list[str]:
    floor = HEIGHT - _BOTTOM
    return [
        _line(frame.x(place), _TOP - 12, frame.x(place), floor, "ink", "6 3 1 3", 1)
        for _, place in frame.marks
    ]


def _mark_words(frame: _Frame) -> list[str]:
    """Write each mark's words above its line; where they would run into another, its number instead."""
    drawn, ends = [], [0.0, 0.0]
    for number, (mark, place) in enumerate(frame.marks, start=1):
        x, row = frame.x(place), number % 2
        words = say(MARKS, mark.kind)
        fits = ends[row] < x and x + 3 + len(words) * _LETTER < frame.width - _RIGHT
        following = frame.x(frame.marks[number][1]) if number < len(frame.marks) else frame.width
        if not fits or (len(frame.marks) > _FEW_MARKS and x + len(words) * _LETTER > following):
            words = str(frame.chart.marks.index(mark) + 1)
        ends[row] = x + 3 + len(words) * _LETTER
        drawn.append(_text(x + 3, _TOP - 4 - 11 * row, words))
    return drawn


def _dots(frame: _Frame) -> list[str]:
    counted: list[str] = []
    hollow: list[str] = []
    ringed: list[str] = []
    for point, place in zip(frame.chart.points, frame.at, strict=True):
        if place is None:
            continue
        x, y = frame.x(place), frame.y(point.value)
        (hollow if point.excluded else counted).append(f"M{x} {y}h0")
        if point.late:
            ringed.append(f'<circle cx="{x}" cy="{y}" r="5" fill="none" stroke="{TOKENS["dot"]}"/>')
    dots = (
        f'<path d="{"".join(counted)}" stroke="{TOKENS["dot"]}" stroke-width="5" stroke-linecap="round"/>'
        f'<path d="{"".join(hollow)}" stroke="{TOKENS["dot"]}" stroke-width="6" stroke-linecap="round"/>'
        f'<path d="{"".join(hollow)}" stroke="{TOKENS["card"]}" stroke-width="3.4" stroke-linecap="round"/>'
    )
    return [dots, *ringed]
