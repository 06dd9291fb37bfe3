"""Files: every dataset in every format, the budget's sums, and what a wrong wish is answered."""

import csv
import io
from dataclasses import replace
from datetime import date
from html import unescape
from typing import Any

import pytest

from dashboards.exports.columns import DATASETS
from dashboards.exports.files import MEDIA_TYPES
from ingest.records import Vehicle
from models.summarise import summarise
from service.store import evaluations
from service.tickets.costs import starting_costs
from service.web.budget import forecast, months_ahead
from service.web.exports import Wanted, columns_of, trend_rows
from service.web.ground import Ground
from service.web.pages.exports import command_of, link_of
from tests.service.web.conftest import Service
from tests.service.web.fleet import NOW, TICKET, TODAY, make_ticket


def _rows(service: Service, address: str) -> list[dict[str, str]]:
    text = service.client.get(address).content.decode("utf-8")
    return list(csv.DictReader(io.StringIO(text, newline="")))


@pytest.fixture
def folded(fleet: Service) -> Service:
    """Give the fleet with its readings folded into days."""
    with fleet.store.begin() as work:
        work.fold_touched(summarise)
        work.commit()
    return fleet


@pytest.mark.parametrize("form", MEDIA_TYPES)
@pytest.mark.parametrize("dataset", DATASETS)
def test_every_file(folded: Service, dataset: str, form: str) -> None:
    """Every dataset comes in every format, under a safe name, with rows."""
    answer = folded.client.get(f"/exports/{dataset}.{form}?as_of=2031-03-04")

    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == MEDIA_TYPES[form]
    assert answer.headers["content-disposition"] == (
        f'attachment; filename="forelamp-{dataset}-2031-03-04.{form}"'
    )
    assert len(answer.content) == int(answer.headers["content-length"]) > 0


def test_columns(folded: Service) -> None:
    """The columns of each CSV file are those of the dictionary, in its order."""
    for name, dataset in DATASETS.items():
        head = folded.client.get(f"/exports/{name}.csv").text.partition("\r\n")[0]
        assert head.split(",") == list(dataset.names)


def test_trims_stay_numbers(folded: Service) -> None:
    """Numbers are never quoted off: a negative limit stays a number."""
    rows = _rows(folded, "/exports/tickets.csv")

    assert float(rows[0]["limit_low"]) == -8.0


def test_evidence_is_the_sentence(folded: Service) -> None:
    """The evidence in each format's file is the sentence that stands on the ticket and its page."""
    with folded.store.begin(readonly=True) as work:
        ticket = work.ticket(TICKET)
    assert ticket.detail is not None

    (row,) = _rows(folded, "/exports/tickets.csv")
    (same,) = folded.client.get("/exports/tickets.json").json()

    assert row["evidence"] == same["evidence"] == ticket.detail.sentence
    assert ticket.detail.sentence in unescape(folded.client.get(f"/work/{TICKET}").text)


def test_filters(folded: Service) -> None:
    """Filters by depot, vehicle and period leave out the rest."""
    assert {row["depot"] for row in _rows(folded, "/exports/risk.csv?depot=North")} == {"North"}
    assert len(_rows(folded, "/exports/trends.csv?vehicle=V-0002")) == 1
    assert len(_rows(folded, "/exports/snapshots.csv?from_day=2031-03-01&to_day=2031-03-02")) == 2
    assert _rows(folded, "/exports/tickets.csv?to_day=2031-03-03") == []


def test_trends_come_in_pieces(fleet: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file of trends, read some vehicles at a time, has the rows of the whole, in their order."""
    monkeypatch.setattr(evaluations, "_VEHICLES_AT_ONCE", 1)
    wanted, dataset = Wanted(dataset="trends"), DATASETS["trends"]
    with fleet.store.begin(readonly=True) as work:
        whole = trend_rows(work, wanted, "UTC")
        pieces = list(columns_of(work, wanted, fleet_zone="UTC"))

    assert len({row["vehicle"] for row in whole}) == len(pieces) > 1
    for name in dataset.names:
        assert [value for piece in pieces for value in piece[name]] == [row[name] for row in whole]


def test_empty_file(service: Service) -> None:
    """Without data a file has its headers and no row."""
    for name in DATASETS:
        assert _rows(service, f"/exports/{name}.csv") == []


def test_budget_adds_up(folded: Service) -> None:
    """The cells' means add up to each month's total to the cent, and a fixed seed repeats it."""
    rows = _rows(folded, "/exports/budget.csv?as_of=2031-03-04")
    again = _rows(folded, "/exports/budget.csv?as_of=2031-03-04")

    totals = {row["month"]: round(100 * float(row["mean"])) for row in rows if not row["cause"]}
    cells: dict[str, int] = dict.fromkeys(totals, 0)
    for row in rows:
        if row["cause"]:
            cells[row["month"]] += round(100 * float(row["mean"]))
    assert list(totals) == [day.isoformat() for day in months_ahead(date(2031, 3, 4))]
    assert cells == totals
    assert rows == again
    assert all(float(row["p10"]) <= float(row["p50"]) <= float(row["p90"]) for row in rows)
    assert {row["cost_revision"] for row in rows} == {"0"}


def test_budget_bears_rounded_shares() -> None:
    """A ticket whose rounded cause shares sum to a little over one does not keep the budget from it."""
    ticket = make_ticket()
    assert ticket.detail is not None
    detail = replace(ticket.detail, causes=(("unmetered_air", 0.9003), ("unknown", 0.1003)))
    ground = Ground(
        as_of=date(2031, 3, 4),
        vehicles=(Vehicle(vehicle="V-0001", depot=ticket.depot),),
        work=(),
        tickets=(replace(ticket, detail=detail),),
        costs=starting_costs(),
        own_costs=False,
        first_day=TODAY - 100,
    )

    assert forecast(ground).total.mean > 0


@pytest.mark.parametrize(
    ("query", "parameter"),
    [("as_of=today", "as_of"), ("state=flying", "state"), ("parameter=SPEED", "parameter")],
)
def test_wrong_wish(folded: Service, query: str, parameter: str) -> None:
    """A wrong filter is refused by name, not ignored."""
    answer = folded.client.get(f"/exports/snapshots.csv?{query}")

    assert answer.status_code == 422
    assert parameter in answer.text


def test_link_and_command() -> None:
    """The page's link and its command name the same file."""
    wanted = Wanted(dataset="risk", as_of=date(2031, 3, 4), depot="North Yard")

    assert link_of(wanted, "csv") == "/exports/risk.csv?as_of=2031-03-04&depot=North+Yard"
    assert command_of(wanted, "csv") == (
        "forelamp export risk --format csv --as-of 2031-03-04 --depot 'North Yard' --out risk.csv"
    )


def test_form_leads_to_link(folded: Service) -> None:
    """The form's choices come back as a link that works."""
    fields: dict[str, Any] = {"dataset": "risk", "format": "json", "as_of": "2031-03-04", "depot": "North"}

    page = folded.client.get("/exports", params=fields).text

    assert "/exports/risk.json?as_of=2031-03-04&amp;depot=North" in page


def test_the_page_says_whose_days_trends_a_file_holds(fleet: Service) -> None:
    """Trends as of another day are those of the newest day kept by then, and the page says which."""
    plain = unescape(fleet.client.get("/exports?dataset=trends").text)
    later = unescape(fleet.client.get(f"/exports?dataset=trends&as_of={NOW.date()}").text)
    other = unescape(fleet.client.get("/exports?dataset=tickets").text)

    assert "The file holds the trends of 3 Mar 2031." in plain
    assert "the newest day by 4 Mar 2031 of which they are kept" in later
    assert "holds the trends" not in other
