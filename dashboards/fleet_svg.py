"""The fleet over the weeks as small multiples: one little column picture for each word, all on one scale.

Hand-made SVG that needs no script. A word's columns have its own shade and its own edge; first and newest
numbers are written out, so that nothing rests on colour.
"""

from typing import Final

from markupsafe import Markup, escape

from dashboards.palette import TOKENS
from dashboards.rows import Urgency
from dashboards.week import FleetMap
from dashboards.words import SHAPES, URGENCY

DRAWN: Final[tuple[tuple[Urgency, str], ...]] = (
    ("pull_in_now", "pull"),
    ("plan_this_week", "plan"),
    ("watch", "watch"),
    ("cannot_say", "cannot"),
)
"""Words that are drawn, with their shade; Steady is the rest and would flatten the others."""

WIDTH: Final = 340
ROW: Final = 62
_LEFT: Final = 118
_RIGHT: Final = 26
_TALL: Final = 40
_LEAST_SCALE: Final = 4
"""Vehicles that a full column stands for at least; chosen by us: one vehicle must not look like a flood."""


def draw_weeks(fleet: FleetMap) -> Markup:
    """Draw how many vehicles stood under each word, week by week.

    Parameters
    ----------
    fleet : FleetMap
        Weeks, the oldest first, with the counts of the whole fleet.

    Returns
    -------
    Markup
        An `svg` element whose title says the newest and the oldest numbers.
    """
    numbers = {word: [getattr(one, word) for one in fleet.counts] for word, _ in DRAWN}
    top = max([_LEAST_SCALE, *(value for found in numbers.values() for value in found)])
    tall = ROW * len(DRAWN) + 18
    parts = [
        f'<svg class="weeks" viewBox="0 0 {WIDTH} {tall}" role="img" xmlns="http://www.w3.org/2000/svg"'
        f' font-size="12" fill="{TOKENS["ink"]}"><title>{escape(weeks_sentence(fleet))}</title>'
    ]
    for row, (word, shade) in enumerate(DRAWN):
        parts.extend(_row(row * ROW + 12, word, shade, numbers[word], top))
    floor = ROW * len(DRAWN) + 12
    ends = (fleet.weeks[0], "start", _LEFT), (fleet.weeks[-1], "end", WIDTH - _RIGHT)
    for week, anchor, x in ends[len(fleet.weeks) == 1 :]:
        parts.append(
            f'<text x="{x}" y="{floor}" text-anchor="{anchor}" fill="{TOKENS["muted"]}">{escape(week[-3:])}'
            "</text>"
        )
    parts.append("</svg>")
    return Markup("".join(parts))  # noqa: S704 - every text above is escaped


def weeks_sentence(fleet: FleetMap) -> str:
    """Say the newest and the oldest numbers of each word drawn."""
    first, last = fleet.counts[0], fleet.counts[-1]
    old, new = fleet.weeks[0], fleet.weeks[-1]
    told = [
        f"{URGENCY[word]} {getattr(first, word)} in {old}, {getattr(last, word)} in {new}"
        for word, _ in DRAWN
    ]
    return "Vehicles by week: " + "; ".join(told) + "."


def _row(y: int, word: Urgency, shade: str, values: list[int], top: int) -> list[str]:
    floor, step = y + _TALL, (WIDTH - _LEFT - _RIGHT) / len(values)
    edge = TOKENS["muted"] if word == "cannot_say" else TOKENS["plan"]
    dash = ' stroke-dasharray="2 2"' if word == "cannot_say" else ""
    parts = [
        f'<text x="0" y="{floor - 3}" font-weight="600">{SHAPES[word]} {URGENCY[word]}</text>',
        f'<path d="M{_LEFT} {floor + 0.5}H{WIDTH - _RIGHT}" stroke="{TOKENS["line"]}"/>',
        f'<text x="{WIDTH - _RIGHT + 5}" y="{floor - 3}" font-weight="600">{values[-1]}</text>',
    ]
    for place, value in enumerate(values):
        if value:
            tall = max(2.0, value / top * _TALL)
            parts.append(
                f'<rect x="{_LEFT + place * step + 1:.1f}" y="{floor - tall:.1f}" width="{step - 2:.1f}"'
                f' height="{tall:.1f}" fill="{TOKENS[shade]}" stroke="{edge}"{dash}/>'
            )
    return parts
