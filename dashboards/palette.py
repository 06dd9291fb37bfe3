"""The colours, in one place: stylesheet and pictures use these tokens and no others.

The five standings are shades of one warm hue, from lamp-dark to paper-pale, so that they stay apart in
greyscale; a shape and a word go with each.
"""

from collections.abc import Mapping
from typing import Final

TOKENS: Final[Mapping[str, str]] = {
    "paper": "#fbfaf7",
    "card": "#ffffff",
    "ink": "#1c2733",
    "muted": "#53606d",
    "line": "#7c858f",
    "hair": "#d8dbde",
    "night": "#1b2b3f",
    "night-text": "#f4f1ea",
    "lamp": "#f2b84b",
    "link": "#0b5673",
    "focus": "#0b5673",
    "pull": "#6b2f06",
    "pull-text": "#ffffff",
    "plan": "#a65a12",
    "plan-text": "#ffffff",
    "watch": "#ecc78f",
    "watch-text": "#1c2733",
    "steady": "#faf0df",
    "steady-text": "#1c2733",
    "cannot": "#ffffff",
    "cannot-text": "#1c2733",
    "caution": "#fff3d6",
    "caution-edge": "#8a5a00",
    "dot": "#12506b",
    "peers": "#dfe7ea",
    "peers-edge": "#5d7480",
    "limit": "#8a3d08",
    "baseline": "#1c2733",
}
"""Colour by token name, sRGB."""

TEXT_PAIRS: Final = (
    ("ink", "paper"),
    ("ink", "card"),
    ("muted", "paper"),
    ("muted", "card"),
    ("link", "paper"),
    ("link", "card"),
    ("night-text", "night"),
    ("lamp", "night"),
    ("pull-text", "pull"),
    ("plan-text", "plan"),
    ("watch-text", "watch"),
    ("steady-text", "steady"),
    ("cannot-text", "cannot"),
    ("ink", "caution"),
    ("card", "link"),
    ("muted", "steady"),
    ("limit", "card"),
    ("ink", "peers"),
    ("peers-edge", "card"),
)
"""Text colour and its background: at least 4.5:1 (WCAG 2.2, SC 1.4.3)."""

MARK_PAIRS: Final = (
    ("dot", "card"),
    ("dot", "peers"),
    ("baseline", "card"),
    ("limit", "card"),
    ("peers-edge", "card"),
    ("line", "card"),
    ("line", "paper"),
    ("focus", "paper"),
    ("focus", "card"),
    ("lamp", "night"),
    ("caution-edge", "caution"),
    ("muted", "card"),
)
"""Graph mark or control edge and its background: at least 3:1 (WCAG 2.2, SC 1.4.11)."""


def contrast(first: str, second: str) -> float:
    """Give the contrast ratio of two sRGB colours.

    References
    ----------
    WCAG 2.2, definition of relative luminance and contrast ratio.

    Examples
    --------
    >>> round(contrast("#767676", "#ffffff"), 4), round(contrast("#777777", "#ffffff"), 4)
    (4.5422, 4.4781)
    """
    lighter, darker = sorted((_luminance(first), _luminance(second)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def _luminance(colour: str) -> float:
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue
