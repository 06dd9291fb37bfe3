"""Calibration on the track record: each range with its number and interval, and what is said of all."""

import csv
import io
import re
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from html import unescape

import pytest

from models.statistics.proportion import wilson
from models.summarise import summarise
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
        for row in re.findall(r"<tr>(.*?)</tr>", section.split("<tbody>")[1].split("</tbody>")[0], re.DOTALL)
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


def test_each_version_has_its_own_score(fleet: Service, state: Callable[[float, int, int], None]) -> None:
    """Statements of two versions of the method are scored apart, on the page and in the file."""
    state(0.55, 4, 4)
    with fleet.store.begin() as work:
        for ticket in [one for one in work.tickets() if one.vehicle == "V-0003"][:2]:
            assert ticket.detail is not None
            versions = replace(ticket.detail.versions, method="next 2")
            newer = replace(
                ticket,
                ticket=ticket.ticket.replace("-T", "-T9"),
                probability_30d=0.9,
                detail=replace(ticket.detail, versions=versions),
            )
            work.put_ticket(newer, read_version=0)
        work.fold_touched(summarise)
        work.commit()

    text, _ = _table(fleet)
    rows = list(csv.DictReader(io.StringIO(fleet.client.get("/exports/track_record.csv").text)))
    scores = {
        row["method"]: [float(row["n"]), float(row["value"])]
        for row in rows
        if row["measure"] == "brier_score"
    }

    # All came true: (1 - 0.9)^2 and (1 - 0.55)^2.
    assert scores["next 2"] == pytest.approx([2, 0.01])
    assert len(scores) == 3
    assert scores[""] == pytest.approx([6, (4 * 0.45**2 + 2 * 0.1**2) / 6])
    assert "next 2 2 0.010" in text


def test_few_statements_say_so(fleet: Service, state: Callable[[float, int, int], None]) -> None:
    """Nine statements are too few to say anything; their ranges and intervals still stand there."""
    state(0.55, 9, 9)

    text, rows = _table(fleet)

    assert "too few to say" in text
    assert rows[5][1] == "9"
    assert rows[5][4].endswith("to 100 %")
