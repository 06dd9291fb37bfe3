"""Calibration on the track record: each range with its number and interval, and what is said of all."""

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from html import unescape

import pytest

from models.statistics.proportion import wilson
from tests.service.web.conftest import Service
from tests.service.web.fleet import NOW, TICKET


def _state(service: Service, probability: float, count: int, came: int) -> None:
    """Keep tickets of half a year ago that stated a probability; so many led to a complaint in ten days."""
    with service.store.begin() as work:
        kept = work.ticket(TICKET)
        assert kept.detail is not None
        readings = tuple(replace(one, outside=False) for one in kept.detail.readings)
        for number in range(count):
            raised = NOW - timedelta(days=180, minutes=number)
            complaints = (raised + timedelta(days=10),) if number < came else ()
            ticket = replace(
                kept,
                ticket=f"V-0003-T{int(probability * 100)}{number:02d}",
                vehicle="V-0003",
                version=1,
                raised_at=raised,
                updated_at=raised,
                probability_30d=probability,
                complaints=complaints,
                detail=replace(kept.detail, readings=readings),
            )
            work.put_ticket(ticket, read_version=0)
        work.commit()


def _table(service: Service) -> tuple[str, list[list[str]]]:
    page = unescape(service.client.get("/track-record").text).replace("\u202f", " ").replace("\xa0", " ")
    section = page.split('id="stated"')[1].split("</section>")[0]
    rows = [
        [re.sub(r"<[^>]+>", "", cell).strip() for cell in re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row)]
        for row in re.findall(r"<tr>(.*?)</tr>", section.split("<tbody>")[1], re.DOTALL)
    ]
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", section)), rows


@pytest.fixture
def state(fleet: Service) -> Callable[[float, int, int], None]:
    """Give a way to keep statements and what came of them."""
    return lambda probability, count, came: _state(fleet, probability, count, came)


def test_each_range_has_its_number_and_interval(
    fleet: Service, state: Callable[[float, int, int], None]
) -> None:
    """Ten ranges; a filled one shows n, how many came true, and Wilson's interval of that share."""
    state(0.55, 20, 11)

    _, rows = _table(fleet)

    low, high = wilson(11, 20)
    assert len(rows) == 10
    assert [row[1] for row in rows] == ["0"] * 5 + ["20"] + ["0"] * 4
    assert rows[5][2:] == ["55 %", "11 (55 %)", f"{100 * low:.0f} to {100 * high:.0f} %", "yes"]
    assert rows[0][2:] == ["—", "—", "—", "—"]


@pytest.mark.parametrize(
    ("came", "said", "marked"), [(11, "In 2 of 2", "yes"), (2, "In 1 of 2", "no"), (20, "In 1 of 2", "no")]
)
def test_agreement_is_counted(
    fleet: Service, state: Callable[[float, int, int], None], came: int, said: str, marked: str
) -> None:
    """What is said of all ranges is counted from them: where too few or too many came true, it says less."""
    state(0.55, 20, came)
    state(0.85, 20, 17)

    text, rows = _table(fleet)

    assert f"{said} ranges with statements what was stated lies inside the 95 % interval" in text
    assert (rows[5][5], rows[8][5]) == (marked, "yes")


def test_few_statements_say_so(fleet: Service, state: Callable[[float, int, int], None]) -> None:
    """Nine statements are too few to say anything; their ranges and intervals still stand there."""
    state(0.55, 9, 9)

    text, rows = _table(fleet)

    assert "too few to say" in text
    assert rows[5][1] == "9"
    assert rows[5][4].endswith("to 100 %")
