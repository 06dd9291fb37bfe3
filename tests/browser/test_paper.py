"""Every page on paper: A4 and Letter, numbered, with the age of its data, without ways around and forms."""

import io
from typing import Final

import pypdf
import pytest
from playwright.sync_api import Page

from tests.browser.addresses import Look, looks
from tests.browser.conftest import Practice

PAPERS: Final = {"A4": (595, 842), "Letter": (612, 792)}
"""Width and height [pt]."""


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("look", looks(), ids=lambda look: look.address)
def test_page_prints(practice: Practice, desk: Page, look: Look, paper: str) -> None:
    """Each sheet says its number, how many there are, and as of when it speaks; no navigation is printed."""
    look.open(desk, practice.address)
    title = desk.locator("h1").inner_text()
    age = desk.locator(".age").first
    assessed = "assessed" in age.inner_text().lower() if age.count() else False

    printed = pypdf.PdfReader(io.BytesIO(desk.pdf(format=paper)))

    sheets = printed.pages
    for number, sheet in enumerate(sheets, start=1):
        text = " ".join(sheet.extract_text().split())
        assert f"page {number} of {len(sheets)}" in text
        assert title.split(":")[0] in text
        assert "assessed" in text or not assessed
        assert "Skip to content" not in text
        assert "Show US units" not in text
        width, height = (round(float(end)) for end in sheet.mediabox[2:])
        assert (width, height) == pytest.approx(PAPERS[paper], abs=1)


def test_nothing_is_cut_at_the_edge(practice: Practice, desk: Page) -> None:
    """On paper no table is wider than the sheet."""
    for look in looks():
        look.open(desk, practice.address)
        desk.emulate_media(media="print")
        desk.set_viewport_size({"width": 688, "height": 1000})  # A4 less its margins

        wide = desk.evaluate(
            "[...document.querySelectorAll('main *')].filter(one => one.getBoundingClientRect().right > 690)"
            ".map(one => one.tagName + ' ' + one.className).slice(0, 5)"
        )
        desk.emulate_media(media="screen")

        assert (look.address, wide) == (look.address, [])
