"""Colours: every pair that is used can be read, and the stylesheet uses the tokens alone."""

import re
from itertools import pairwise

import pytest

from dashboards.assets import read
from dashboards.palette import MARK_PAIRS, TEXT_PAIRS, TOKENS, contrast

CSS = read("forelamp.css").decode()


@pytest.mark.parametrize(
    ("colour", "ratio"), [("#767676", 4.5422), ("#777777", 4.4781), ("#595959", 7.0047), ("#000000", 21.0)]
)
def test_contrast_matches_published_ratios(colour: str, ratio: float) -> None:
    """The formula of WCAG 2.2 gives the ratios known for greys on white."""
    assert contrast(colour, "#ffffff") == pytest.approx(ratio, abs=5e-5)


@pytest.mark.parametrize(("text", "ground"), TEXT_PAIRS)
def test_text_can_be_read(text: str, ground: str) -> None:
    """Text has at least 4.5:1 against its ground."""
    assert contrast(TOKENS[text], TOKENS[ground]) >= 4.5


@pytest.mark.parametrize(("mark", "ground"), MARK_PAIRS)
def test_marks_can_be_seen(mark: str, ground: str) -> None:
    """Graph marks and edges of controls have at least 3:1 against their ground."""
    assert contrast(TOKENS[mark], TOKENS[ground]) >= 3.0


def test_standings_stay_apart_in_grey() -> None:
    """The standings' shades differ in lightness, darkest first, so that a grey print keeps their order."""
    shades = [TOKENS[name] for name in ("pull", "plan", "watch", "steady", "cannot")]
    ratios = [contrast(shade, "#000000") for shade in shades]

    assert ratios == sorted(ratios)
    assert all(later / earlier > 1.1 for earlier, later in pairwise(ratios))


def test_stylesheet_holds_the_tokens() -> None:
    """The stylesheet's tokens are the palette's, all of them."""
    assert dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6});", CSS)) == dict(TOKENS)


def test_stylesheet_uses_no_other_colour() -> None:
    """Outside the tokens only paper's black and white occur."""
    rest = re.sub(r"--[\w-]+: #[0-9a-f]{6};", "", CSS)

    assert set(re.findall(r"#[0-9a-fA-F]{3,8}\b", rest)) <= {"#000000", "#ffffff"}


def test_pairs_of_the_stylesheet_are_checked() -> None:
    """Each rule that sets text and ground together uses a pair that is checked above."""
    checked = {*TEXT_PAIRS}
    rules = re.findall(r"\{([^{}]*)\}", CSS)
    found = set()
    for rule in rules:
        text = re.search(r"(?<!-)\bcolor: var\(--([\w-]+)\)", rule)
        ground = re.search(r"\bbackground: var\(--([\w-]+)\)", rule)
        if text and ground:
            found.add((text[1], ground[1]))

    assert found
    assert found <= checked
