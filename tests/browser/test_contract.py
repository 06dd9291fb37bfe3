"""Every ticket of a whole replayed fleet shows its seven parts, and its sentence says what its table says."""

import re
import shutil
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from service.app import build
from service.clock import Clock
from service.store import open_store
from service.tickets.completeness import missing_parts
from service.tickets.ticket import Ticket
from tests.browser.practice import NOW, settings_of

_TAG = re.compile(r"<[^>]+>")
_NUMBER = re.compile(r"(?<![\w.])[+-]?\d+(?:\.\d+)?(?![\w])")


@pytest.fixture(scope="module")
def home(practice_store: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give a copy of the practice fleet."""
    return shutil.copytree(practice_store, tmp_path_factory.mktemp("contract") / "home")


@pytest.fixture(scope="module")
def client(home: Path) -> Iterator[TestClient]:
    """Give the pages over that copy."""
    app = build(settings_of(home), Clock(lambda: NOW))
    with TestClient(app) as client:
        yield client


@pytest.fixture(scope="module")
def tickets(home: Path) -> tuple[Ticket, ...]:
    """Give every ticket that the replay raised, closed ones included."""
    store = open_store(f"sqlite:///{home / 'forelamp.db'}")
    with store.begin(readonly=True) as work:
        found = tuple(one for one in work.tickets() if one.raised_by == "system")
    store.close()
    assert len(found) > 5
    return found


def words(html: str) -> str:
    """Take the tags off."""
    return " ".join(unescape(_TAG.sub(" ", html)).replace("\u202f", " ").split())


def part(page: str, begin: str, end: str) -> str:
    """Cut a part out of a page."""
    return page.split(begin, 1)[1].split(end, 1)[0]


def test_nothing_is_missing(tickets: tuple[Ticket, ...]) -> None:
    """No ticket lacks any part that it must have."""
    assert {one.ticket: missing_parts(one) for one in tickets if missing_parts(one)} == {}


@pytest.mark.parametrize("units", ["metric", "us"])
def test_page_shows_all_seven_parts(client: TestClient, tickets: tuple[Ticket, ...], units: str) -> None:
    """Sentence, picture and table, checks and cautions, what was ruled out, what would change it."""
    client.cookies.set("units", units)
    for ticket in tickets:
        assert ticket.detail is not None
        page = client.get(f"/work/{ticket.ticket}").text
        sentence = words(part(page, '<h2 id="why">Why</h2>', "</p>"))
        assert sentence.startswith(f"{ticket.vehicle}: "), ticket.ticket
        assert "Sheet " in sentence or "No spec sheet" in sentence, sentence
        assert "like vehicles" in sentence, sentence
        if units == "metric":
            assert sentence == " ".join(ticket.detail.sentence.split())
        assert '<svg class="chart"' in page or "<svg" in part(page, 'id="still-lead"', "</div>")
        assert "The same as a table" in page
        checks = part(page, '<ol class="checks">', "</ol>")
        assert checks.count("<li>") == len(ticket.detail.checks) > 0
        assert words(checks).count(" min") >= len(ticket.detail.checks)
        assert part(page, 'id="care"', "</ul>").count("<li>") == len(ticket.detail.cautions) > 0
        assert part(page, "Also looked at</h3>", "</ul>").count("<li>") > 0
        assert part(page, "What would change my mind</h3>", "</ul>").count("<li>") > 0
        assert "ike this one" in words(part(page, "Track record</h3>", "</p>"))
        judged = words(part(page, "Judged with", "</p>"))
        for fact in (ticket.detail.versions.rule, ticket.detail.versions.method, "data up to"):
            assert fact in judged, ticket.ticket


@pytest.mark.parametrize("units", ["metric", "us"])
def test_sentence_says_what_the_table_says(
    client: TestClient, tickets: tuple[Ticket, ...], units: str
) -> None:
    """Every number in the cells of the leading series stands in the sentence, rounded and converted alike."""
    client.cookies.set("units", units)
    for ticket in tickets:
        assert ticket.detail is not None
        page = client.get(f"/work/{ticket.ticket}").text
        sentence = words(part(page, '<h2 id="why">Why</h2>', "</p>"))
        told = {text.lstrip("+-") for text in _NUMBER.findall(sentence.replace("-", " "))}
        row = part(part(page, "Numbers behind the sentence", "</tbody>"), "<tbody>", "</tr>")
        cells = [words(cell) for cell in row.split("<td")[1:]]
        plain = [cell.split(">", 1)[-1].split("(")[0] for cell in cells]
        numbers = [text.lstrip("+-") for cell in plain for text in _NUMBER.findall(cell)]
        assert len(numbers) >= 3, (ticket.ticket, plain)
        assert set(numbers) <= told, (ticket.ticket, units, plain, sentence)
        assert ("outside now" in row) == ticket.detail.readings[0].outside
        assert ("outside the limits now" in sentence) == ticket.detail.readings[0].outside
