"""Small pictures of ranges: an outlined box from low to high, a bar at the middle, a mark for what came.

Hand-made SVG that needs no script. Nothing rests on colour: what came is a filled dot inside its range and a
ringed diamond outside it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from markupsafe import Markup, escape

from dashboards import scale
from dashboards.palette import TOKENS

WIDTH: Final = 620
HEIGHT: Final = 230
_LEFT, _RIGHT, _TOP, _BOTTOM = 62, 10, 14, 26
_ROW: Final = 26
_NAMES: Final = 290


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """One range to draw.

    Parameters
    ----------
    label : str
        Words beside it.
    low, middle, high : float
        Ends and middle.
    came : float or None
        What came; None where not known yet.
    """

    label: str
    low: float
    middle: float
    high: float
    came: float | None = None


def upright(bands: Sequence[Band], text: str) -> Markup:
    """Draw ranges side by side, from 0 up, such as months.

    Parameters
    ----------
    bands : sequence of Band
        In order; values 0 or above.
    text : str
        One sentence for those who do not see it.
    """
    top = _top(bands)
    room = (WIDTH - _LEFT - _RIGHT) / max(len(bands), 1)

    def y(value: float) -> float:
        return HEIGHT - _BOTTOM - value / top * (HEIGHT - _TOP - _BOTTOM)

    parts = [*_open(WIDTH, HEIGHT, text), *_levels(top, y)]
    for place, band in enumerate(bands):
        middle = _LEFT + room * (place + 0.5)
        half = min(room * 0.32, 22.0)
        parts.append(_box(middle - half, y(band.high), 2 * half, y(band.low) - y(band.high)))
        parts.append(_stroke(middle - half, y(band.middle), middle + half, y(band.middle), 3.0))
        if band.came is not None:
            parts.append(_mark(middle, y(band.came), inside=band.low <= band.came <= band.high))
        parts.append(_words(middle, HEIGHT - 8, band.label, "middle"))
    return _close(parts)


def level(bands: Sequence[Band], text: str) -> Markup:
    """Draw ranges one below the other, from 0 to the right, such as causes; arguments as of `upright`."""
    height = _TOP + _ROW * len(bands) + _BOTTOM
    top = _top(bands)

    def x(value: float) -> float:
        return _NAMES + value / top * (WIDTH - _NAMES - _RIGHT - 14)

    parts = [*_open(WIDTH, height, text)]
    for tick in scale.steps(0.0, top):
        parts.append(_stroke(x(tick), _TOP, x(tick), height - _BOTTOM, 0.6, "peers-edge"))
        parts.append(_words(x(tick), height - 8, f"{tick:,.0f}".replace(",", "\u202f"), "middle"))
    for place, band in enumerate(bands):
        at = _TOP + _ROW * (place + 0.5)
        parts.append(_words(_NAMES - 8, at + 4, _short(band.label), "end"))
        parts.append(_box(x(band.low), at - 9, x(band.high) - x(band.low), 18))
        parts.append(_stroke(x(band.middle), at - 9, x(band.middle), at + 9, 3.0))
        if band.came is not None:
            parts.append(_mark(x(band.came), at, inside=band.low <= band.came <= band.high))
    return _close(parts)


def staircase(steps: Sequence[tuple[float, float, float, float]], text: str, across: str) -> Markup:
    """Draw a line that rises in steps inside its interval.

    Parameters
    ----------
    steps : sequence of (place, value, low, high)
        In order of place; place and values 0 or above.
    text : str
        One sentence for those who do not see it.
    across : str
        What is along the axis.
    """
    top = max([high for *_, high in steps], default=1.0) * 1.05 or 1.0
    far = max([place for place, *_ in steps], default=1.0) or 1.0

    def x(place: float) -> float:
        return _LEFT + place / far * (WIDTH - _LEFT - _RIGHT)

    def y(value: float) -> float:
        return HEIGHT - _BOTTOM - value / top * (HEIGHT - _TOP - _BOTTOM)

    parts = [*_open(WIDTH, HEIGHT, text), *_levels(top, y)]
    for column, dash, width in ((2, "2 3", 1.0), (3, "2 3", 1.0), (1, "", 2.2)):
        points = [(_LEFT * 1.0, y(0.0))]
        for step in steps:
            points += [(x(step[0]), points[-1][1]), (x(step[0]), y(step[column]))]
        line = "L".join(f"{a:.1f} {b:.1f}" for a, b in points)
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        parts.append(
            f'<path d="M{line}" stroke="{TOKENS["dot"]}" stroke-width="{width}" fill="none"{dashed}/>'
        )
    for tick in scale.steps(0.0, far, 6):
        parts.append(_words(x(tick), HEIGHT - 8, f"{tick:g}", "middle"))
    parts.append(_words(WIDTH - _RIGHT, HEIGHT - _BOTTOM - 6, across, "end"))
    return _close(parts)


def reliability(bands: Sequence[tuple[float, Band]], text: str) -> Markup:
    """Draw how often statements came true beside what was stated; on the dashed line both agree.

    Parameters
    ----------
    bands : sequence of (stated, Band)
        Stated mean; observed interval and share, all 0 to 1.
    text : str
        One sentence for those who do not see it.
    """

    def x(value: float) -> float:
        return _LEFT + value * (WIDTH - _LEFT - _RIGHT - 20)

    def y(value: float) -> float:
        return HEIGHT - _BOTTOM - value * (HEIGHT - _TOP - _BOTTOM)

    parts = [*_open(WIDTH, HEIGHT, text)]
    for tick in (0.0, 0.25, 0.5, 0.75, 1.0):
        parts.append(_stroke(_LEFT, y(tick), x(1.0), y(tick), 0.6, "peers-edge"))
        parts.append(_words(_LEFT - 6, y(tick) + 4, f"{tick:.0%}", "end"))
        parts.append(_words(x(tick), HEIGHT - 8, f"{tick:.0%}", "middle"))
    parts.append(
        f'<path d="M{x(0):.1f} {y(0):.1f}L{x(1):.1f} {y(1):.1f}" stroke="{TOKENS["baseline"]}"'
        ' stroke-width="1.5" stroke-dasharray="7 4" fill="none"/>'
    )
    for stated, band in bands:
        parts.append(_stroke(x(stated), y(band.low), x(stated), y(band.high), 2.0, "dot"))
        parts.append(_mark(x(stated), y(band.middle), inside=band.low <= stated <= band.high))
    return _close(parts)


def _top(bands: Sequence[Band]) -> float:
    values = [value for band in bands for value in (band.high, band.came or 0.0)]
    return (max(values, default=0.0) or 1.0) * 1.06


def _short(text: str) -> str:
    return text if len(text) <= 42 else text[:41] + "…"


def _levels(top: float, y: object) -> list[str]:
    parts = []
    for tick in scale.steps(0.0, top):
        at = y(tick)  # type: ignore[operator]
        parts.append(_stroke(_LEFT, at, WIDTH - _RIGHT, at, 0.6, "peers-edge"))
        parts.append(_words(_LEFT - 6, at + 4, f"{tick:,.0f}".replace(",", "\u202f"), "end"))
    return parts


def _open(width: int, height: int, text: str) -> list[str]:
    return [
        f'<svg class="chart wide" viewBox="0 0 {width} {height}" role="img"'
        f' xmlns="http://www.w3.org/2000/svg" font-size="12" fill="{TOKENS["ink"]}">',
        f"<title>{escape(text)}</title>",
    ]


def _close(parts: list[str]) -> Markup:
    return Markup("".join([*parts, "</svg>"]))  # noqa: S704 - every text above is escaped


def _box(x: float, y: float, width: float, height: float) -> str:
    return (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{max(width, 1):.1f}" height="{max(height, 1):.1f}"'
        f' fill="{TOKENS["peers"]}" stroke="{TOKENS["peers-edge"]}" stroke-width="1"/>'
    )


def _stroke(x1: float, y1: float, x2: float, y2: float, width: float, colour: str = "ink") -> str:
    return (
        f'<path d="M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}" stroke="{TOKENS[colour]}"'
        f' stroke-width="{width}" fill="none"/>'
    )


def _mark(x: float, y: float, *, inside: bool) -> str:
    if inside:
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4.5" fill="{TOKENS["dot"]}"/>'
    return (
        f'<path d="M{x:.1f} {y - 7:.1f}L{x + 7:.1f} {y:.1f}L{x:.1f} {y + 7:.1f}L{x - 7:.1f} {y:.1f}Z"'
        f' fill="{TOKENS["card"]}" stroke="{TOKENS["limit"]}" stroke-width="2.5"/>'
    )


def _words(x: float, y: float, words: str, anchor: str) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{escape(words)}</text>'
