"""Files that pages load from their own server: stylesheet, script, picture, and the plotly script."""

import hashlib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Final

STATIC: Final[Mapping[str, str]] = {
    "forelamp.css": "text/css; charset=utf-8",
    "forelamp.js": "text/javascript; charset=utf-8",
    "session.js": "text/javascript; charset=utf-8",
    "lantern.svg": "image/svg+xml",
    "plotly.min.js": "text/javascript; charset=utf-8",
}
"""File name and media type; addresses are `/static/` and the name."""

EMPTY_STYLE: Final = "'sha256-47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU='"
"""Source expression of the empty style element that the plotly script fills; figures need it."""

MAP_STYLE: Final = "'sha256-ji27qzEtxXZW+7dun6UwjHXJ18e6WAin1VvNtkzIE/o='"
"""Source expression of the style that plotly.js 4.1.1 adds for maps; we draw none: it saves a complaint."""

STYLE_SOURCES: Final = f"'self' {EMPTY_STYLE} {MAP_STYLE}"
"""What `style-src` of a content policy must allow; no inline style otherwise."""


@cache
def read(name: str) -> bytes:
    """Read one of the files.

    Raises
    ------
    KeyError
        `name` is not one of `STATIC`.
    """
    if name not in STATIC:
        raise KeyError(name)
    if name == "plotly.min.js":
        return files("plotly").joinpath("package_data", name).read_bytes()
    return files("dashboards").joinpath("static", name).read_bytes()


@cache
def address(name: str) -> str:
    """Give a file's address with the mark of its contents, so that it can be kept for good."""
    return f"/static/{name}?v={hashlib.sha256(read(name)).hexdigest()[:16]}"


MOST_FOOT: Final = 200
"""Signs at the foot of paper; chosen by us: one line of small letters."""


def paper_css(foot: str) -> str:
    """Write the styles that put a line at the foot of every sheet of paper.

    Every sign but letters, digits and spaces is written as its number, so that no text can end the string.

    Examples
    --------
    >>> paper_css("Week 37")
    '@page { @bottom-left { content: "Week 37"; font-size: 8pt; } }'
    >>> chr(34) in paper_css('"}').replace('content: "', "").replace('";', "")
    False
    """
    safe = "".join(
        one if one == " " or (one.isascii() and one.isalnum()) else f"\\{ord(one):06x}"
        for one in foot[:MOST_FOOT]
    )
    return f'@page {{ @bottom-left {{ content: "{safe}"; font-size: 8pt; }} }}'
